"""How long the caseload of many charts takes, and how much memory. Prints; run it by hand.

    python tests/bench/bench_caseload.py [CHARTS [SESSIONS]]

A shelf of CHARTS (1,000) with SESSIONS (10) each is made as the demo's second shelf is, once.
Then ``limbscribe caseload --json`` is run on it twice, each time in a process of its own: the
second one finds what the first left behind. Times on the clock and of the processor, starting
the program included; the most memory that the process held, by getrusage(). What it should
stay within: 5 s and 150 MB at first, 1 s the second time.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from limbscribe.demo.caseload import build_caseload

CHILD = """
import json, resource, sys
from limbscribe.tui.__main__ import main
code = main(sys.argv[1:])
sys.stdout.flush()
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps([code, used.ru_utime + used.ru_stime, used.ru_maxrss]), file=sys.stderr)
"""


def run(shelf: Path) -> tuple[dict[str, object], float, float, int]:
    """Run the command: what it prints, s on the clock, s of the processor, KB at most."""
    command = [sys.executable, "-c", CHILD, "caseload", "--shelf", str(shelf), "--json"]
    env = {**os.environ, "LIMBSCRIBE_CONFIG": str(shelf.parent / "config")}
    began = time.perf_counter()
    ran = subprocess.run(command, capture_output=True, text=True, env=env, check=False)
    clock = time.perf_counter() - began
    try:
        code, processor, peak = json.loads(ran.stderr.splitlines()[-1])
    except (IndexError, ValueError):
        raise SystemExit(f"exit code {ran.returncode}: {ran.stderr[-2000:]}") from None
    if code != 0:
        raise SystemExit(f"exit code {code}: {ran.stderr[-2000:]}")
    return json.loads(ran.stdout), clock, processor, peak


def main() -> None:
    """Make the shelf, and measure both runs."""
    charts = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    sessions = int(sys.argv[2]) if len(sys.argv) > 2 else 10
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf"
        began = time.perf_counter()
        build_caseload(shelf, charts, visits=sessions)
        took = time.perf_counter() - began
        size = sum(path.stat().st_size for path in shelf.rglob("*") if path.is_file())
        print(
            f"{charts:,} charts of {sessions} sessions, {size / 1e6:.0f} MB: {took:.1f} s to make"
        )
        for turn in ("first", "again"):
            found, clock, processor, peak = run(shelf)
            counts = ", ".join(f"{found.get(name)} {name}" for name in ("patients", "cycles"))
            print(
                f"caseload --json, {turn}: {clock:6.2f} s, processor {processor:6.2f} s, "
                f"{peak / 1024:4.0f} MB at most; {counts}",
                flush=True,
            )


if __name__ == "__main__":
    main()
