"""The operations the kit breaks: the whole life of a chart, one operation after the other.

To add an operation, add an ``Op`` to ``chain()`` (it runs on what the operations before it
left) or to ``apart()`` (it runs on the state after a named operation, altered by ``setup``).
Say what it adds to and takes from the shelf in items, see look.py; every part of the kit then
takes it in. All values are invented.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.goals import goal_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.errors import AlreadyClosed, NotSaved
from limbscribe.core.shelf import OpenSession, Shelf
from limbscribe.core.shelf.encryption import convert
from limbscribe.core.shelf.index import TORN
from limbscribe.core.shelf.maintenance.backup import check_backup
from limbscribe.core.shelf.opened_amendment import OpenAmendment
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support import shelves

from .look import (
    COPY,
    Items,
    aside_item,
    backup_item,
    chart_aside_item,
    entry_item,
    event_item,
    item,
    key_item,
    session_item,
)
from .world import SHELF, key_of, made

AT = "2026-03-02T10:40:00+01:00"
CODE = "KIT-1"
PATIENT = Patient(CODE, 1960, "female", "stroke", "left", 165)
OTHER = Patient("KIT-2", 1984, "male", "", "", None)
SCALE = AngleScale("neutral-zero", 1, 0)

R1 = {"op": "set", "station": "soleus/left", "field": "r1", "value": -5}
LONG = {"op": "set", "station": "soleus/left", "field": "comment", "value": "cold room " * 450}
UNDO = {"op": "undo"}
QUALITY = {"op": "set", "station": "soleus/left", "field": "quality", "value": 2}


def session(name: str, start: str = "2026-03-02T10:00:00+01:00") -> Session:
    """A session of two stations."""
    right = shelves.reading("hamstrings", Side.RIGHT, r1=-40, r2=-20, quality=3)
    return shelves.session(name, start, readings=(shelves.reading(), right))


OLD = (session("i1", "2026-01-05T10:00:00+01:00"), session("i2", "2026-02-02T10:00:00+01:00"))
AMENDMENT = Amendment(
    "a1", "i1", "RE", "misread", AT, (Reading("soleus", Side.LEFT, "supine", SCALE, r2=12),)
)
DETAILS = DetailsChange("d1", "RE", "misheard", AT, {"birth_month": 4})
EVENT = Event("e1", "cast", "2026-02-10", "soleus", "left", "six weeks")
AWAY = ("north", "south")
SOUTH = Event("e9", "cast", "2026-02-20", "soleus", "left", "written at another site")
TREATMENT = (
    Event("e2", "botulinum-toxin", "2026-02-12", "soleus", "left", "two places", 50.0, "U"),
    goal_event("e3", "heel on the floor", date(2026, 2, 12)),
)


class Bench:
    """One process's shelf, the chart it works on, and the session it has open.

    Attributes:
        base: the folder that the shelf and its backups lie in.
        folder: the shelf.
        opened: the session that is open, if any.
    """

    def __init__(self, base: Path) -> None:
        self.base = base
        self.folder = base / SHELF
        self._shelf: Shelf | None = None
        self.opened: OpenSession | None = None

    @property
    def shelf(self) -> Shelf:
        """The shelf, opened once."""
        if self._shelf is None:
            self.reopen()
        assert self._shelf is not None
        return self._shelf

    @property
    def chart(self) -> str:
        """Id of the chart of CODE."""
        found = self.shelf.find(CODE)
        assert found is not None
        return found

    @property
    def other(self) -> str:
        """Id of the chart of OTHER."""
        found = self.shelf.find(OTHER.code)
        assert found is not None
        return found

    @property
    def entry(self) -> OpenSession:
        """The open session."""
        assert self.opened is not None
        return self.opened

    def reopen(self) -> None:
        """Open the shelf anew, as the next start of the program does."""
        self._shelf = Shelf(self.folder, key_of(self.folder))

    def start(self, name: str) -> None:
        """Start a session."""
        self.opened = self.shelf.start(self.chart, session(name), "RE")

    def leave(self) -> None:
        """Leave the session that is open."""
        if self.opened is not None:
            self.opened.leave()

    def resume(self) -> None:
        """Go on with the open session."""
        self.opened = self.shelf.resume(self.chart, "RE")

    def amending(self) -> None:
        """Begin to amend the first session, or go on with that."""
        chart = self.shelf.load(self.chart)
        made_on = [chart.amendments[-1].hash]
        self.opened = self.shelf.open_amendment(self.chart, chart.current[0], made_on)

    def save_amendment(self) -> None:
        """Close what amending() opened."""
        opened = self.entry
        assert isinstance(opened, OpenAmendment)
        changed = replace(AMENDMENT.readings[0], r2=14)
        opened.save("RE", "misheard", AT, (changed,), ())

    def back_up(self, name: str) -> None:
        """Write a backup beside the shelf; one that had to leave a file out is not kept."""
        made = self.shelf.backup(self.base / name, AT)
        if made.left_out:
            made.path.unlink()
            raise NotSaved(f"{made.left_out} was left out, nothing was changed")

    def restore(self, *names: str, back: tuple[str, ...] = ()) -> None:
        """Restore backups, and bring erased codes back."""
        archives = [check_backup(self.base / name) for name in names]
        self.shelf.restore(archives, "RE", AT, back)

    def set_aside(self) -> None:
        """Set broken charts aside; what could not be done is said as a failure."""
        for done in self.shelf.set_damaged_aside():
            if done.why_not:
                raise NotSaved(done.why_not)

    def _alone(self) -> None:
        """Leave what is open, and the shelf as it was opened."""
        self.leave()
        self._shelf = None

    def encrypt(self) -> None:
        """Encrypt the shelf with the first key."""
        self._alone()
        convert.encrypt(self.folder, made("first"))

    def rekey(self) -> None:
        """Give it the second key."""
        self._alone()
        convert.rekey(self.folder, made("first").key, made("second"))

    def decrypt(self) -> None:
        """Make it one that is not encrypted."""
        self._alone()
        convert.decrypt(self.folder, made("second").key)


@dataclass(frozen=True)
class Op:
    """One operation.

    Attributes:
        name: a few words.
        act: what is done; it has to be durable when this returns.
        adds: items it adds.
        takes: items it takes away.
        ready: what has to be done beforehand in the same process.
        after: for an operation apart: the one whose result it runs on.
        setup: for an operation apart: alters the folder beforehand; it gets the folder and
            the folder as it was before ``after``.
        broken: words of what is wrong with the shelf until the operation is done.
        long: whether it makes so many calls of the same kinds that a sample of them does,
            unless the size is full.
    """

    name: str
    act: Callable[[Bench], Any]
    adds: Items = frozenset()
    takes: Items = frozenset()
    ready: Callable[[Bench], Any] = lambda bench: None
    after: str = ""
    setup: Callable[[Path, Path], None] | None = None
    broken: str = ""
    long: bool = False

    def result(self, before: Items) -> Items:
        """The items when it is done."""
        return (before - self.takes) | self.adds


def entries(name: str, *docs: dict[str, Any], first: int = 0) -> Items:
    """Items of accepted fields."""
    return frozenset(entry_item(name, first + n, doc) for n, doc in enumerate(docs))


def appending(name: str, place: int, doc: dict[str, Any], title: str) -> Op:
    """The acceptance of one field."""
    return Op(
        title, lambda b: b.entry.append(doc), entries(name, doc, first=place), ready=Bench.resume
    )


def chain() -> tuple[Op, ...]:
    """The operations in the order in which the kit runs them."""
    first = entries("s1", R1, LONG, UNDO, QUALITY) | {item("open", CODE, "s1")}
    second = entries("s2", R1) | {item("open", CODE, "s2")}
    return (
        Op("first opening", lambda b: b.reopen()),
        Op("create", lambda b: b.shelf.create(PATIENT), frozenset([item("chart", CODE)])),
        Op(
            "import",
            lambda b: b.shelf.add_closed(b.chart, OLD, "RE", AT),
            frozenset(session_item(CODE, s) for s in OLD),
        ),
        Op("start", lambda b: b.start("s1"), frozenset([item("open", CODE, "s1")])),
        appending("s1", 0, R1, "accept a field"),
        appending("s1", 1, LONG, "accept a long field"),
        appending("s1", 2, UNDO, "accept an undo"),
        Op("leave", lambda b: b.entry.leave(), ready=Bench.resume),
        Op("resume", lambda b: b.resume()),
        appending("s1", 3, QUALITY, "accept a field after resuming"),
        Op(
            "close",
            lambda b: b.entry.close(session("s1"), "RE", AT),
            frozenset([session_item(CODE, session("s1"))]),
            first,
            ready=Bench.resume,
        ),
        Op(
            "amend",
            lambda b: b.shelf.amend(b.chart, AMENDMENT),
            frozenset([item("amendment", CODE, "misread")]),
        ),
        Op("begin an amendment", lambda b: b.amending()),
        Op(
            "accept a field of the amendment",
            lambda b: b.entry.append(R1),
            entries("amending", R1),
            ready=Bench.amending,
        ),
        Op(
            "save the amendment",
            lambda b: b.save_amendment(),
            frozenset([item("amendment", CODE, "misheard")]),
            entries("amending", R1),
            ready=Bench.amending,
        ),
        Op(
            "change details",
            lambda b: b.shelf.change_details(b.chart, DETAILS),
            frozenset([item("details", CODE, DETAILS.id)]),
        ),
        Op("event", lambda b: b.shelf.add_event(b.chart, EVENT), event_item(CODE, EVENT)),
        Op(
            "a treatment with its goal",
            lambda b: b.shelf.add_events(b.chart, TREATMENT),
            frozenset().union(*(event_item(CODE, one) for one in TREATMENT)),
        ),
        Op("list, which adds a line to the index", lambda b: Shelf(b.folder).charts()),
        Op("start a second", lambda b: b.start("s2"), frozenset([item("open", CODE, "s2")])),
        appending("s2", 0, R1, "accept in the second"),
        Op(
            "discard",
            lambda b: b.entry.discard(),
            frozenset([aside_item("s2", 0, R1)]),
            second,
            ready=Bench.resume,
        ),
        Op(
            "create another",
            lambda b: b.shelf.create(OTHER),
            frozenset([item("chart", OTHER.code)]),
        ),
        Op(
            "import for the other",
            lambda b: b.shelf.add_closed(b.other, OLD, "RE", AT),
            frozenset(session_item(OTHER.code, s) for s in OLD),
        ),
        Op(
            "withdraw",
            lambda b: b.shelf.withdraw(b.other, "i1", "RE", "training", AT),
            frozenset([item("transfer", OTHER.code, "withdrawn", "training")]),
        ),
        Op(
            "move",
            lambda b: b.shelf.move(b.other, "i2", b.chart, "RE", "wrong patient", AT),
            frozenset(
                [
                    session_item(CODE, replace(OLD[1], id=COPY)),
                    item("transfer", CODE, "received", "wrong patient"),
                    item("transfer", OTHER.code, "withdrawn", "wrong patient"),
                ]
            ),
        ),
        *_as_a_whole(),
    )


def _as_a_whole() -> tuple[Op, ...]:
    """What is done with the shelf as a whole, on what the first operations left."""
    other = frozenset(session_item(OTHER.code, s) for s in OLD) | {
        item("chart", OTHER.code),
        item("open", OTHER.code, "s8"),
        item("transfer", OTHER.code, "withdrawn", "training"),
        item("transfer", OTHER.code, "withdrawn", "wrong patient"),
    }
    first, second = frozenset([key_item("first")]), frozenset([key_item("second")])
    return (
        Op(
            "start for the other",
            lambda b: b.shelf.start(b.other, session("s8"), "RE").leave(),
            frozenset([item("open", OTHER.code, "s8")]),
        ),
        Op("back up", lambda b: b.back_up("a.tar"), frozenset([backup_item("a.tar", 2, 1)])),
        Op("erase the other", lambda b: b.shelf.erase(OTHER.code, "RE", AT), takes=other),
        Op("restore, and bring back", lambda b: b.restore("a.tar", back=(OTHER.code,)), other),
        Op("encrypt", Bench.encrypt, first, long=True),
        Op("start encrypted", lambda b: b.start("s3"), frozenset([item("open", CODE, "s3")])),
        appending("s3", 0, LONG, "accept encrypted"),
        Op(
            "back up encrypted",
            lambda b: b.back_up("b.tar"),
            frozenset([backup_item("b.tar", 2, 2)]),
        ),
        Op("re-key", Bench.rekey, second, first, long=True),
        Op("resume under the new key", lambda b: b.resume()),
        appending("s3", 1, R1, "accept under the new key"),
        Op("decrypt", Bench.decrypt, takes=second, long=True),
    )


def apart() -> tuple[Op, ...]:
    """Operations on a shelf that an earlier crash has left."""
    return (
        Op(
            "open over a dead writer's file",
            lambda b: b.reopen(),
            after="event",
            setup=_leave_temp,
        ),
        Op("resume a torn journal", lambda b: b.resume(), after="accept an undo", setup=_tear),
        Op("resume what is closed", _resume_closed, after="close", setup=_put_journal_back),
        Op(
            "list over a torn index, which is made anew",
            lambda b: Shelf(b.folder).charts(),
            after="event",
            setup=_tear_index,
            broken=TORN,
        ),
        Op(
            "merge what two sites wrote",
            lambda b: b.restore(*(f"{name}.backup" for name in AWAY)),
            frozenset(
                [
                    session_item(CODE, session("north")),
                    *(item("amendment", CODE, f"misread, {name}") for name in AWAY),
                    item("details", CODE, "south"),
                    *event_item(OTHER.code, SOUTH),
                    chart_aside_item(OTHER.code),
                ]
            ),
            after="restore, and bring back",
            setup=_write_away,
        ),
        Op(
            "set a broken chart aside",
            Bench.set_aside,
            frozenset([chart_aside_item(CODE)]),
            after="event",
            setup=_break,
            broken="a document is missing, added, renumbered or has another checksum",
        ),
    )


def _resume_closed(bench: Bench) -> None:
    try:
        bench.resume()
    except AlreadyClosed:
        return
    raise AssertionError("a closed session was resumed")


def _leave_temp(folder: Path, _: Path) -> None:
    chart = next((folder / SHELF / "charts").glob("*.json"))
    from limbscribe.core import disk

    temp = disk.temp_name(chart.name).split("-")
    temp[-2] = "4194305"  # no process has so large a number
    path = chart.with_name("-".join(temp))
    path.write_bytes(b"half a cha")
    path.chmod(0o600)


def _tear(folder: Path, _: Path) -> None:
    journal = next((folder / SHELF / "journals").glob("*.journal"))
    with journal.open("ab") as file:
        file.write(b'{"entry":{"op":"set","fie')


def _tear_index(folder: Path, _: Path) -> None:
    with (folder / SHELF / "index.json").open("ab") as file:
        file.write(b'{"charts":{"')


def _put_journal_back(folder: Path, before: Path) -> None:
    journal = next((before / SHELF / "journals").glob("*.journal"))
    shutil.copy2(journal, folder / SHELF / "journals" / journal.name)


def _write_away(folder: Path, _: Path) -> None:
    """Write at two other sites, both copies of the shelf, and leave a backup of each."""
    for name in AWAY:
        shutil.copytree(folder / SHELF, folder / name)
        site = Shelf(folder / name)
        chart, other = site.find(CODE) or "", site.find(OTHER.code) or ""
        site.amend(chart, replace(AMENDMENT, id=name, reason=f"misread, {name}"))
        if name == "north":
            site.add_closed(chart, [session("north")], "RE", AT)
        else:
            site.change_details(chart, replace(DETAILS, id=name, details={"birth_month": 5}))
            site.add_event(other, SOUTH)
        site.backup(folder / f"{name}.backup", AT)
        shutil.rmtree(folder / name)


def _break(folder: Path, _: Path) -> None:
    """Damage what the file says of itself as a whole, and none of its documents."""
    chart = next((folder / SHELF / "charts").glob("*.json"))
    data = chart.read_bytes()
    at = data.rindex(b'"sum":"') + len(b'"sum":"')
    chart.write_bytes(data[:at] + (b"1" if data[at : at + 1] == b"0" else b"0") + data[at + 1 :])
