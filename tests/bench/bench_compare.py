"""How long a comparison takes: a chart of 40 sessions with 30 stations. Prints; run it by hand.

The compare screen is opened as the chart screen opens it, up to its first painting at 80x24,
and shown as well is the time of one key in it. Goal: below 150 ms to open.

python tests/bench/bench_compare.py [SESSIONS] [ROUNDS]
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from limbscribe.core.change.compare import Basis, Comparison, compare_dates
from limbscribe.core.change.compare_doc import cells, comparison_doc
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.config.catalogue import Catalogue
from limbscribe.core.config.settings import Settings
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.screens.compare.screen import CompareScreen
from limbscribe.tui.screens.compare.state import CompareData, compare_data, with_sessions

STATIONS = 30


def chart(sessions: int) -> Chart:
    """A chart of invented readings, an injection before every fourth session."""
    muscles = list(shipped_muscles().values())[-STATIONS // 2 :]
    one = [
        Reading(muscle.id, side, muscle.posture_words, muscle.scale(), r1=-20, r2=0, quality=2)
        for muscle in muscles
        for side in Side
    ]
    begun = datetime.fromisoformat("2020-01-06T10:00:00+01:00")
    found: list[Session] = []
    events: list[Event] = []
    for number in range(sessions):
        when = begun + timedelta(days=42 * number)
        readings = tuple(replace(r, r1=-20 + (number * 7 + n) % 15) for n, r in enumerate(one))
        checklist = Checklist("bench", "Bench", tuple(Item(muscle.id) for muscle in muscles))
        who = "EX" if number % 3 else "QQ"
        found.append(
            Session(str(number), when.isoformat(), who, "RE", checklist, readings=readings)
        )
        if number % 4 == 0:
            day = (when + timedelta(days=7)).date().isoformat()
            events += [Event("e", "botulinum-toxin", day, m.id, "left", "") for m in muscles]
    patient = Patient("P-BENCH", 2014, "female", "cerebral-palsy")
    return Chart("c", patient, tuple(found), (), tuple(events), ())


def show(what: str, times: list[float]) -> None:
    p50, p95 = statistics.median(times), statistics.quantiles(times, n=20)[18]
    print(f"{what:44} p50 {p50:7.2f} ms   p95 {p95:7.2f} ms   ({len(times)} times)")


def main() -> None:
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 50
    held, basis = chart(sessions), Basis(shipped_muscles())
    began = time.perf_counter()
    found = compare_dates(held, basis)
    once = (time.perf_counter() - began) * 1000
    assert isinstance(found, Comparison)
    print(f"{len(found.rows)} stations, {sessions} sessions, {len(held.events)} events")
    print(f"{'first comparison, with reading the figures':44} {once:11.2f} ms, once")
    compares: list[float] = []
    paints: list[float] = []
    for _ in range(rounds):
        began = time.perf_counter()
        found = compare_dates(held, basis)
        middle = time.perf_counter()
        assert isinstance(found, Comparison)
        comparison_doc(found)
        for row in found.by_size:
            cells(row)
        paints.append((time.perf_counter() - middle) * 1000)
        compares.append((middle - began) * 1000)
    show("comparison", compares)
    show("its document and table cells", paints)
    screens(min(rounds, 20), sessions)


def screens(rounds: int, sessions: int) -> None:
    """The compare screen: opened from what is on disk, and another session chosen in it."""
    with tempfile.TemporaryDirectory() as folder:
        shelf = Shelf(Path(folder))
        held = chart(sessions)
        chart_id = shelf.create(held.patient)
        shelf.add_closed(chart_id, held.sessions, "RE", "2026-03-02T10:40:00+01:00")
        for number, event in enumerate(held.events):
            shelf.add_event(chart_id, replace(event, id=f"e{number}"))
        catalogue = Catalogue(shipped_muscles(), (), Settings(), ())
        desk = Context(shelf, catalogue, Keymap(), Flow())
        loads: list[float] = []
        opens: list[float] = []
        keys: list[float] = []
        for _ in range(rounds):
            began = time.perf_counter()
            found = shelf.load(chart_id)
            loaded = time.perf_counter()
            data = compare_data(found, Basis(catalogue.muscles))
            assert isinstance(data, CompareData)
            screen = CompareScreen(desk, data)
            assert len(screen.paint(80, 24)) == 24
            opened = time.perf_counter()
            screen.state = with_sessions(screen.state, "now_before", sessions) or screen.state
            screen.state = replace(screen.state, view="figures")
            data.compared(screen.state)
            screen.paint(80, 24)
            keys.append((time.perf_counter() - opened) * 1000)
            loads.append((loaded - began) * 1000)
            opens.append((opened - began) * 1000)
    show("chart read from disk", loads)
    show("compare screen: read, compared, painted", opens)
    show("another session chosen and painted", keys)


if __name__ == "__main__":
    main()
