"""Files that come to the shelf together: all of them, or after a crash before the plan none.

::

    restoring/0  restoring/1 ...   the files
    restoring/plan.json            where each goes; once this is there, it will happen
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass

from ...chart.document import NotWhole, digest, is_object, parse_json
from ...chart.ids import AMENDING_SUFFIX, CHART_SUFFIX, JOURNAL_SUFFIX
from ...chart.session import canonical
from ...errors import ChartLocked, ShelfError
from .. import files
from ..codec import Place
from ..files import Folder
from ..lock import held
from ..places import (
    DAMAGED,
    DISCARDED,
    RESTORED,
    RESTORING,
    aside_name,
    has_folder,
    maintaining,
    set_chart_aside,
)
from ..tombstones import ERASED

PLAN = "plan.json"


@dataclass(frozen=True, slots=True)
class Move:
    """One file of a plan.

    Attributes:
        name: its name in the backup.
        place: folder parts and name where it goes.
        sum: the sum of its content by the codec of the shelf, hexadecimal.
        old: name under which the chart file that is in its place is kept; "" when the place
            is free, or may be written over (the record of erased charts).
        instead: sum of the chart file that may be written over, as all of it is in this one;
            "" for none.
    """

    name: str
    place: tuple[str, ...]
    sum: str
    old: str = ""
    instead: str = ""


def prepare(shelf: Folder) -> Folder:
    """An empty folder for the files. The caller holds the lock of maintenance."""
    _clear(shelf)
    return files.ensure_folder(shelf, RESTORING)


def commit(shelf: Folder, moves: Sequence[Move]) -> None:
    """Write the plan: from now on the moves will happen."""
    doc = {"moves": [asdict(move) for move in moves]}
    data = canonical({**doc, "sum": digest(doc)})
    files.replace(shelf.sub(RESTORING), PLAN, data)


def finish(shelf: Folder) -> list[str]:
    """Make the moves that are not yet made. The caller holds the lock of maintenance.

    Returns:
        What went another way than planned, because somebody was quicker.
    """
    notes: list[str] = []
    for number, move in enumerate(_planned(shelf)):
        if files.exists(shelf.sub(RESTORING), f"{number}"):
            notes += _make(shelf, f"{number}", move)
    _clear(shelf)
    return notes


def finish_quietly(shelf: Folder) -> None:
    """Finish an interrupted restore, unless one is under way; the next one tries again."""
    with suppress(ShelfError, OSError), maintaining(shelf, "restoring"):
        if files.exists(shelf, RESTORING):
            finish(shelf)


def _planned(shelf: Folder) -> list[Move]:
    """The moves of the plan, none when the restore never came so far."""
    staged = shelf.sub(RESTORING)
    if not files.exists(staged, PLAN):
        return []
    try:
        doc = parse_json(files.read(staged, PLAN))
    except NotWhole as error:
        raise ShelfError(_NO_PLAN) from error
    if not is_object(doc) or doc.pop("sum", None) != digest(doc):
        raise ShelfError(_NO_PLAN)
    return [
        Move(m["name"], tuple(m["place"]), m["sum"], m["old"], m.get("instead", ""))
        for m in doc["moves"]  # an earlier version has no "instead"
    ]


_NO_PLAN = (
    f"{RESTORING}/{PLAN} is damaged, so the interrupted restore cannot be finished: nothing of "
    f"the shelf was changed, move the folder {RESTORING} elsewhere and restore again"
)


def _make(shelf: Folder, number: str, move: Move) -> list[str]:
    """Make one move, under the lock of its chart where there is one."""
    folder, name = shelf.at(move.place[:-1]), move.place[-1]
    if not has_folder(shelf, folder.parts):
        files.ensure_folder(shelf.at(folder.parts[:-1]), folder.parts[-1])
    if move.place == (ERASED,):
        files.move(shelf.sub(RESTORING), number, folder, name)
        return []
    try:
        with held(shelf.sub("locks"), name[:32]):
            there = files.read_if_there(folder, name)
            total = "" if there is None else shelf.codec.sum(there)
            if there is not None and move.old == _kept_as(folder, name, there):
                kept = files.read_kept(folder, name)
                set_chart_aside(shelf, DAMAGED, move.old, kept)
                there = None
            if there is None or total == move.instead:
                files.move(shelf.sub(RESTORING), number, folder, name)
                return []
            if total == move.sum:
                files.remove(shelf.sub(RESTORING), number)
                return []
    except ChartLocked:
        pass
    return [_put_beside(shelf, number, move.place)]


def _kept_as(folder: Folder, name: str, data: bytes) -> str:
    return aside_name(name[:32], CHART_SUFFIX, data, folder.codec)


def _put_beside(shelf: Folder, number: str, place: Place) -> str:
    """Keep a file whose place was taken, or is in use, since the plan was made."""
    name = place[-1]
    data = shelf.codec.decode(place, files.read_kept(shelf.sub(RESTORING), number))
    if name.endswith((JOURNAL_SUFFIX, AMENDING_SUFFIX)):
        parts, suffix = ("journals", DISCARDED), JOURNAL_SUFFIX
    else:
        parts, suffix = ("charts", RESTORED), CHART_SUFFIX
    new = aside_name(name[:32], suffix, data, shelf.codec)
    folder = files.ensure_folder(shelf.at(parts[:-1]), parts[-1])
    files.move(shelf.sub(RESTORING), number, folder, new)
    return f"{name} is in use, so the copy of the backup is {'/'.join((*parts, new))}"


def _clear(shelf: Folder) -> None:
    """Remove the folder; the plan goes last, so that what is left of it still says all."""
    if not files.exists(shelf, RESTORING):
        return
    staged = shelf.sub(RESTORING)
    names = sorted((found.name for found in files.listing(staged)), key=lambda n: n == PLAN)
    for name in names:
        files.remove(staged, name)
    files.remove_folder(shelf, RESTORING)
