"""What looks at every chart: verify, a missing index, a backup and its check. Prints; by hand.

    python -m tests.bench.bench_whole [CHARTS [ROUNDS]]

CHARTS (10,000) charts of 72 readings in three sessions each. The floor, measured in the same
round: to read the chart files one after the other, to hash them, and to parse each with the JSON
parser as it comes, in one process. Of each the best of ROUNDS (3) is shown, as time on the clock
and as time of all processors. On a machine with other work the clock says little, so the
second is printed too: a floor of one process against the sum of all.
"""

from __future__ import annotations

import hashlib
import json
import os
import resource
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from time import perf_counter

from limbscribe.core.chart import document
from limbscribe.core.chart.links import linked_documents
from limbscribe.core.chart.patient import Patient, patient_to_doc
from limbscribe.core.chart.session import Session, sealed, session_to_doc
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.maintenance.verify import verify_all

from tests.bench.bench_shelf import AT, session

SESSIONS = 3
STATIONS = 24


def stations(name: str, day: str) -> Session:
    """An invented session of 24 stations with what an entry writes of them."""
    made = session(name, STATIONS)
    readings = tuple(
        replace(each, r1=-5 - n, r2=10 + n, r1_tries=(-5 - n,), r2_tries=(10 + n,), entered=AT)
        for n, each in enumerate(made.readings)
    )
    return replace(made, started=f"{day}T10:00:00+01:00", readings=readings)


def fill(folder: Path, charts: int) -> Shelf:
    """A shelf of so many charts; written directly, which is quicker."""
    shelf = Shelf(folder)
    bodies, parent = [], ""
    for n in range(SESSIONS):
        one = sealed(stations(f"s{n}", f"2026-0{n + 1}-02"), "RE", AT, parent)
        parent = one.seal.hash if one.seal else ""
        bodies.append(session_to_doc(one))
    for n in range(charts):
        patient = patient_to_doc(Patient(f"P-{n:05d}"))
        first, *others = linked_documents({}, [patient, *bodies])
        numbered = {str(place): each for place, each in enumerate(others, 1)}
        chart_id = hashlib.sha256(b"%d" % n).hexdigest()[:32]
        path = folder / "charts" / f"{chart_id}.json"
        tables = {"patient": {"1": first}, "sessions": numbered}
        path.write_bytes(document.render(tables, chart_id))
        path.chmod(0o600)
    return shelf


def floor(folder: Path) -> None:
    """Read, hash and parse every chart, and nothing else."""
    for name in sorted(os.listdir(folder / "charts")):
        data = (folder / "charts" / name).read_bytes()
        hashlib.sha256(data).hexdigest()
        json.loads(data)


def _processors() -> float:
    who = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return sum(sum(resource.getrusage(each)[:2]) for each in who)


def taken(act: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock, and of all processors."""
    clock, processors = perf_counter(), _processors()
    act()
    return perf_counter() - clock, _processors() - processors


def _without_index(folder: Path) -> Callable[[], object]:
    (folder / "index.json").unlink(missing_ok=True)
    shelf = Shelf(folder)
    return lambda: len(shelf.charts())


def _one_round(folder: Path, backup: Path) -> dict[str, tuple[float, float]]:
    def check() -> None:
        assert not verify_all(folder).findings

    backup.unlink(missing_ok=True)
    return {
        "floor: read, hash, parse": taken(lambda: floor(folder)),
        "list without an index": taken(_without_index(folder)),
        "list with one": taken(lambda: Shelf(folder).charts()),
        "verify": taken(check),
        "backup": taken(lambda: Shelf(folder).backup(backup, AT)),
        "backup --check": taken(lambda: check_backup(backup)),
    }


def main() -> None:
    """Measure and print."""
    given = [int(text) for text in sys.argv[1:]]
    charts, rounds = (*given, *(10_000, 3)[len(given) :])
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "shelf"
        fill(folder, charts)
        size = sum(path.stat().st_size for path in (folder / "charts").iterdir())
        cores = len(os.sched_getaffinity(0))
        print(f"{charts:,} charts, {size / 1e6:,.0f} MB, {cores} cores, load {os.getloadavg()[0]}")
        found = [_one_round(folder, Path(name) / "backup.tar") for _ in range(rounds)]
    base = [min(row["floor: read, hash, parse"][n] for row in found) for n in (0, 1)]
    for what in found[0]:
        clock, processors = (min(row[what][n] for row in found) for n in (0, 1))
        print(
            f"{what:26} {clock:8.2f} s, {clock / base[0]:5.2f} times; "
            f"processors {processors:8.2f} s, {processors / base[1]:5.2f} times"
        )


if __name__ == "__main__":
    main()
