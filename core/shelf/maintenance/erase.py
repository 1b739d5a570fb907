"""Erasing a patient: everything of one chart is removed, a tombstone without content stays.

The tombstone is written first and names every file that is to go, so an erasing that a
crash interrupts is finished by whoever opens the shelf next.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, replace

from ...chart.chart import readable
from ...chart.ids import CHART_SUFFIX
from ...chart.patient import patient_from_doc
from ...errors import ShelfError
from .. import files
from ..codec import FACTS, INDEX
from ..files import Folder
from ..index import known_contents
from ..lock import held
from ..places import ASIDE, DISCARDED, found_in, has_folder, maintaining
from ..tombstones import (
    COST,
    Graveyard,
    Tombstone,
    hash_code,
    read_tombstones,
    salt_of,
    write_tombstones,
)

Place = tuple[str, ...]
"""Folder parts and name of a file, below the shelf."""

_PLACES = (*ASIDE, ("journals",), ("journals", DISCARDED), ("locks",), ("charts",))


@dataclass(frozen=True, slots=True)
class Erased:
    """What an erasing removed.

    Attributes:
        charts: ids of the charts.
        removed: the files, relative to the shelf.
        had_open: whether a session that nobody had open for entry went too.
    """

    charts: tuple[str, ...]
    removed: tuple[str, ...]
    had_open: bool


def erase_patient(shelf: Folder, chart_id: str | None, code: str, who: str, at: str) -> Erased:
    """Erase everything of one patient. The caller holds the locks of maintenance and of codes.

    Args:
        shelf: the shelf's folder.
        chart_id: the chart of the code, None when the list has none.
        code: the patient code.
        who: who erases.
        at: ISO 8601 local time with its UTC offset.

    Raises:
        ChartLocked: when somebody has the chart open for entry.
        ShelfError: when there is nothing of this patient.
        OSError: when a file could not be removed; erasing again goes on.
    """
    tombstones = read_tombstones(shelf)
    unfinished = Graveyard(t for t in tombstones if t.files).of_code(code)
    charts = _charts_aside(shelf, code) | {t.chart for t in unfinished}
    if chart_id:
        charts.add(chart_id)
    if not charts:
        raise ShelfError(f"{code} has no chart on this shelf: nothing was changed")
    with ExitStack() as locks:
        for chart in sorted(charts):
            locks.enter_context(held(shelf.sub("locks"), chart))
        found = {chart: tuple(_files_of(shelf, chart)) for chart in sorted(charts)}
        marks = [t for t in tombstones if not (t.holds and t.chart in charts)]
        salt = salt_of(tombstones)
        marks += [
            Tombstone(chart, salt, COST, hash_code(code, salt, COST), at, who, "", places)
            for chart, places in found.items()
        ]
        write_tombstones(shelf, marks)
        _remove_named(shelf, marks)
    removed = [place for places in found.values() for place in places]
    had_open = any(place[:-1] == ("journals",) for place in removed)
    return Erased(tuple(found), tuple("/".join(place) for place in removed), had_open)


def finish_erasing(shelf: Folder) -> None:
    """Remove what an interrupted erasing left. The caller holds the lock of maintenance.

    Raises:
        ChartLocked: when somebody has such a chart open for entry.
        ShelfError, OSError: as read_tombstones().
    """
    tombstones = read_tombstones(shelf)
    with ExitStack() as locks:
        for tombstone in tombstones:
            if tombstone.files:
                locks.enter_context(held(shelf.sub("locks"), tombstone.chart))
        _remove_named(shelf, tombstones)


def _remove_named(shelf: Folder, tombstones: Iterable[Tombstone]) -> None:
    """Remove the files that tombstones name, and what tells of them: index and kept facts."""
    marks = list(tombstones)
    for tombstone in marks:
        for place in tombstone.files:
            _remove(shelf, place)
        if tombstone.files:
            for place in _files_of(shelf, tombstone.chart):  # come since it was written
                _remove(shelf, place)
    for name in (INDEX, FACTS):
        _remove(shelf, (name,))
    write_tombstones(shelf, [replace(t, files=()) for t in marks])


def _remove(shelf: Folder, place: Place) -> None:
    folder = shelf.at(place[:-1])
    if not has_folder(shelf, place[:-1]):
        return
    if files.exists(folder, place[-1]):
        files.remove(folder, place[-1])
    else:  # a process may have died between removing and flushing it: it would come back
        files.flush(folder)


def _files_of(shelf: Folder, chart_id: str) -> list[Place]:
    """Every file with the chart's id in its name, the chart file itself last.

    Temporary files count: the chart's lock is held, so nobody is writing them.
    """
    found: list[Place] = []
    for parts in _PLACES:
        names = (each.name for each in found_in(shelf, parts))
        found += [(*parts, name) for name in names if chart_id in name]
    chart, lock = ("charts", chart_id + CHART_SUFFIX), ("locks", f"{chart_id}.lock")
    found = [place for place in found if place not in (chart, lock)]
    return [*found, *([chart] if files.exists(shelf.sub("charts"), chart[1]) else [])]


def _charts_aside(shelf: Folder, code: str) -> set[str]:
    """Ids of the charts of a patient code among the copies set aside.

    Not of one that is here and has another code: that is another patient's by now.
    """
    charts: set[str] = set()
    for parts in ASIDE:
        for found in found_in(shelf, parts):
            if code_in(files.read(shelf.at(parts), found.name)) == code:
                charts.add(found.name[:32])
    return {chart for chart in charts if _code_of(shelf, chart) in ("", code)}


def _code_of(shelf: Folder, chart: str) -> str:
    return code_in(files.read_if_there(shelf.sub("charts"), chart + CHART_SUFFIX) or b"")


def code_in(data: bytes) -> str:
    """The patient code in the bytes of a chart file, "" when it cannot be read."""
    patients, _ = readable(known_contents(data, ""), "patient", patient_from_doc)
    return patients[0].code if patients else ""


def lift(shelf: Folder, code: str, who: str, at: str) -> bool:
    """Let an erased patient code be used again; whether it had been erased."""
    before = Graveyard(read_tombstones(shelf))
    if not before.of_code(code):
        return False
    write_tombstones(shelf, before.lift(code, f"{at} {who}").tombstones)
    return True


def refuse_erased(shelf: Folder, code: str) -> None:
    """Refuse a patient code that was erased.

    Raises:
        ShelfError: when it was.
    """
    for tombstone in Graveyard(read_tombstones(shelf)).of_code(code):
        raise ShelfError(
            f"{code} was erased on {tombstone.at[:10]} by {tombstone.who}: nothing was changed; "
            f"if this patient is to come back, say so with --bring-back {code} when importing or "
            f"restoring, or with limbscribe erase {code} --allow-again"
        )


def finish_quietly(shelf: Folder) -> None:
    """Finish an erasing if the charts are free; the next one who opens the shelf tries again."""
    with suppress(ShelfError, OSError):
        if any(tombstone.files for tombstone in read_tombstones(shelf)):
            with maintaining(shelf, "erasing"):
                finish_erasing(shelf)
