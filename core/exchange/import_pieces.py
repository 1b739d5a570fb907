"""Rows read piece by piece: what was read once of some cells is not read again.

parse_row() judges a row by pieces that have nothing to do with one another: whose it is, the
station, each number. A file holds the same few of them in many rows. So a row all of whose
pieces were in sound rows is sound, and means what they mean together; any other one goes
through parse_row(), which alone knows what is wrong and says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from operator import itemgetter
from typing import Any

from ..chart.patient import DETAILS
from ..tardieu.muscles import Muscle
from ..tardieu.reading import MAX_TEXT, Reading
from ..text import hidden_character
from .csv_rows import OVERRIDE, CsvRow
from .import_row import ParsedRow, Refused, Whose, parse_row, parse_whose

_MOST = 2000
"""Pieces of one kind that are remembered: memory is not to follow the length of the file."""

_WHOSE = ("patient", "date", "time", "utc_offset", "examiner", "recorder")
"""The patient, and behind it the visit."""
_STATION = ("muscle", "side", "posture", "scale", "fast_velocity")
_NUMBERS = ("r1", "r2", "quality", "clonus_s", "pain")
_KINDS = ("whose", "visit", "station", *_NUMBERS, "not_tested")

_Cells = tuple[str, ...]


class RowReader:
    """Reads rows one after the other.

    Args:
        muscles: all muscle groups by id.
        now: the present, see parse_row().
    """

    def __init__(self, muscles: Mapping[str, Muscle], now: datetime) -> None:
        self._muscles, self._now = muscles, now
        self._columns: _Cells = ()
        self._known: dict[str, dict[Any, Any]] = {}

    def whose(self, row: CsvRow) -> Whose | Refused:
        """Read whose row it is, or say everything that is wrong with it.

        What is wrong with its station may stay unsaid. Details that it states are such as a row
        states that is sound altogether.
        """
        if row.columns is not self._columns:
            self._look_at(row.columns)
        right = len(row.cells) == len(row.columns)
        text = self._whose_of(row.cells) if right else ()
        whose = self._known["whose"].get(text)
        if whose is None:
            visit = self._known["visit"].get(text[1 : len(_WHOSE)])
            whose = parse_whose(row, self._now, visit) if right else None
            if whose is None or whose.details:
                parsed = parse_row(row, self._muscles, self._now)
                if isinstance(parsed, Refused):
                    return parsed
                whose = parsed.whose
            self._remember("whose", text, whose)
            self._remember("visit", text[1 : len(_WHOSE)], whose.visit)
        return whose

    def read(self, row: CsvRow, whose: Whose) -> ParsedRow | Refused:
        """Read a row, or say everything that is wrong with its cells; as parse_row().

        Args:
            row: the row.
            whose: what whose() said of it.
        """
        if row.columns is not self._columns:
            self._look_at(row.columns)
        if reading := self._reading(row.cells):
            return ParsedRow(row, whose, reading)
        parsed = parse_row(row, self._muscles, self._now)
        if isinstance(parsed, ParsedRow):
            self._learn(row.cells, parsed.reading)
        return parsed

    def _look_at(self, columns: _Cells) -> None:
        """Prepare for rows of these columns."""
        place = columns.index
        details = [name for name in DETAILS if name in columns]
        self._whose_of = itemgetter(*map(place, (*_WHOSE, *details)))
        self._station_of = itemgetter(*map(place, _STATION))
        self._values_of = itemgetter(*map(place, (*_NUMBERS, "not_tested", "comment")))
        self._override = place(OVERRIDE) if OVERRIDE in columns else None
        self._columns = columns
        self._known = {name: {} for name in _KINDS}

    def _reading(self, cells: _Cells) -> Reading | None:
        """What a row has of its station, None when a piece is new, or all it has is a comment."""
        r1, r2, quality, clonus, pain, not_tested, comment = self._values_of(cells)
        if hidden_character(comment) or len(comment) > MAX_TEXT:
            return None
        if self._override is not None and cells[self._override]:
            return None
        # Whether scale and velocity may be left out depends on what was measured.
        station = (*self._station_of(cells), not r1, not r2, not quality)
        known = self._known
        try:
            where = known["station"][station]
            values = (
                known["r1"][r1],
                known["r2"][r2],
                known["quality"][quality],
                known["clonus_s"][clonus],
                known["pain"][pain],
            )
            why, note = known["not_tested"][not_tested]
        except KeyError:
            return None
        if values == _NO_VALUES and not not_tested and not comment:
            return None
        r1, r2, quality, clonus, pain = values
        muscle, side, posture, scale, velocity = where
        return Reading(
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
            why,
            note,
            comment.strip(),
        )

    def _learn(self, cells: _Cells, reading: Reading) -> None:
        r1, r2, quality, clonus, pain, not_tested, _ = self._values_of(cells)
        where = (reading.muscle, reading.side, reading.posture, reading.scale)
        station = (*self._station_of(cells), not r1, not r2, not quality)
        for name, text, meaning in (
            ("station", station, (*where, reading.fast_velocity)),
            ("r1", r1, reading.r1),
            ("r2", r2, reading.r2),
            ("quality", quality, reading.quality),
            ("clonus_s", clonus, reading.clonus_s),
            ("pain", pain, reading.pain),
            ("not_tested", not_tested, (reading.not_tested, reading.not_tested_note)),
        ):
            self._remember(name, text, meaning)

    def _remember(self, name: str, text: Any, meaning: Any) -> None:
        known = self._known[name]
        if len(known) >= _MOST:
            known.clear()
        known[text] = meaning


_NO_VALUES = (None,) * 5
