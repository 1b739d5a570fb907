"""Invented rows of the readings CSV for the tests of import and export."""

from __future__ import annotations

import io

from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow, stream_rows
from limbscribe.core.problem import Problem

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


def read_rows(data: bytes) -> tuple[CsvRow, ...] | Problem:
    """The rows of a file x.csv, or why it cannot be read on."""
    rows: list[CsvRow] = []
    for row in stream_rows(io.BytesIO(data), "x.csv"):
        if isinstance(row, Problem):
            return row
        rows.append(row)
    return tuple(rows)
