"""What a shelf holds, as a set of items that can be compared, and what is wrong with it.

An item is a tuple: a kind, then what tells it from others, its content included. The set is
read through the program itself, as its next start would: open, list, load, resume, leave.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from limbscribe.core.session import Session, canonical, session_to_doc
from limbscribe.core.shelf import AlreadyClosed, Chart, Event, Shelf, ShelfError, verify
from limbscribe.core.shelf.journal import decode_lines
from limbscribe.core.shelf.opened import DISCARDED

Item = tuple[str, ...]
Items = frozenset[Item]

MENDED = (
    "left behind by a dead writer",
    "the line is damaged or was never finished",
    "cannot be read: the file is missing",
    "the erasing of the chart",
)
"""What verify may say after a crash: each is mended by opening the shelf or resuming."""


@dataclass(frozen=True)
class Look:
    """What was found.

    Attributes:
        items: everything on the shelf but what was set aside.
        aside: what was set aside.
        troubles: one sentence for each thing that could not be read or is not sound.
    """

    items: Items
    aside: Items
    troubles: tuple[str, ...]

    def holds(self, wanted: Items) -> bool:
        """Whether the shelf holds exactly these; more may have been set aside."""
        kept = {it for it in wanted if it[0] != "aside"}
        return self.items == kept and not self.missing(wanted)

    def missing(self, wanted: Items) -> Items:
        """Which of these the shelf does not hold."""
        return wanted - self.items - self.aside


def item(*parts: str) -> Item:
    """An item."""
    return parts


def session_item(code: str, session: Session) -> Item:
    """A closed session, with all it says but its signature."""
    bare = canonical(session_to_doc(replace(session, seal=None))).decode()
    return item("session", code, session.id, bare)


def entry_item(session: str, place: int, doc: Any) -> Item:
    """An accepted field of an open session."""
    return item("entry", session, str(place), canonical(doc).decode())


def aside_item(session: str, place: int, doc: Any) -> Item:
    """An accepted field of a session that was set aside."""
    return item("aside", *entry_item(session, place, doc)[1:])


def event_item(code: str, event: Event) -> Items:
    """An event, as a set."""
    return frozenset([item("event", code, event.id, event.note)])


def look(folder: Path) -> Look:
    """Everything on a shelf after a crash; mends it as the next start of the program does."""
    troubles = [f"before opening: {f}" for f in verify(folder) if not f.what.startswith(MENDED)]
    found: set[Item] = set()
    try:
        shelf = Shelf(folder)
        for listed in shelf.charts():
            found |= _chart(shelf, listed.id, troubles)
        codes = [it[1] for it in found if it[0] == "chart"]
        if len(set(codes)) < len(shelf.charts()):
            troubles.append("two charts of one code, or a chart without one")
    except Exception as error:
        troubles.append(f"{type(error).__name__}: {error}")
    troubles += [f"after opening: {finding}" for finding in verify(folder)]
    return Look(frozenset(found), _aside(folder), tuple(troubles))


def _chart(shelf: Shelf, chart_id: str, troubles: list[str]) -> set[Item]:
    chart = shelf.load(chart_id)
    code = chart.patient.code
    troubles += [str(problem) for problem in chart.problems]
    found = {item("chart", code)}
    found |= {session_item(code, s) for s in chart.sessions}
    found |= {item("amendment", code, a.reason) for a in chart.amendments}
    for event in chart.events:
        found |= event_item(code, event)
    if shelf.has_open(chart_id):
        found |= _open(shelf, chart_id, code, troubles)
    if shelf.amending(chart_id):
        found |= _amending(shelf, chart, troubles)
    return found


def _open(shelf: Shelf, chart_id: str, code: str, troubles: list[str]) -> set[Item]:
    try:
        opened = shelf.resume(chart_id, "KIT")
    except AlreadyClosed:
        return set()
    except ShelfError as error:
        troubles.append(f"resume: {error}")
        return set()
    name = opened.session.id
    opened.leave()
    return {item("open", code, name)} | {
        entry_item(name, place, doc) for place, doc in enumerate(opened.entries)
    }


def _amending(shelf: Shelf, chart: Chart, troubles: list[str]) -> set[Item]:
    try:
        opened = shelf.open_amendment(chart.id, chart.current[0], ())
    except ShelfError as error:
        troubles.append(f"amending: {error}")
        return set()
    found = {entry_item("amending", place, doc) for place, doc in enumerate(opened.entries)}
    if found:
        opened.leave()
    else:
        opened.drop()  # nothing was accepted, or it was saved and this one is new
    return found


def _aside(folder: Path) -> Items:
    found: set[Item] = set()
    for path in (folder / "journals" / DISCARDED).glob("*.journal"):
        lines = decode_lines(path.read_bytes(), path.name[:32])
        if lines.entries:
            name = str(lines.entries[0].get("id"))
            found |= {aside_item(name, n, doc) for n, doc in enumerate(lines.entries[1:])}
    return frozenset(found)
