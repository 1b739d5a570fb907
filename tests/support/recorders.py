"""Recorders without screens: they type into one chart each, and write down what was accepted.

Each is a process of its own with a state folder of its own, as on a machine of its own. What it
was told to be stored, it notes in a file behind its back (``Notes``), so that it may be killed at
any moment and somebody else can compare what it was told with what there is.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from limbscribe.core.chart.session import Session
from limbscribe.core.errors import AlreadyClosed, NotConfirmed, ShelfError
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.opened import OpenSession
from limbscribe.core.shelf.server.address import address_of

from tests import ROOT
from tests.support.at_server import waiting
from tests.support.shelves import AT, reading, session

TEXT = "what was typed"
_REST_S = 0.03
_AWAY_S = 0.05


@dataclass
class Told:
    """What a recorder noted.

    Attributes:
        tried: per session the numbers of the entries that it wanted to store.
        stored: those of them of which it was told that they are.
        closing: per session how many entries it had when it was to be signed.
        closed: sessions of which it was told that they are signed.
        wrong: what did not fit what it had been told before.
    """

    tried: dict[str, list[int]] = field(default_factory=dict)
    stored: dict[str, list[int]] = field(default_factory=dict)
    closing: dict[str, str] = field(default_factory=dict)
    closed: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


def told(notes: Path) -> Told:
    """Read what a recorder noted; a line that a kill cut short is none."""
    found = Told()
    for line in notes.read_text().split("\n")[:-1] if notes.exists() else []:
        kind, name, value = json.loads(line)
        if kind in ("tried", "stored"):
            getattr(found, kind).setdefault(name, []).append(value)
        elif kind == "closing":
            found.closing[name] = value
        else:
            getattr(found, kind).append(name)
    return found


class Recorder:
    """One who types; see run()."""

    def __init__(self, url: str, chart: str, seed: int, notes: Path) -> None:
        self._url = url
        self._chart = chart
        self._chance = random.Random(seed)
        self._notes = os.open(notes, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        self._told = told(notes)
        self._made = len(self._told.tried) * 1000 + self._chance.randrange(1000)
        self._opened: OpenSession | None = None
        self._signing = False

    def run(self) -> None:
        """Type until the process is ended."""
        self._shelf = self._at_last()
        while True:
            try:
                self._act()
                time.sleep(self._chance.random() * _REST_S)
            except ShelfError:  # the server is away
                time.sleep(_AWAY_S)

    def _at_last(self) -> Shelf:
        while True:
            try:
                return Shelf(address_of(self._url))
            except ShelfError:
                time.sleep(_AWAY_S)

    def _note(self, kind: str, name: str, value: object = None) -> None:
        os.write(self._notes, json.dumps([kind, name, value]).encode() + b"\n")

    def _act(self) -> None:
        if self._opened is None:
            self._begin()
            return
        chance = self._chance.random()
        if self._signing or chance < 0.05:
            self._sign(self._opened)
        elif chance < 0.08:
            self._opened.leave()
            self._opened = None
        else:
            self._type(self._opened)

    def _type(self, opened: OpenSession) -> None:
        name = opened.session.id
        number = len(self._told.tried.setdefault(name, [])) + 1
        self._told.tried[name].append(number)
        self._note("tried", name, number)
        opened.append({"n": number, "text": TEXT})
        self._told.stored.setdefault(name, []).append(number)
        self._note("stored", name, number)

    def _begin(self) -> None:
        if self._shelf.has_open(self._chart):
            try:
                self._opened = self._shelf.resume(self._chart, "RE")
            except AlreadyClosed:
                return
            self._compare(self._opened)
        else:
            self._made += 1
            made = session(f"{os.getpid()}-{self._made}")
            self._opened = self._shelf.start(self._chart, made, "RE")
            self._note("tried", made.id, 0)
            self._told.tried[made.id] = [0]

    def _compare(self, opened: OpenSession) -> None:
        name = opened.session.id
        there = [entry["n"] for entry in opened.entries]
        if flaw := compared(there, self._told.stored.get(name, []), self._told.tried.get(name, [])):
            self._note("wrong", f"{name} gone on with: {flaw}")
        self._told.tried[name] = list(range(max(there, default=0) + 1))
        self._told.stored[name] = there

    def _sign(self, opened: OpenSession) -> None:
        self._signing = True
        ready = signed_with(opened.session, self._told.stored.get(opened.session.id, []))
        self._note("closing", ready.id, ready.readings[0].comment)
        try:
            opened.close(ready, "RE", AT)
        except NotConfirmed:
            return
        except ShelfError:  # it waits, and typing goes on
            self._signing = False
            raise
        self._note("closed", ready.id)
        self._opened, self._signing = None, False


def signed_with(opened: Session, numbers: list[int]) -> Session:
    """A session as it is signed, which says in a comment what had been typed."""
    said = f"{len(numbers)} to {max(numbers, default=0)}"
    return session(opened.id, opened.started, readings=(reading(comment=said),))


def compared(there: list[int], stored: list[int], tried: list[int]) -> str:
    """What is lost or doubled, "" where nothing is."""
    if len(set(there)) < len(there):
        return f"doubled: {there}"
    if lost := set(stored) - set(there):
        return f"lost: {sorted(lost)}"
    if foreign := set(there) - set(tried):
        return f"never typed: {sorted(foreign)}"
    return "" if there == sorted(there) else f"out of order: {there}"


class Crew:
    """Several recorders at work, each a process.

    Attributes:
        url: the address that they use.
        charts: the chart of each.
    """

    def __init__(self, url: str, charts: list[str], folder: Path) -> None:
        self.charts = charts
        self.url = url
        self._folder = folder
        self._processes: list[subprocess.Popen[bytes] | None] = [None] * len(charts)
        self._starts = 0

    def notes(self, place: int) -> Path:
        """What one of them noted."""
        return self._folder / f"notes-{place}"

    def home(self, place: int) -> Path:
        """The state folder of one of them."""
        return self._folder / f"state-{place}"

    def start(self) -> None:
        """Start those that are not at work."""
        for place, process in enumerate(self._processes):
            if process is None:
                self._starts += 1
                command = [sys.executable, "-m", __name__, self.url, self.charts[place]]
                self._processes[place] = subprocess.Popen(
                    [*command, str(self._starts), str(self.notes(place))],
                    env=os.environ | {"XDG_STATE_HOME": str(self.home(place))},
                    cwd=ROOT,
                    stderr=(self._folder / f"errors-{place}").open("ab"),
                )

    def kill(self, *places: int) -> None:
        """End some of them with -9, all when none is named."""
        for place in places or range(len(self._processes)):
            process, self._processes[place] = self._processes[place], None
            if process is not None:
                said = (self._folder / f"errors-{place}").read_text()
                assert process.poll() is None, f"recorder {place} ended by itself: {said}"
                process.send_signal(signal.SIGKILL)
                process.wait()

    def entries(self) -> int:
        """How many entries they were told of so far."""
        notes = (self.notes(place) for place in range(len(self.charts)))
        return sum(each.read_bytes().count(b'["stored"') for each in notes if each.exists())

    def wrong(self) -> Iterator[str]:
        """Compare what they were told with what is there, once all of it was delivered."""
        shelf = Shelf(address_of(self.url))
        for place, chart in enumerate(self.charts):
            found = told(self.notes(place))
            yield from found.wrong
            yield from _wrong(shelf, chart, found)


def delivered(crew: Crew, monkeypatch: pytest.MonkeyPatch) -> None:
    """What every recorder still has is taken to the server, and nothing waits then."""
    for place in range(len(crew.charts)):
        monkeypatch.setenv("XDG_STATE_HOME", str(crew.home(place)))
        shelf = Shelf(address_of(crew.url))
        list(shelf.deliver())
        assert waiting(shelf) == []


def _wrong(shelf: Shelf, chart: str, found: Told) -> Iterator[str]:
    signed = shelf.load(chart).sessions
    names = [each.id for each in signed]
    if len(set(names)) < len(names):
        yield f"signed twice: {names}"
    if lost := set(found.closed) - set(names):
        yield f"signed and gone: {lost}"
    for each in signed:
        if each.readings[0].comment != found.closing.get(each.id):
            yield f"{each.id} was signed with {each.readings[0].comment}"
    saved = shelf.look(chart)
    opened = saved.session.id if saved else ""
    if saved and opened not in names:
        there = [entry["n"] for entry in saved.entries]
        flaw = compared(there, found.stored.get(opened, []), found.tried.get(opened, []))
        yield from [f"{opened}: {flaw}"] if flaw else []
    for name in found.stored.keys() - {opened, *names}:
        yield f"{name} is neither signed nor open"


if __name__ == "__main__":
    Recorder(sys.argv[1], sys.argv[2], int(sys.argv[3]), Path(sys.argv[4])).run()
