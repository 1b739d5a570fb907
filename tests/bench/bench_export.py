"""How much memory an export of many charts takes, how long, and what it writes. Prints; by hand.

    python -m tests.bench.bench_export [CHARTS ...]

Shelves of CHARTS (100, 1,000 and 10,000) charts of 72 readings, each exported in every form by
the command in a process of its own. The most memory that the process held is that of
getrusage(); before the export it is printed as well, as that of a bare start.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.bench_whole import fill

FORMS = ("csv", "json", "fhir", "fhir --transaction", "fhir-ndjson")
CHILD = """
import json, resource, sys, time
from limbscribe.tui.__main__ import main
def held():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
bare, begun = held(), time.perf_counter()
code = main(["export", *sys.argv[1:]])
print(json.dumps([code, time.perf_counter() - begun, bare, held()]))
"""


def measure(folder: Path, charts: int, form: str) -> None:
    """Export once and print what it took."""
    out = folder.with_name("out")
    words = ("--format", *form.split(), "--shelf", str(folder), "--output", str(out))
    env = {**os.environ, "LIMBSCRIBE_CONFIG": str(folder.with_name("config"))}
    ran = subprocess.run(
        [sys.executable, "-c", CHILD, *words], capture_output=True, text=True, env=env, check=True
    )
    code, seconds, bare, most = json.loads(ran.stdout.splitlines()[-1])
    assert code == 0, ran.stderr
    files = [*out.iterdir()] if out.is_dir() else [out]
    size = sum(file.stat().st_size for file in files)
    for file in files:
        file.unlink()
    if out.is_dir():
        out.rmdir()
    memory = f"{most / 1024:4.0f} MB at most ({bare / 1024:.0f} MB bare)"
    written = f"{size / 1e6:8.1f} MB written, {size / charts / 72:6.0f} bytes a reading"
    print(f"{charts:7,} charts, {form:18}: {memory}, {seconds:7.1f} s, {written}", flush=True)


def main() -> None:
    """Measure what the command line asks for."""
    for charts in [int(text) for text in sys.argv[1:]] or [100, 1_000, 10_000]:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name) / "shelf"
            fill(folder, charts)
            for form in FORMS:
                measure(folder, charts, form)


if __name__ == "__main__":
    main()
