"""A table as an xlsx workbook: typed columns, and a sheet that says what each of them holds.

Dates, times and whole numbers are cells of those types. Text is a text cell and never a formula;
what would be taken for one where a sheet is saved as CSV has the apostrophe of the readings CSV.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, time
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._writer import WorksheetWriter
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter

from ..text import visible
from .csv_rows import guard

MOST_ROWS = 50_000
"""Rows of a sheet, below its header; what is larger takes more memory than a table should."""

EXPLAINED = "columns"
"""Name of the sheet that explains the other one."""

_ABOUT = ("column", "title", "what it holds", "type", "unit", "may be")
_WIDEST = 60
"""Characters of a column."""

_TEXT = "@"
_TYPES: dict[str, tuple[Callable[[str], float | date | time], str]] = {
    "integer": (int, "0"),
    "number": (float, "General"),
    "date": (date.fromisoformat, "yyyy-mm-dd"),
    "time": (time.fromisoformat, "hh:mm:ss"),
}
"""Type of a column -> what makes the value of a cell, and its number format."""

_NOT_XML = re.compile(r"[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
"""What spreadsheets read as an escape of their own (ISO/IEC 29500-1, ST_Xstring)."""


def workbook(
    name: str, rows: Iterable[Sequence[str]], fields: Sequence[dict[str, Any]]
) -> bytes | None:
    """Write a workbook of two sheets, the table first; None when there are too many rows.

    Args:
        name: of the sheet with the table.
        rows: the table's rows, cells as a CSV has them without guard().
        fields: its columns, as a data package describes them.
    """
    book = Workbook()
    book.properties.creator = "limbscribe"
    sheet = book.worksheets[0]
    sheet.title = name
    _head(sheet, [field["name"] for field in fields])
    for number, row in enumerate(rows, 2):
        if number > MOST_ROWS + 1:
            return None
        for place, (text, field) in enumerate(zip(row, fields, strict=True), 1):
            if text:
                _put(sheet, number, place, text, field["type"])
    about = book.create_sheet(EXPLAINED)
    _head(about, _ABOUT)
    for number, field in enumerate(fields, 2):
        for place, text in enumerate(_explained(field), 1):
            _put(about, number, place, text, "string")
            about.cell(number, place).alignment = Alignment(wrap_text=True, vertical="top")
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        _InMemory(book, archive).save()
    return out.getvalue()


def _head(sheet: Worksheet, names: Sequence[str]) -> None:
    sheet.freeze_panes = "A2"
    for place, name in enumerate(names, 1):
        _put(sheet, 1, place, name, "string")
        sheet.cell(1, place).font = Font(bold=True)


def _put(sheet: Worksheet, row: int, column: int, text: str, kind: str) -> None:
    """Write a cell; what is not of the column's type is text."""
    width = sheet.column_dimensions[get_column_letter(column)]
    width.width = min(_WIDEST, max(width.width, len(text) + 2))
    make, form = _TYPES.get(kind, (str, _TEXT))
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell), "no cells are merged"
    try:
        cell.value = make(text) if form != _TEXT else _text(text)
    except ValueError:
        cell.value, form = _text(text), _TEXT
    if form == _TEXT:
        cell.data_type = "s"  # also where it begins with "="
    cell.number_format = form


def _text(text: str) -> str:
    """Write text as a workbook can hold it."""
    return _ESCAPE.sub("_x005F_", _NOT_XML.sub(lambda found: visible(found[0]), guard(text)))


def _explained(field: dict[str, Any]) -> tuple[str, ...]:
    """Write the row of one column in the sheet that explains them."""
    limits: dict[str, Any] = field.get("constraints", {})
    words: dict[Any, str] = field.get("words", {})
    may = "\n".join(f"{key}: {meaning}" for key, meaning in words.items())
    if "minimum" in limits:
        may = "\n".join(filter(None, (f"{limits['minimum']} to {limits['maximum']}", may)))
    if "maxLength" in limits:
        may = f"at most {limits['maxLength']} characters"
    head = (field["name"], field["title"], field["description"], field["type"])
    return (*head, field.get("unit", ""), may)


class _InMemory(ExcelWriter):
    """Writes sheets in memory, where openpyxl would put them into temporary files on the disk."""

    def __init__(self, book: Workbook, archive: ZipFile) -> None:
        super().__init__(book, archive)
        self._into = archive

    def write_worksheet(self, ws: Worksheet) -> None:
        """Write one sheet."""
        out = BytesIO()
        WorksheetWriter(ws, out).write()
        self._into.writestr(ws.path[1:], out.getvalue())
        self.manifest.append(ws)  # pyright: ignore[reportUnknownMemberType]
