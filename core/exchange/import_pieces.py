"""Rows read piece by piece: what was read once of some cells is not read again.

parse_row() judges a row by pieces that have nothing to do with one another: the patient, the
visit, the station, each number. A file holds the same few of them in many rows. So a row all of
whose pieces were in sound rows is sound, and means what they mean together; any other one goes
through parse_row(), which alone knows what is wrong and says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from operator import itemgetter
from typing import Any

from ..chart.patient import DETAILS
from ..tardieu.muscles import Muscle
from ..tardieu.reading import MAX_TEXT, Reading
from ..text import hidden_character
from .csv_rows import OVERRIDE, CsvRow
from .import_row import ParsedRow, Refused, parse_row

_MOST = 2000
"""Pieces of one kind that are remembered: memory is not to follow the length of the file."""

_VISIT = ("date", "time", "utc_offset", "examiner", "recorder")
_STATION = ("muscle", "side", "posture", "scale", "fast_velocity")
_NUMBERS = ("r1", "r2", "quality", "clonus_s", "pain")
_MEANS: dict[str, Callable[[ParsedRow], Any]] = {
    "patient": lambda row: row.code,
    "visit": lambda row: row.visit,
    "station": lambda row: _station_of(row.reading),
    "not_tested": lambda row: (row.reading.not_tested, row.reading.not_tested_note),
    "details": lambda row: row.details,
}


def _station_of(reading: Reading) -> tuple[Any, ...]:
    return (*(reading.muscle, reading.side, reading.posture, reading.scale, reading.fast_velocity),)


class RowReader:
    """Reads rows one after the other.

    Args:
        muscles: all muscle groups by id.
        now: the present, see parse_row().
    """

    def __init__(self, muscles: Mapping[str, Muscle], now: datetime) -> None:
        self._muscles, self._now = muscles, now
        self._cells: dict[Sequence[str], dict[str, Callable[[Sequence[str]], Any]]] = {}
        self._known: dict[str, dict[Any, Any]] = {name: {} for name in (*_MEANS, *_NUMBERS)}

    def read(self, row: CsvRow) -> ParsedRow | Refused:
        """Read a row, or say everything that is wrong with its cells; as parse_row()."""
        pieces = self._pieces(row) if len(row.cells) == len(row.columns) else None
        if pieces is not None and (known := self._meaning(row, pieces)):
            return known
        parsed = parse_row(row, self._muscles, self._now)
        if pieces is not None and isinstance(parsed, ParsedRow):
            self._learn(pieces, parsed)
        return parsed

    def _pieces(self, row: CsvRow) -> dict[str, Any]:
        """The cells of a row, by what they say together."""
        own = self._cells.get(row.columns)
        if own is None:
            own = self._cells[row.columns] = _getters(row.columns)
        cells = row.cells
        pieces = {name: cells_of(cells) for name, cells_of in own.items()}
        # Whether scale and velocity may be left out depends on what was measured.
        measured = (not pieces["r1"], not pieces["r2"], not pieces["quality"])
        pieces["station"] = (*pieces["station"], *measured)
        return pieces

    def _meaning(self, row: CsvRow, pieces: dict[str, Any]) -> ParsedRow | None:
        """What a row means, None when a piece of it is new, or all that it has is a comment."""
        comment: str = pieces.pop("comment")
        if pieces.pop("override") or hidden_character(comment) or len(comment) > MAX_TEXT:
            return None
        try:
            found = {name: self._known[name][piece] for name, piece in pieces.items()}
        except KeyError:
            return None
        r1, r2, quality, clonus, pain = (found[name] for name in _NUMBERS)
        not_tested, note = found["not_tested"]
        if (r1, r2, quality, clonus, pain, not_tested, comment) == _NOTHING:
            return None
        muscle, side, posture, scale, velocity = found["station"]
        reading = Reading(
            muscle,
            side,
            posture,
            scale,
            velocity,
            r1,
            r2,
            quality,
            () if r1 is None and quality is None else (r1,),
            () if r2 is None else (r2,),
            clonus,
            pain,
            not_tested,
            note,
            comment.strip(),
        )
        return ParsedRow(row, found["patient"], found["visit"], reading, found["details"])

    def _learn(self, pieces: dict[str, Any], parsed: ParsedRow) -> None:
        for name, known in self._known.items():
            if len(known) >= _MOST:
                known.clear()
            of = _MEANS.get(name)
            known[pieces[name]] = of(parsed) if of else getattr(parsed.reading, name)


_NOTHING = (None, None, None, None, None, "", "")


def _getters(columns: tuple[str, ...]) -> dict[str, Callable[[Sequence[str]], Any]]:
    """What takes each piece out of the cells of a row with these columns."""
    place = columns.index
    getters: dict[str, Callable[[Sequence[str]], Any]] = {
        name: itemgetter(place(name)) for name in ("patient", *_NUMBERS, "not_tested", "comment")
    }
    getters["visit"] = itemgetter(*map(place, _VISIT))
    getters["station"] = itemgetter(*map(place, _STATION))
    details = [place(name) for name in DETAILS if name in columns]
    getters["details"] = itemgetter(*details) if details else lambda cells: ()
    getters["override"] = itemgetter(place(OVERRIDE)) if OVERRIDE in columns else lambda cells: ""
    return getters
