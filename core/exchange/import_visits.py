"""The rows of a file by patient and visit: only those of one visit are in memory at a time."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence

from ..chart.details import filled
from ..chart.patient import Patient
from .csv_rows import CsvRow
from .import_pieces import RowReader
from .import_row import ParsedRow, Refused, Visit, Whose
from .import_spill import LONGEST_RUN, PutAside, Spill, numbers_of


class ByPatient:
    """Puts rows aside by patient; those of one visit that stand together as one run.

    Args:
        spill: where to.
        reader: reads them when they are taken up again.
    """

    def __init__(self, spill: Spill, reader: RowReader) -> None:
        self._spill, self._reader = spill, reader
        self._runs: dict[str, array[int]] = {}
        self._stated: dict[str, Patient] = {}
        self._whose: Whose | None = None
        self._rows: list[CsvRow] = []

    def add(self, row: CsvRow) -> Refused | None:
        """Put a row aside, or say why it cannot be; it is read whole when it is taken up."""
        whose, rows = self._reader.whose(row), self._rows
        if isinstance(whose, Refused):
            return whose
        goes_on = whose is self._whose and row.columns is rows[0].columns
        if not goes_on or len(rows) == LONGEST_RUN:
            self._end_run()
            self._whose, self._rows = whose, []
            if whose.details:  # as a sound row states them, though this one may not be sound
                so_far = self._stated.get(whose.code, Patient(whose.code))
                self._stated[whose.code] = filled(so_far, whose.details)
        self._rows.append(row)
        return None

    def _end_run(self) -> None:
        if self._whose:
            code, visit, details = self._whose
            run = self._spill.put(self._rows, (*visit, details))
            self._runs.setdefault(code, array("Q")).append(run)

    def __iter__(self) -> Iterator[tuple[Patient, Visits]]:
        """Take up the rows of each patient, with what they state of the patient."""
        self._end_run()
        for code, runs in self._runs.items():
            patient = self._stated.get(code, Patient(code))
            yield patient, Visits(code, runs, self._spill, self._reader)


class Visits:
    """The visits of one patient from the earliest on; equal starts in the order of the file.

    Args:
        code: of the patient.
        runs: the patient's rows in the order of the file.
        spill: where they were put.
        reader: reads them.
    """

    def __init__(self, code: str, runs: Sequence[int], spill: Spill, reader: RowReader) -> None:
        self._code, self._runs = code, runs
        self._spill, self._reader = spill, reader
        self._here: dict[int, int] = {}

    def __len__(self) -> int:
        """How many rows there are."""
        return sum(len(numbers_of(run)) for run in self._runs)

    def __iter__(self) -> Iterator[tuple[Visit, list[ParsedRow | Refused]]]:
        found: dict[tuple[str, ...], array[int]] = {}
        for run in self._runs:
            found.setdefault(self._spill.said(run)[:3], array("Q")).append(run)
        visits = [(Visit(*visit), runs) for visit, runs in found.items()]
        for visit, runs in sorted(visits, key=lambda each: each[0].when):
            self._here.clear()
            yield visit, [row for run in runs for row in self._read(run, visit)]

    def _read(self, run: int, visit: Visit) -> Iterator[ParsedRow | Refused]:
        rows, said = self._spill.get(run)
        whose = Whose(self._code, visit, said[3])
        for number, row in zip(numbers_of(run), rows, strict=True):
            self._here[id(row)] = number
            yield self._reader.read(row, whose)

    def kept(self, rows: Sequence[CsvRow]) -> Sequence[CsvRow]:
        """Return rows of the visit that was read last, without holding them.

        They are known by identity: a line of a wide table makes several rows.
        """
        return PutAside(array("Q", (self._here[id(row)] for row in rows)), self._spill.row)
