"""The cells of an xlsx workbook as text, for own_table.py; formulas are never evaluated.

A workbook is a zip archive of XML, and either can be made to fill the memory. So its sizes are
looked at first, and every part is gone through by a parser that keeps nothing: no document type,
no entity, not too deep, not too many elements. Only then openpyxl reads it.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import IO, Any, BinaryIO
from xml.parsers import expat
from zipfile import BadZipFile, ZipFile, ZipInfo

from ..problem import Problem
from .csv_rows import CsvRow, unguard
from .xlsx_write import MOST_ROWS

MOST_COLUMNS = 100
MOST_BYTES = 16 << 20
"""Of the file."""
MOST_UNPACKED = 64 << 20
"""bytes of all parts together."""
MOST_PARTS = 200
MOST_ELEMENTS = 3_000_000
"""Of one part."""
MOST_OTHERS = 20_000
"""Elements of one part that are neither in rows of a sheet nor in the table of texts."""
MOST_IN_ROW = 2000
"""Elements in one row or text."""
DEEPEST = 40

_BOOK = "/xl/workbook.xml"
_ESCAPE = re.compile(r"_x005F_(?=x[0-9A-Fa-f]{4}_)")

_OTHER = "save the table as a new xlsx file, or as CSV"


def workbook_cells(
    file: BinaryIO, name: str, sheet: str, formulas: dict[int, int]
) -> Iterator[CsvRow | Problem]:
    """Read the rows of a sheet, lines being rows of the sheet; a Problem ends them.

    Args:
        file: the workbook.
        name: its name, for messages.
        sheet: the sheet's name; without one of that name it is the first.
        formulas: gets by row the place of a cell that holds a formula.
    """
    data = file.read(MOST_BYTES + 1)
    fault = _fault(data)
    if fault:
        yield Problem(name, fault, _OTHER)
        return
    try:
        yield from _rows(data, name, sheet, formulas)
    # A broken workbook makes openpyxl fail in any way it likes.
    except Exception as error:
        what = f"this is no workbook that can be read ({type(error).__name__})"
        yield Problem(name, what, _OTHER)


def _rows(
    data: bytes, name: str, sheet: str, formulas: dict[int, int]
) -> Iterator[CsvRow | Problem]:
    from openpyxl import load_workbook

    warnings.filterwarnings("ignore", module="openpyxl")
    book = load_workbook(BytesIO(data), read_only=True, keep_links=False)
    chosen = book[sheet] if sheet in book.sheetnames else book.worksheets[0]
    chosen.reset_dimensions()  # what the file says of its size may be anything
    rows = chosen.iter_rows(max_row=MOST_ROWS + 2)
    for number, row in enumerate(rows, 1):
        if number > MOST_ROWS + 1:
            yield Problem(name, f"the sheet has more than {MOST_ROWS:,} rows", "save it as CSV")
            return
        if any(cell.value is not None for cell in row[MOST_COLUMNS:]):
            what = f"the sheet has more than {MOST_COLUMNS} columns"
            yield Problem(f"{name} row {number}", what, _OTHER)
            return
        cells = tuple(_text(cell.value) for cell in row)
        if any(cells):
            place = next((n for n, cell in enumerate(row) if cell.data_type == "f"), -1)
            if place >= 0:
                formulas[number] = place
            yield CsvRow(number, cells)


def _text(value: Any) -> str:
    """Write the value of a cell as our CSV has it."""
    if value is None:
        return ""
    if isinstance(value, str):
        return unguard(_ESCAPE.sub("_", value))
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, datetime):
        whole = value.time() == time()
        return (value.date() if whole else value).isoformat()
    if isinstance(value, time):
        return _clock(datetime.combine(date.min, value) - datetime.combine(date.min, time()))
    if isinstance(value, timedelta):
        return _clock(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def _clock(length: timedelta) -> str:
    minutes, seconds = divmod(abs(round(length.total_seconds())), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{'-' if length < timedelta() else ''}{hours:02}:{minutes:02}:{seconds:02}"


def _fault(data: bytes) -> str:
    """Say why a workbook is not read, "" when its sizes and its XML are harmless."""
    if len(data) > MOST_BYTES:
        return f"the workbook is larger than {MOST_BYTES >> 20} MB"
    try:
        with ZipFile(BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                return f"unpacked the workbook is larger than {MOST_UNPACKED >> 20} MB"
            if _BOOK[1:] not in archive.namelist():
                return "this is no xlsx workbook"
            for part in parts:
                _look_at(archive, part)
    except _TooMuch as error:
        return str(error)
    except (BadZipFile, expat.ExpatError, ValueError, OSError, RuntimeError, EOFError):
        return "this is no workbook that can be read, or it is encrypted or damaged"
    return ""


def _look_at(archive: ZipFile, part: ZipInfo) -> None:
    """Go through one part; what is not XML, such as a picture, openpyxl cannot read either."""
    try:
        with archive.open(part) as file:
            _Look(part.filename).through(file)
    except expat.ExpatError:
        if part.filename.lower().endswith((".xml", ".rels")):
            raise


class _TooMuch(Exception):  # noqa: N818 - says what there is too much of
    """A part of a workbook that is not read; says why."""


class _Look:
    """Goes through one part and keeps nothing but counts.

    Of rows of a sheet and texts of the table of texts there may be many; each is small. Every
    other element becomes an object that stays.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._path: list[str] = []
        self._count = self._others = self._here = 0

    def through(self, file: IO[bytes]) -> None:
        """Read the part.

        Raises:
            _TooMuch: when there is too much of something, or it is more than plain elements.
            ExpatError: when it is not XML.
        """
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.StartElementHandler, parser.EndElementHandler = self._start, self._end
        parser.StartDoctypeDeclHandler = self._doctype
        parser.ParseFile(file)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._path.append(name.rpartition(" ")[2])
        self._count += 1
        if self._path[:-1] in (["worksheet", "sheetData"], ["sst"]):
            self._here = 0
        if self._path[:2] in (["worksheet", "sheetData"], ["sst", "si"]):
            self._here += 1
            self._others += self._path[-1] == "f"
        else:
            self._others += 1
        if self._count > MOST_ELEMENTS or self._others > MOST_OTHERS or self._here > MOST_IN_ROW:
            raise _TooMuch(f"{self._name} in the workbook has too many elements")
        if len(self._path) > DEEPEST:
            raise _TooMuch(f"{self._name} in the workbook has elements too deep in each other")
        # A sheet in the place of another part would be kept whole.
        moved = attributes.get("PartName", _BOOK) != _BOOK and "main+xml" in attributes.get(
            "ContentType", ""
        )
        if moved or "chartsheet" in attributes.get("Type", ""):
            raise _TooMuch("the workbook has parts that are not read, such as a sheet of a chart")

    def _end(self, _name: str) -> None:
        self._path.pop()

    def _doctype(self, *_: object) -> None:
        raise _TooMuch(f"{self._name} in the workbook declares a document type")
