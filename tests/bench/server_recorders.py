"""Recorders at human pace against one shelf on a server, without screens.

Each has a shelf object, a connection, a courier and a folder for journals of its own, as in a
process of its own; they share some processes as threads, so that a small machine can hold
hundreds. Keys go through the reducer, what it accepts into a journal that is flushed here and
sent to the server, and the session is signed at the end.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.deck import CHECKLIST, PATIENT, deal, drill_plan, keys_of
from limbscribe.core.entry.log import save_to_doc
from limbscribe.core.entry.plan import Plan, settled
from limbscribe.core.entry.readings import session_readings
from limbscribe.core.entry.state import EntryState, Moment, Save, begin
from limbscribe.core.entry.step import step
from limbscribe.core.shelf import OpenSession, Shelf
from limbscribe.core.shelf.server.address import address_of
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.at_server import only_here

from .server_charts import id_of

KEY_S = (0.3, 0.7)
"""s from one key to the next."""

PAUSE_S = (1.5, 4.5)
"""s before a station, while the limb is moved."""

STATIONS = 8
PROCESSES = 4
BEGIN_S = 10.0
"""s within which they all begin."""


@dataclass
class Times:
    """What some recorders have waited for, s, and what it cost.

    Attributes:
        enters: from the moment at which an Enter was due until the next station is there.
        keys: the same of every other key.
        starts: to load the chart and start the session.
        closes: to sign and store it.
        waiting: lines that were not on the server yet, looked at before each station.
        flushes: of this machine's disk.
        cpu: of the processor, from the first key to the last signature.
        opening: the same to open the shelf.
    """

    enters: list[float] = field(default_factory=list[float])
    keys: list[float] = field(default_factory=list[float])
    starts: list[float] = field(default_factory=list[float])
    closes: list[float] = field(default_factory=list[float])
    waiting: list[int] = field(default_factory=list[int])
    flushes: int = 0
    cpu: float = 0.0
    opening: float = 0.0

    def add(self, other: Times) -> None:
        """Put those of others beside these."""
        for name in ("enters", "keys", "starts", "closes", "waiting"):
            getattr(self, name).extend(getattr(other, name))
        self.flushes += other.flushes
        self.cpu += other.cpu
        self.opening += other.opening


class Recorder:
    """One recorder with a shelf of their own."""

    def __init__(self, url: str, folder: Path, number: int) -> None:
        os.environ["XDG_STATE_HOME"] = str(folder / f"recorder-{number}")
        self._shelf = Shelf(address_of(url))
        self._chart = id_of(number)
        self._number = number
        self._chance = Random(number)
        self.times = Times()

    def work(self) -> None:
        """Start a session, type some stations, sign it."""
        time.sleep(self._chance.uniform(0, BEGIN_S))
        plan, session = _planned(self._number)
        began = time.perf_counter()
        self._shelf.load(self._chart)
        opened = self._shelf.start(self._chart, session, "RE")
        self.times.starts.append(time.perf_counter() - began)
        state = begin(plan)
        dealt = zip(deal(plan, self._chance), plan.stations, strict=True)
        for spoken, station in list(dealt)[:STATIONS]:
            state = self._station(state, opened, keys_of(spoken, station.scale.presign))
        assert state.drafts[STATIONS - 1].done, "every station was accepted"
        closed = replace(session, readings=session_readings(state))
        began = time.perf_counter()
        opened.close(closed, "RE", _wall())
        self.times.closes.append(time.perf_counter() - began)

    def _station(self, state: EntryState, opened: OpenSession, keys: Sequence[str]) -> EntryState:
        """Type a station, key by key; the last key is the Enter that leads to the next one."""
        due = time.perf_counter() + self._chance.uniform(*PAUSE_S)
        for place, key in enumerate(keys, 1):
            due += self._chance.uniform(*KEY_S)
            time.sleep(max(0.0, due - time.perf_counter()))
            if place == 1:
                self.times.waiting.append(only_here(opened)[0])
            wall = _wall()
            state, effects = step(state, key, Moment(time.monotonic(), wall))
            for effect in effects:
                if isinstance(effect, Save):
                    opened.append(save_to_doc(effect, wall))
            times = self.times.enters if place == len(keys) else self.times.keys
            times.append(time.perf_counter() - due)
        return state


def _planned(number: int) -> tuple[Plan, Session]:
    """The plan of a drill, and a session with its checklist."""
    muscles = shipped_muscles()
    checklists = shipped_checklists(muscles)
    chosen = next(one for one in checklists if one.id == CHECKLIST)
    kept = settled(chosen, PATIENT.affected, muscles)
    wall = _wall()
    plan = drill_plan(checklists, muscles, int(wall[:4]))
    return plan, Session(f"{number:08x}{time.time_ns():024x}", wall, "EX", "RE", kept)


def _wall() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")


def _counting_flushes() -> Callable[[], int]:
    """Count the flushes of this process from now on."""
    count = 0
    for name in ("fsync", "fdatasync"):
        real = getattr(os, name)

        def counted(fd: int, real: Callable[[int], None] = real) -> None:
            nonlocal count
            count += 1
            real(fd)

        setattr(os, name, counted)
    return lambda: count


def _in_process(told: Connection, url: str, folder: Path, numbers: range) -> None:
    flushes = _counting_flushes()
    before = time.process_time()
    recorders = [Recorder(url, folder, number) for number in numbers]
    total = Times(opening=time.process_time() - before)
    told.send("ready")
    told.recv()
    flushed, before = flushes(), time.process_time()
    threads = [threading.Thread(target=one.work) for one in recorders]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    total.cpu, total.flushes = time.process_time() - before, flushes() - flushed
    for one in recorders:
        total.add(one.times)
    told.send(total)


def recorded(url: str, folder: Path, number: int, during: Callable[[bool], None]) -> Times:
    """Let so many recorders work.

    Args:
        url: of the shelf, filled by server_charts.fill().
        folder: for their journals.
        number: how many.
        during: called with True when they begin, with False when they have ended.
    """
    context = get_context("spawn")
    processes = min(PROCESSES, number)
    pairs = [context.Pipe() for _ in range(processes)]
    running = [
        context.Process(target=_in_process, args=(there, url, folder, range(n, number, processes)))
        for n, (_, there) in enumerate(pairs)
    ]
    for process in running:
        process.start()
    total = Times()
    for here, _ in pairs:
        here.recv()
    during(True)
    for here, _ in pairs:
        here.send("go")
    for here, _ in pairs:
        total.add(here.recv())
    during(False)
    for process in running:
        process.join()
    return total
