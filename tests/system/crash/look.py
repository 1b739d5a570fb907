"""What a shelf holds, as a set of items that can be compared, and what is wrong with it.

An item is a tuple: a kind, then what tells it from others, its content included. The set is
read through the program itself, as its next start would: open, list, load, resume, leave.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import Session, canonical, session_to_doc
from limbscribe.core.errors import AlreadyClosed, ShelfError
from limbscribe.core.shelf import Shelf, files
from limbscribe.core.shelf.encryption.codec_of import codec_of
from limbscribe.core.shelf.encryption.key import ShelfKey
from limbscribe.core.shelf.encryption.switch import are_left_over
from limbscribe.core.shelf.files import Folder
from limbscribe.core.shelf.index import TORN
from limbscribe.core.shelf.journal import decode_lines
from limbscribe.core.shelf.maintenance.backup import check_backup, key_file_in
from limbscribe.core.shelf.maintenance.erase import code_in
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.shelf.places import DAMAGED, DISCARDED, has_folder

from .world import SHELF, key_in, key_names, key_of

Item = tuple[str, ...]
Items = frozenset[Item]

MENDED = (
    "left behind by a dead writer",
    "the line is damaged or was never finished",
    TORN,  # of the index
    "cannot be read: the file is missing",
    "the erasing of the chart",
    "a restore is under way or was interrupted",
    "a session was moved to",
)
"""What verify may say after a crash: each is mended by opening the shelf or resuming."""


COPY = "copy"
"""Id of a session that came from another chart."""


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


def unexpected(troubles: tuple[str, ...], broken: str) -> tuple[str, ...]:
    """The troubles without those that an operation is there to mend, "" for none."""
    return tuple(trouble for trouble in troubles if not broken or broken not in trouble)


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


def chart_aside_item(code: str) -> Item:
    """The file of a broken chart that was set aside."""
    return item("aside", "chart", code)


def key_item(name: str) -> Item:
    """That the shelf is encrypted, and with which of the keys."""
    return item("key", name)


def backup_item(name: str, charts: int, journals: int) -> Item:
    """A sound backup, and how much is in it."""
    return item("backup", name, str(charts), str(journals))


def event_item(code: str, event: Event) -> Items:
    """An event, as a set."""
    return frozenset([item("event", code, event.id, event.note)])


def look(base: Path) -> Look:
    """Everything on a shelf after a crash; mends it as the next start of the program does.

    Args:
        base: the folder that the shelf and its backups lie in.
    """
    folder = base / SHELF
    troubles: list[str] = []
    found: set[Item] = set()
    aside: Items = frozenset()
    try:
        key = key_of(folder)
        early = verify(folder, key)
        troubles += [f"before opening: {f}" for f in early if not f.what.startswith(MENDED)]
        found |= _shelf(Shelf(folder, key), troubles)
        if key is not None:
            found.add(key_item(key_names()[key.id]))
        troubles += [f"after opening: {finding}" for finding in verify(folder, key)]
        if are_left_over(folder):
            troubles.append("after opening: another version of the shelf lies beside it")
        aside = _aside(folder, key)
    except Exception as error:
        troubles.append(f"{type(error).__name__}: {error}")
    for path in sorted(base.glob("*.tar")):
        found |= _backup(path, troubles)
    return Look(frozenset(found), aside, tuple(troubles))


def _shelf(shelf: Shelf, troubles: list[str]) -> set[Item]:
    found: set[Item] = set()
    listed = shelf.charts()
    for entry in listed:
        found |= _chart(shelf, entry.id, troubles)
    codes = [it[1] for it in found if it[0] == "chart"]
    if len(set(codes)) < len(listed):
        troubles.append("two charts of one code, or a chart without one")
    return found


def _backup(path: Path, troubles: list[str]) -> set[Item]:
    try:
        kept = key_file_in(path)
        archive = check_backup(path, key_in(kept) if kept else None)
    except (ShelfError, KeyError) as error:
        troubles.append(f"{path.name}: {error}")
        return set()
    counts = archive.counts
    if archive.left_out:
        troubles.append(f"{path.name} leaves out {archive.left_out}")
    return {backup_item(path.name, counts["charts"], counts["journals"])}


def _chart(shelf: Shelf, chart_id: str, troubles: list[str]) -> set[Item]:
    chart = shelf.load(chart_id)
    code = chart.patient.code
    troubles += [str(problem) for problem in chart.problems]
    found = {item("chart", code)}
    came = chart.received  # the id of a copy is made of the charts' ids, which are random
    found |= {
        session_item(code, replace(s, id=COPY) if s.id in came else s) for s in chart.sessions
    }
    found |= {item("transfer", code, each.kind, each.reason) for each in chart.transfers}
    found |= {item("amendment", code, a.reason) for a in chart.amendments}
    found |= {item("details", code, change.id) for change in chart.details}
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


def _aside(folder: Path, key: ShelfKey | None) -> Items:
    found: set[Item] = set()
    root = Folder(folder, codec=codec_of(folder, key))
    discarded = root.sub("journals").sub(DISCARDED)
    for name in [each.name for each in files.listing(discarded)]:
        lines = decode_lines(files.read(discarded, name), name[:32])
        if lines.entries:
            told = str(lines.entries[0].get("id"))
            found |= {aside_item(told, n, doc) for n, doc in enumerate(lines.entries[1:])}
    if has_folder(root, ("charts", DAMAGED)):
        damaged = root.sub("charts").sub(DAMAGED)
        for name in [each.name for each in files.listing(damaged)]:
            found.add(chart_aside_item(code_in(files.read(damaged, name))))
    return frozenset(found)
