"""The readings CSV as other programs give it back: a spreadsheet rewrites dates, times, offsets.

Cells are brought back into the form of csv_rows.py, the same for every row; what was assumed in
doing so is counted and said once. What could be read in two ways is left as it is, and refused
by import_row.py. A workbook (xlsx_read.py) goes the same way once its cells are text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache
from operator import itemgetter
from typing import BinaryIO
from zoneinfo import ZoneInfo

from ..chart.patient import DETAILS
from ..problem import Problem
from ..text import counted, how_to_install, plain_dashes
from .csv_rows import CsvRow, rows_below, stream_cells
from .derived import OF_READING
from .file_form import FileForm, form_of
from .foreign.dates import DateForm, parse_form
from .import_row import Refused

Rows = Iterator[CsvRow | Refused | Problem]

_PLAIN = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2},([0-9]{2}:[0-9]{2}(:[0-9]{2})?)?,((UTC)?[+-][0-9]{2}:[0-9]{2})?",
    re.ASCII,
)
"""Date, time and offset that need nothing done."""


@lru_cache(2000)
def _is_plain(when: tuple[str, ...]) -> bool:
    return _PLAIN.fullmatch(",".join(when)) is not None


_MACHINE = (
    *("patient", "date", "time", "utc_offset", "muscle", "side", "scale", "fast_velocity"),
    *("r1", "r2", "quality", "clonus_s", "pain"),
)
"""Columns in which a dash can only be a hyphen or a minus sign."""

_DOTTED = parse_form("D.M.YYYY", ())
_CLOCK = re.compile(
    r"(-?)([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:\.0+)?)?(?:\s?([AP])\.?M\.?)?", re.ASCII | re.I
)

WORKBOOK = b"PK\x03\x04"
"""How an xlsx workbook begins, being a zip archive."""

SHEET = "readings"
"""The sheet that is read; without one of that name it is the first."""

NEED_XLSX = f"xlsx needs one more package: save it as CSV, or install it {how_to_install('xlsx')}"

_OFFSET = re.compile(r"(UTC)?[+-][0-9]{2}:[0-9]{2}", re.ASCII)

_MOST_AHEAD = timedelta(hours=14)
"""Of the offsets in use."""

_DAY = timedelta(days=1)


@dataclass(slots=True)
class Assumed:
    """What was assumed while a table was read.

    Attributes:
        form: how the file is written, "" where that is ours.
        rows: what was assumed of cells -> in how many rows.
    """

    form: str = ""
    rows: dict[str, int] = field(default_factory=dict[str, int])

    def add(self, what: str) -> None:
        """Count one more row."""
        self.rows[what] = self.rows.get(what, 0) + 1

    @property
    def sentences(self) -> list[str]:
        """All of it, one sentence each."""
        of_rows = [f"{what} in {counted(n, 'row')}" for what, n in self.rows.items()]
        return [self.form, *of_rows] if self.form else of_rows


@dataclass(frozen=True, slots=True)
class OwnTable:
    """A table of ours, opened: its rows, read once, and what was assumed by the time of each."""

    rows: Rows
    assumed: Assumed


def open_own(file: BinaryIO, name: str, zone: ZoneInfo | None = None) -> OwnTable:
    """Open a table with our own header.

    Args:
        file: the file.
        name: its name, for messages.
        zone: where offsets are from that a spreadsheet took for a time; None: this computer's.
    """
    start = file.read(len(WORKBOOK))
    file.seek(0)
    if start == WORKBOOK:
        return _open_workbook(file, name, zone)
    form = form_of(file)
    assumed = Assumed(f"read as a table {form.words}" if form != FileForm() else "")
    return OwnTable(_rows(stream_cells(file, name, *form), name, assumed, zone), assumed)


def _open_workbook(file: BinaryIO, name: str, zone: ZoneInfo | None) -> OwnTable:
    """Open the sheet "readings" of a workbook, or else the first one."""
    assumed = Assumed()
    try:
        from .xlsx_read import workbook_cells
    except ImportError:
        return OwnTable(iter([Problem(name, "this is a workbook", NEED_XLSX)]), assumed)
    formulas: dict[int, int] = {}
    cells = workbook_cells(file, name, SHEET, formulas)
    rows = _rows(cells, name, assumed, zone, short=True)
    return OwnTable(_without_formulas(rows, formulas), assumed)


def _without_formulas(rows: Rows, formulas: Mapping[int, int]) -> Rows:
    """Refuse rows with a formula: what it comes to is not evaluated here."""
    for row in rows:
        if isinstance(row, CsvRow) and row.line in formulas:
            column = row.columns[min(formulas[row.line], len(row.columns) - 1)]
            yield Refused(row, f"{column} is a formula; copy the cell and paste it as a value")
        else:
            yield row


def _rows(
    cells: Iterator[CsvRow | Problem],
    name: str,
    assumed: Assumed,
    zone: ZoneInfo | None,
    short: bool = False,
) -> Rows:
    """Check the header and bring the rows into our form.

    Args:
        cells: the rows, the header first.
        name: of the file.
        assumed: gets what is assumed.
        zone: see open_own().
        short: empty cells at the end of a row are left out.
    """
    tidy: _Tidy | None = None
    for row in rows_below(cells, name, optional=(*DETAILS, *OF_READING)):
        if short and isinstance(row, CsvRow):
            row = row._replace(cells=row.cells + ("",) * (len(row.columns) - len(row.cells)))
        if isinstance(row, Problem) or len(row.cells) != len(row.columns):
            yield row
            continue
        tidy = tidy or _Tidy(row.columns, assumed, zone)
        yield tidy.row(row)


class _Tidy:
    """Brings the rows of one table back into our form."""

    def __init__(self, columns: tuple[str, ...], assumed: Assumed, zone: ZoneInfo | None) -> None:
        self._assumed, self._zone = assumed, zone
        self._when = [columns.index(name) for name in ("date", "time", "utc_offset")]
        self._machine = [columns.index(name) for name in _MACHINE]
        self._when_of = itemgetter(*self._when)
        self._machine_of = itemgetter(*self._machine)

    def row(self, row: CsvRow) -> CsvRow:
        """Return the row in our form; what cannot be told stays as it is."""
        cells = row.cells
        machine = "".join(self._machine_of(cells))
        if machine.isascii() and _is_plain(self._when_of(cells)):
            return row
        found = list(cells)
        if plain_dashes(machine) != machine:
            self._assumed.add("dashes read as hyphens and minus signs")
            for place in self._machine:
                found[place] = plain_dashes(found[place])
        date, time, offset = [found[place] for place in self._when]
        date, time = self._date(date), self._time(time)
        when = (date, time, self._offset(date, time, offset))
        for place, text in zip(self._when, when, strict=True):
            found[place] = text
        return CsvRow(row.line, tuple(found), row.columns)

    def _date(self, text: str) -> str:
        assert isinstance(_DOTTED, DateForm)
        day = _DOTTED.read(text)
        if day is None:
            return text
        self._assumed.add("dates read as DD.MM.YYYY")
        return f"{day['year']:04}-{day['month']:02}-{day['day']:02}"

    def _time(self, text: str) -> str:
        clock = _clock(text)
        if clock is None or text.startswith("-"):
            return text
        if text[-1] in "mM.":
            self._assumed.add("times read with AM and PM")
        hour, minute, second = clock
        return f"{hour:02}:{minute:02}:{second:02}"

    def _offset(self, date: str, time: str, text: str) -> str:
        """Return an offset; of one that a spreadsheet took for a time the zone decides the sign."""
        clock = None if _OFFSET.fullmatch(text) else _clock(text)
        try:
            when = datetime.fromisoformat(f"{date}T{time or '00:00'}")
            there = (
                when.replace(tzinfo=self._zone) if self._zone else when.astimezone()
            ).utcoffset()
        except (ValueError, OverflowError):
            return text  # import_row.py says what is wrong
        if clock is None or there is None:
            return text
        size = timedelta(hours=clock[0], minutes=clock[1])
        offset = -size if text.startswith("-") else _signed(size, there)
        whose = self._zone or "of this computer"
        self._assumed.add(f"offsets that had become a time read by date and time zone {whose}")
        minutes = offset // timedelta(minutes=1)
        hours, minutes = divmod(abs(minutes), 60)
        return f"{'-' if offset < timedelta() else '+'}{hours:02}:{minutes:02}"


def _clock(text: str) -> tuple[int, int, int] | None:
    """Read hour, minute and second of a time of day, None when it is none."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        return None
    hour, minute, second = (int(found[place] or 0) for place in (2, 3, 4))
    half = (found[5] or "").upper()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "P" else 0)
    return (hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None


def _signed(size: timedelta, there: timedelta) -> timedelta:
    """Give an offset that lost its sign the one it has there; none of there: it was a plus.

    A spreadsheet shows a negative time as one of the day before, or without its sign.
    """
    if there in (size, -size, size - _DAY):
        return there
    return size if size <= _MOST_AHEAD else size - _DAY
