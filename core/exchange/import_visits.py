"""The rows of one patient, visit by visit: only those of one visit are in memory at a time."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..tardieu.muscles import Muscle
from .csv_rows import CsvRow
from .import_row import ParsedRow, Visit
from .import_spill import PutAside, Spill


class Visits:
    """The visits of one patient from the earliest on; equal starts in the order of the file.

    Args:
        spill: where the rows were put.
        places: the patient's rows in the order of the file; all were found sound.
        muscles: all muscle groups by id.
    """

    def __init__(self, spill: Spill, places: array[int], muscles: Mapping[str, Muscle]) -> None:
        self._spill, self._places, self._muscles = spill, places, muscles
        self._here: dict[CsvRow, int] = {}

    @property
    def rows(self) -> Sequence[CsvRow]:
        """Every row in the order of the file."""
        return PutAside(self._places, self._row)

    def _row(self, place: int) -> CsvRow:
        return self._spill.get(place)[0]

    def __iter__(self) -> Iterator[tuple[Visit, list[ParsedRow]]]:
        found: dict[Visit, array[int]] = {}
        for place in self._places:
            found.setdefault(self._spill.visit(place), array("Q")).append(place)
        for visit in sorted(found, key=lambda visit: visit.when):
            yield visit, list(self._read(visit, found.pop(visit)))

    def kept(self, rows: Iterable[CsvRow]) -> Sequence[CsvRow]:
        """Return rows of the visit that was read last, without holding them."""
        return PutAside(array("Q", (self._here[row] for row in rows)), self._row)

    def _read(self, visit: Visit, places: array[int]) -> Iterator[ParsedRow]:
        self._here.clear()
        for place in places:
            parsed = self._spill.parsed(place, visit, self._muscles)
            self._here[parsed.row] = place  # a line of a wide table makes several rows
            yield parsed
