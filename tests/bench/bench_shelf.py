"""How long an append, a close and the list of charts take. Prints; run it by hand.

    python tests/bench/bench_shelf.py [CHARTS]

A shelf with 10 charts and one with CHARTS (10,000) are measured by turns in the same run,
so that a slow moment of the machine falls on both.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from limbscribe.core.chart import document
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient, patient_to_doc
from limbscribe.core.chart.session import Session, sealed, session_to_doc
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Reading, Side

AT = "2026-03-02T10:40:00+01:00"
ROUNDS = 300
STATIONS = 20


def session(name: str, stations: int = STATIONS) -> Session:
    scale = AngleScale("neutral-zero", 1, 0)
    items = tuple(Item(f"muscle-{n}") for n in range(stations))
    readings = tuple(
        Reading(item.muscle, Side.LEFT, "supine", scale, r1=-5, r2=10, quality=2) for item in items
    )
    checklist = Checklist("bench", "Bench", items)
    return Session(name, "2026-03-02T10:00:00+01:00", "EX", "RE", checklist, readings=readings)


def filled(folder: Path, charts: int) -> Shelf:
    """A shelf whose charts hold one session each; written directly, which is quicker."""
    shelf = Shelf(folder)
    body = session_to_doc(sealed(session("s0"), "RE", AT, ""))
    for n in range(charts):
        tables = {
            "patient": {"1": document.wrap(patient_to_doc(Patient(f"P-{n:05d}")))},
            "sessions": {"1": document.wrap(body)},
        }
        path = folder / "charts" / f"{n:032x}.json"
        path.write_bytes(document.render(tables, path.stem))
        path.chmod(0o600)
    return shelf


def ms(act: Callable[[], object]) -> float:
    began = time.perf_counter()
    act()
    return (time.perf_counter() - began) * 1000


def show(what: str, times: list[float]) -> None:
    p50, p95 = statistics.median(times), statistics.quantiles(times, n=20)[18]
    print(f"{what:44} p50 {p50:8.3f} ms   p95 {p95:8.3f} ms   ({len(times)} times)")


def main() -> None:
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    with tempfile.TemporaryDirectory() as folder:
        shelves = {n: filled(Path(folder) / str(n), n) for n in (10, many)}
        chart = f"{0:032x}"
        for n, shelf in shelves.items():
            print(f"{f'list, {n} charts, no index':44} {ms(shelf.charts):12.1f} ms, once")
        fresh: dict[int, list[float]] = {n: [] for n in shelves}
        again: dict[int, list[float]] = {n: [] for n in shelves}
        appends: dict[int, list[float]] = {n: [] for n in shelves}
        closes: dict[int, list[float]] = {n: [] for n in shelves}
        for _ in range(20):
            for n, shelf in shelves.items():
                new = Shelf(shelf.folder)
                fresh[n].append(ms(new.charts))
                again[n].append(ms(new.charts))
        opened = {n: shelf.start(chart, session("open"), "RE") for n, shelf in shelves.items()}
        entry = {"station": 3, "field": "r1", "value": -25, "at": AT}
        for _ in range(ROUNDS):
            for n, one in opened.items():
                appends[n].append(ms(lambda one=one: one.append(entry)))
        for one in opened.values():
            one.discard()
        for turn in range(20):
            for n, shelf in shelves.items():
                name = f"c{turn}"
                one = shelf.start(f"{turn % 10:032x}", session(name), "RE")
                closes[n].append(ms(lambda one=one, name=name: one.close(session(name), "RE", AT)))
        for n in shelves:
            show(f"append, {n} charts", appends[n])
            show(f"close a session, {n} charts", closes[n])
            show(f"list, {n} charts, index from disk", fresh[n])
            show(f"list, {n} charts, index in memory", again[n])


if __name__ == "__main__":
    main()
