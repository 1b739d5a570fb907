"""The rows of one patient, visit by visit: only those of one visit are in memory at a time."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import overload

from ..tardieu.muscles import Muscle
from .csv_rows import CsvRow
from .import_row import ParsedRow, Visit, parse_row, visit_of_row
from .import_spill import Spill


class KeptRows(Sequence[CsvRow]):
    """Rows that were put aside, read back one by one when somebody asks for them."""

    def __init__(self, spill: Spill, places: Iterable[int]) -> None:
        self._spill = spill
        self._places = array("Q", places)

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, index: int) -> CsvRow: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[CsvRow, ...]: ...
    def __getitem__(self, index: int | slice) -> CsvRow | tuple[CsvRow, ...]:
        if isinstance(index, slice):
            return tuple(self._spill.get(place)[0] for place in self._places[index])
        return self._spill.get(self._places[index])[0]


class Visits:
    """The visits of one patient from the earliest on; equal starts in the order of the file.

    Args:
        spill: where the rows were put.
        places: the patient's rows in the order of the file; all were found sound.
        muscles: all muscle groups by id.
        now: the present, as it was when the rows were found sound.
    """

    def __init__(
        self, spill: Spill, places: array[int], muscles: Mapping[str, Muscle], now: datetime
    ) -> None:
        self._spill, self._places, self._muscles, self._now = spill, places, muscles, now
        self._here: dict[CsvRow, int] = {}

    @property
    def rows(self) -> KeptRows:
        """Every row in the order of the file."""
        return KeptRows(self._spill, self._places)

    def __iter__(self) -> Iterator[tuple[Visit, list[ParsedRow]]]:
        found: dict[Visit, array[int]] = {}
        for place in self._places:
            visit = visit_of_row(self._spill.get(place)[0], self._now)
            found.setdefault(visit, array("Q")).append(place)
        for visit in sorted(found, key=lambda visit: visit.when):
            yield visit, list(self._read(found.pop(visit)))

    def kept(self, rows: Iterable[CsvRow]) -> KeptRows:
        """Rows of the visit that was read last, without holding them."""
        return KeptRows(self._spill, (self._here[row] for row in rows))

    def _read(self, places: array[int]) -> Iterator[ParsedRow]:
        self._here.clear()
        for place in places:
            parsed = parse_row(self._spill.get(place)[0], self._muscles, self._now)
            assert isinstance(parsed, ParsedRow), "only sound rows are among the places"
            self._here[parsed.row] = place  # a line of a wide table makes several rows
            yield parsed
