"""How long an import of many rows takes, and how much memory. Prints; run it by hand.

    python tests/bench/bench_import.py [ROWS [ROWS_A_CHART ...]]

ROWS (100,000) in charts of ROWS_A_CHART (20, 200 and 2,000) rows each are imported by the
command in a process of its own into a new shelf, then once more, which must add nothing. The
rows of the patients stand mixed in the file, visit by visit. The most memory that the process
held is that of getrusage(); for the first kind of file half the rows are run too, so that one
sees whether memory follows the length of the file. The floor, in the same process: to read the
file with csv.DictReader and drop the rows. Times on the clock, and of the processor, which
waiting for the disk and for others does not lengthen.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from limbscribe.core.exchange.csv_rows import written_rows

CHILD = """
import csv, json, resource, sys, time
from limbscribe.tui.__main__ import main
def taken(act):
    clock, processor = time.perf_counter(), time.process_time()
    found = act()
    return found, time.perf_counter() - clock, time.process_time() - processor
def floor():
    with open(sys.argv[1], newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            pass
floors = [taken(floor)[1:] for turn in range(3)]
code, *times = taken(lambda: main(["import", *sys.argv[1:], "--json"]))
sys.stdout.flush()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(json.dumps([code, *times, *map(min, zip(*floors)), peak]), file=sys.stderr)
"""

STATIONS = [
    (muscle, side, scale)
    for muscle, scale in (
        ("elbow-flexors", "neutral-zero"),
        ("wrist-flexors", "neutral-zero"),
        ("hamstrings", "deficit"),
        ("gastrocnemius", "neutral-zero"),
        ("soleus", "plantigrade-90"),
    )
    for side in ("left", "right")
]
FIRST = date(1960, 1, 1)


def rows(count: int, a_chart: int) -> Iterator[tuple[str, ...]]:
    """Invented rows: ten stations a visit, the patients' visits by turns."""
    charts = max(1, count // a_chart)
    made = 0
    for visit in range(-(-a_chart // len(STATIONS))):
        day = (FIRST + timedelta(days=visit)).isoformat()
        for chart in range(charts):
            for place, (muscle, side, scale) in enumerate(STATIONS):
                if made == count:
                    return
                made += 1
                slack = (visit * 7 + place * 3 + chart) % 10
                r1, r2 = -40 + slack, -20 + (slack + place) % 7
                if scale == "deficit":
                    r1, r2 = -r1, -r2
                elif scale == "plantigrade-90":
                    r1, r2 = 90 - r1, 90 - r2
                head = (f"B-{chart:06d}", day, "09:30", "+01:00", "EX", "RC")
                yield (
                    *head,
                    *(muscle, side, "", scale, "V3", str(r1), str(r2), "2", "", "", "", ""),
                )


def run(path: Path, shelf: Path) -> tuple[dict[str, int], list[float], int]:
    """Import in a process of its own: its counts, seconds (see CHILD), and most memory in KB."""
    env = {**os.environ, "LIMBSCRIBE_CONFIG": str(path.parent / "config")}
    ran = subprocess.run(
        [sys.executable, "-c", CHILD, str(path), "--shelf", str(shelf)],
        capture_output=True,
        text=True,
        env=env,
        check=True,
    )
    code, *seconds, peak = json.loads(ran.stderr.splitlines()[-1])
    if code != 0:
        raise SystemExit(f"exit code {code}: {ran.stderr[-2000:]}")
    return json.loads(ran.stdout), seconds, peak


def measure(count: int, a_chart: int) -> None:
    """Import a new file twice and print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        path, shelf = Path(folder) / "rows.csv", Path(folder) / "shelf"
        with path.open("wb") as file:
            file.writelines(written_rows(rows(count, a_chart)))
        began = time.perf_counter()
        for turn in ("first", "again"):
            counts, (clock, processor, floor, least), peak = run(path, shelf)
            print(
                f"{count:7,} rows, {a_chart:6,} a chart, {turn}: {clock:6.1f} s, "
                f"{clock / floor:4.0f} times the floor; processor {processor:6.1f} s, "
                f"{processor / least:4.0f} times; {peak / 1024:4.0f} MB at most; "
                f"stored {counts['stored']:,}, already there "
                f"{counts['already_there']:,}, sessions {counts['sessions']:,}, "
                f"charts {len(counts['new_patients']):,}",
                flush=True,
            )
        print(f"{'':16}both with starting the program: {time.perf_counter() - began:.1f} s")


def main() -> None:
    """Measure what the command line asks for."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    kinds = [int(text) for text in sys.argv[2:]] or [20, 200, 2000]
    measure(count // 2, kinds[0])
    for a_chart in kinds:
        measure(count, a_chart)


if __name__ == "__main__":
    main()
