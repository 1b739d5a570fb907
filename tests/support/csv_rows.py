"""Invented rows of the readings CSV for the tests of import and export."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from io import BytesIO, StringIO

from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow, stream_rows
from limbscribe.core.exchange.derived import OF_READING
from limbscribe.core.exchange.import_plan import ImportRules
from limbscribe.core.exchange.importing import Outcome, import_csv
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles

RULES = ImportRules(shipped_muscles())
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)

_DEFAULTS = {
    "patient": "P-01",
    "date": "2026-03-02",
    "time": "09:30",
    "utc_offset": "+01:00",
    "examiner": "EX",
    "recorder": "RC",
    "muscle": "hamstrings",
    "side": "left",
    "scale": "neutral-zero",
    "fast_velocity": "V3",
    "r1": "-60",
    "r2": "-35",
    "quality": "2",
}


def cells(**changed: str) -> list[str]:
    """A sound row's cells, with some changed."""
    values = {**_DEFAULTS, **changed}
    return [values.get(name, "") for name in COLUMNS]


def line(**changed: str) -> str:
    """The same as a line of a file; cells must need no quotes."""
    return ",".join(cells(**changed))


def file_of(*lines: str, header: str = ",".join(COLUMNS)) -> bytes:
    """A file of these lines below a header."""
    return "\r\n".join([header, *lines, ""]).encode()


def read_rows(data: bytes, name: str = "x.csv") -> tuple[CsvRow, ...] | Problem:
    """The rows of a file, or the problem that ends it."""
    rows = list(stream_rows(BytesIO(data), name))
    whole = tuple(row for row in rows if isinstance(row, CsvRow))
    return whole if len(whole) == len(rows) else next(r for r in rows if isinstance(r, Problem))


def run_import(data: bytes, shelf: Shelf | None, dry_run: bool = False) -> Outcome:
    """Import a file of which every row is stored, there already, or refused."""
    outcome = import_csv(data, "x.csv", shelf, RULES, NOW, dry_run)
    assert isinstance(outcome, Outcome), outcome
    assert outcome.rows == outcome.stored + outcome.already + len(outcome.refused)
    return outcome


def as_typed(data: bytes) -> bytes:
    """An export without the columns that follow from the chart, which an import passes over."""
    rows = list(csv.reader(StringIO(data.decode(), newline=""), strict=True))
    kept = [place for place, name in enumerate(rows[0]) if name not in OF_READING]
    out = StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([[row[n] for n in kept] for row in rows])
    return out.getvalue().encode()
