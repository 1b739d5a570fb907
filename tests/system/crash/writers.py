"""Part five: several processes save into one chart at once, and several make one chart."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from limbscribe.core.chart.event import Event
from limbscribe.core.errors import CodeTaken, ShelfError
from limbscribe.core.shelf import Shelf

from .look import look
from .scenario import CODE, PATIENT
from .tally import Tally
from .world import SHELF


def run(room: Path, processes: int, saves: int) -> Tally:
    """Each process makes the chart, unless it is there, and adds events to it."""
    tally = Tally("Several processes in one chart")
    kinds = ("processes", "acknowledged saves", "acknowledged but lost", "unreadable or unsound")
    tally.counts.update(dict.fromkeys(kinds, 0))
    base = room / "together"
    base.mkdir()
    folder = base / SHELF
    Shelf(folder)
    reader, writer = os.pipe()
    gate, opener = os.pipe()
    pids = [_started(folder, number, saves, gate, opener, writer) for number in range(processes)]
    os.close(gate)
    os.close(opener)  # all begin at once
    os.close(writer)
    with os.fdopen(reader) as pipe:
        said = pipe.read().split()
    for pid in pids:
        os.waitpid(pid, 0)
    seen = look(base)
    for trouble in seen.troubles:
        tally.fail("unreadable or unsound", trouble)
    found = {it[2] for it in seen.items if it[0] == "event"}
    tally.counts["processes"] = processes
    tally.counts["acknowledged saves"] = len(said)
    for name in said:
        if name not in found:
            tally.fail("acknowledged but lost", name)
    if not said:
        tally.fail("acknowledged but lost", "nobody could save anything")
    return tally


def _started(folder: Path, number: int, saves: int, gate: int, opener: int, writer: int) -> int:
    pid = os.fork()
    if pid:
        return pid
    try:
        os.close(opener)
        os.read(gate, 1)  # ends when everybody is there
        shelf = Shelf(folder)
        with suppress(CodeTaken):
            shelf.create(PATIENT)
        chart = shelf.find(CODE) or ""
        for turn in range(saves):
            event = Event(f"e{number}-{turn}", "cast", "2026-02-10", "", "", "")
            with suppress(ShelfError):
                shelf.add_event(chart, event)
                os.write(writer, f"{event.id}\n".encode())
    finally:
        os._exit(0)
