"""The readings CSV: one row per station and session, the same for import and export.

UTF-8, RFC 4180, lines ending in CR LF; files that a spreadsheet saved in another form are read
as well (file_form.py, own_table.py). Angles are whole numbers in the row's own ``scale``; an empty
cell was not measured. Text that a spreadsheet would take for a formula carries a
leading apostrophe in the file and loses it again on import, and so does what would become a
formula if a spreadsheet parted the cell at a separator within it; numbers, negative ones too,
stay bare. An offset is written as UTC+01:00, since spreadsheets take +01:00 for a time of day.

The columns are COLUMNS; an import also takes those of patient.DETAILS, anywhere among them. A
file with a reading that the checks call impossible, and that a
person overrode with a reason, has one more, OVERRIDE: a line "rule: reason" for each overridden
flag, or a line of UNSAID. A file that needs none of these never has it.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO, NamedTuple

from ..chart.session import Session
from ..problem import Problem
from ..tardieu.angles import show_angle
from ..tardieu.reading import Reading
from .file_form import LONGEST_LINE, form_of

COLUMNS = (
    *("patient", "date", "time", "utc_offset", "examiner", "recorder"),
    *("muscle", "side", "posture", "scale", "fast_velocity", "r1", "r2", "quality"),
    *("clonus_s", "pain", "not_tested", "comment"),
)
OVERRIDE = "override"
"""Extra column behind those, only in a file that needs it."""

FORMS = (COLUMNS, (*COLUMNS, OVERRIDE))

REASON = "reason"
"""Extra last column of a file of refused rows; passed over when such a file is imported."""

UNSAID = {
    "catch-missing": "no fast stretch was entered",
    "grade-missing": "no catch was met, and no grade was entered",
    "nothing-measured": "the station was begun and left",
}
"""What a half-done station needs said in OVERRIDE, as its cells alone would mean something
else: a grade while the field of R1 was left open, no catch without a grade, no value at all."""

_HARMLESS = re.compile(r"-?[0-9]+(\.[0-9]+)?|[+-][0-9]{2}:[0-9]{2}", re.ASCII)
# What begins a formula: the signs and their full-width forms; at the start of a cell also
# blanks that a reader may trim. A sign behind a separator begins a cell of its own where the
# file is parted at that separator.
_SIGN = "[=+\\-@\uff1d\uff0b\uff0d\uff20]"
_PLACE = rf"(^'*)(?=[\t\r\n]|{_SIGN})|([;,|\t\r\n]'*)(?={_SIGN})"
_FORMULA = re.compile(_PLACE)
# Apostrophes already there count too, so that guard() can always be undone.
_GUARDED = re.compile(_PLACE.replace("'*", "'+"))


@dataclass(frozen=True, slots=True)
class OtherTable(Problem):
    """A table whose header is not ours, with that header: it may be somebody else's."""

    header: tuple[str, ...] = ()


class CsvRow(NamedTuple):
    """One row of a file.

    Attributes:
        line: line of the file on which the row starts, from 1.
        cells: its cells, apostrophes of guard() taken off; may be too few or too many.
        columns: what the cells are, in the order of the file.
        original: its cells as a file of another form has them, None when that is ours.
    """

    line: int
    cells: tuple[str, ...]
    columns: tuple[str, ...] = COLUMNS
    original: tuple[str, ...] | None = None


def guard(cell: str) -> str:
    """Write a cell for a file: text that looks like a formula gets an apostrophe."""
    return cell if _HARMLESS.fullmatch(cell) else _FORMULA.sub(r"\g<0>'", cell)


def unguard(cell: str) -> str:
    """Read a cell of a file: undo guard()."""
    return _GUARDED.sub(lambda found: found[0][:-1], cell) if "'" in cell else cell


def write_rows(rows: Iterable[Sequence[str]], columns: Sequence[str] = COLUMNS) -> bytes:
    """Write the bytes of a file with these columns and rows."""
    return b"".join(written_rows(rows, columns))


def written_rows(
    rows: Iterable[Sequence[str]],
    columns: Sequence[str] = COLUMNS,
    delimiter: str = ",",
    encoding: str = "utf-8",
) -> Iterator[bytes]:
    """Write the same line by line, also for files of another form."""
    out = io.StringIO(newline="")
    # A lone surrogate cannot be UTF-8; it is written as its escape rather than not at all.
    encoder = codecs.getincrementalencoder(encoding)("backslashreplace")
    writer = csv.writer(out, lineterminator="\r\n", delimiter=delimiter)
    writer.writerow([guard(column) for column in columns])
    for row in rows:
        yield encoder.encode(_taken(out))
        writer.writerow([guard(cell) for cell in row])
    yield encoder.encode(_taken(out))


def _taken(out: io.StringIO) -> str:
    text = out.getvalue()
    out.seek(0)
    out.truncate()
    return text


def columns_for(sessions: Iterable[Session]) -> tuple[str, ...]:
    """Return the columns that a file of these sessions needs."""
    needed = any(override_cell(reading) for s in sessions for reading in s.readings)
    return FORMS[needed]


def session_rows(
    code: str, session: Session, columns: Sequence[str] = COLUMNS
) -> Iterator[tuple[str, ...]]:
    """Write the rows of a session's readings, cells as they are meant."""
    head = visit_cells(code, session)
    for reading in session.readings:
        more = (override_cell(reading),) if OVERRIDE in columns else ()
        yield (*head, *reading_cells(reading), *more)


def visit_cells(code: str, session: Session) -> tuple[str, ...]:
    """Write the cells of a session, up to ``recorder``."""
    started = session.when.isoformat(timespec="seconds")
    day, clock, offset = started[:10], started[11:19], started[19:]
    return (code, day, clock, f"UTC{offset}", session.examiner, session.recorder)


def reading_cells(reading: Reading) -> tuple[str, ...]:
    """Write the cells of a reading, from ``muscle`` on; two equal tuples are one measurement."""
    return (
        reading.muscle,
        reading.side.value,
        reading.posture,
        reading.scale.id,
        reading.fast_velocity,
        show_angle(reading.r1),
        show_angle(reading.r2),
        show_angle(reading.quality),
        show_angle(reading.clonus_s),
        show_angle(reading.pain),
        not_tested_cell(reading),
        reading.comment,
    )


def not_tested_cell(reading: Reading) -> str:
    """Say why a station was not tested, with the note that goes with it."""
    note = f": {reading.not_tested_note}" if reading.not_tested_note else ""
    return reading.not_tested + note


def override_cell(reading: Reading) -> str:
    """Write which flags a person overrode and why, one a line; "" when none."""
    lines = [f"{override.rule}: {override.reason}" for override in reading.overrides]
    unsaid = _unsaid(reading)
    if unsaid:
        lines.append(f"{unsaid}: {UNSAID[unsaid]}")
    return "\n".join(lines)


def _unsaid(reading: Reading) -> str:
    """Find the key of UNSAID that a reading needs, "" when its cells say it all."""
    if reading.r1 is not None:
        return ""
    if reading.quality is not None:
        open_ = 2 <= reading.quality <= 4 and not reading.r1_tries and not reading.not_tested
        return "catch-missing" if open_ else ""
    if reading.r1_tries:
        return "grade-missing"
    values = (reading.r2, reading.clonus_s, reading.pain)
    said = reading.not_tested or reading.comment or any(value is not None for value in values)
    return "" if said else "nothing-measured"


def stream_rows(
    file: BinaryIO,
    name: str,
    forms: Sequence[tuple[str, ...]] = FORMS,
    optional: Sequence[str] = (),
) -> Iterator[CsvRow | Problem]:
    """Read the rows of a file one by one; a Problem, always the last, says why it ends there.

    Args:
        file: the file, in any form that form_of() tells.
        name: the file's name, for messages.
        forms: what its columns may be, the usual ones first.
        optional: columns that may come once anywhere among them.
    """
    yield from rows_below(stream_cells(file, name, *form_of(file)), name, forms, optional)


def rows_below(
    rows: Iterator[CsvRow | Problem],
    name: str,
    forms: Sequence[tuple[str, ...]] = FORMS,
    optional: Sequence[str] = (),
) -> Iterator[CsvRow | Problem]:
    """Check the header, which is the first row, and yield the rows below it; see stream_rows().

    Rows of nothing but empty cells are left out; a row with too few or too many cells is
    kept, for the import to refuse. The reason of a refused row, which is ours and not the
    clinic's, is taken off, and so are empty columns behind the last one.
    """
    header = next(rows, CsvRow(1, ()))
    if isinstance(header, Problem):
        yield header
        return
    header = header._replace(cells=_without_empty_end(header.cells))
    reasons = header.cells[-1:] == (REASON,)
    columns = header.cells[:-1] if reasons else header.cells
    needed = tuple(column for column in columns if column not in optional)
    if needed not in forms:
        problem = _wrong_header(
            name, header.line, (*needed, *header.cells[len(columns) :]), forms[0]
        )
        yield OtherTable(problem.where, problem.what, problem.mend, header.cells)
        return
    if twice := [column for column in optional if columns.count(column) > 1]:
        yield Problem(f"{name} line {header.line}", f"{twice[0]!r} is there twice", "remove one")
        return
    width = len(columns) + reasons
    for row in rows:
        if isinstance(row, Problem):
            yield row
        elif len(row.cells) == len(columns):
            yield CsvRow(row.line, row.cells, columns)
        else:
            cells = row.cells if any(row.cells[width:]) else row.cells[:width]
            with_reason = reasons and len(cells) > len(columns)
            yield CsvRow(row.line, cells[:-1] if with_reason else cells, columns)


def _without_empty_end(cells: tuple[str, ...]) -> tuple[str, ...]:
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def stream_cells(
    file: BinaryIO, name: str, delimiter: str = ",", encoding: str = "utf-8"
) -> Iterator[CsvRow | Problem]:
    """Read the rows of a delimited file of any columns, the header first; see stream_rows()."""
    reader = csv.reader(_lines(file, name, encoding), strict=True, delimiter=delimiter)
    line = 1
    try:
        for cells in reader:
            if text := "".join(cells):
                yield CsvRow(line, tuple(map(unguard, cells) if "'" in text else cells))
            line = reader.line_num + 1
    except csv.Error as error:
        yield _broken(name, line, str(error))
    except _Unreadable as error:
        yield error.problem


class _Unreadable(Exception):  # noqa: N818 - carries a Problem out of csv's reader
    def __init__(self, problem: Problem) -> None:
        super().__init__(str(problem))
        self.problem = problem


def _lines(file: BinaryIO, name: str, encoding: str) -> Iterator[str]:
    """Read the lines of a file as csv wants them: ends kept, a lone CR being one too."""
    read = file.readline
    if encoding.startswith("utf-16"):
        read, encoding = _Recoded(file, name, encoding).readline, "utf-8"
    number = 0
    while raw := read(LONGEST_LINE + 1):
        number += 1
        text = _decoded(raw, name, number, encoding)
        if "\r" in text.removesuffix("\r\n"):
            yield from re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+$", text)
        else:
            yield text


class _Recoded:
    """A file in UTF-16, read as lines in UTF-8."""

    def __init__(self, file: BinaryIO, name: str, encoding: str) -> None:
        self._text = io.TextIOWrapper(file, encoding, newline="\n")
        self._name = name

    def readline(self, size: int) -> bytes:
        try:
            return self._text.readline(size).encode()
        except UnicodeError:
            what = Problem(self._name, "this is not UTF-16", "save the file as UTF-8")
            raise _Unreadable(what) from None


def _decoded(raw: bytes, name: str, number: int, encoding: str) -> str:
    """Decode a line; raises _Unreadable."""
    if len(raw) > LONGEST_LINE:
        what = "the line is far too long", "is this a table saved as CSV?"
    elif b"\0" in raw:
        what = "this line has a NUL byte", "save it as text, UTF-8"
    else:
        try:
            text = raw.decode(encoding)
            return text.removeprefix("\ufeff") if number == 1 else text
        except UnicodeDecodeError:
            words = "UTF-8" if encoding == "utf-8" else encoding
            what = f"this is not {words}", "save the file as UTF-8"
    raise _Unreadable(Problem(f"{name} line {number}", *what))


def _broken(name: str, line: int, error: str) -> Problem:
    if "unexpected end of data" in error:
        return Problem(f"{name} line {line}", "a quote opened here is never closed", "close it")
    if "field larger" in error:
        return Problem(f"{name} line {line}", "a cell is far too long", "is a quote missing?")
    return Problem(
        f"{name} line {line}",
        "a closing quote is followed by text",
        "double the quotes inside a cell, and close each cell's quote",
    )


def _wrong_header(
    name: str, line: int, header: tuple[str, ...], columns: tuple[str, ...]
) -> Problem:
    where = f"{name} line {line}"
    mend = "the first line must be " + ",".join(columns)
    if not header:
        return Problem(where, "the file is empty", mend)
    for place, wanted in enumerate(columns):
        got = header[place] if place < len(header) else ""
        if got != wanted:
            what = f"column {place + 1} is {got!r}" if got else f"column {place + 1} is missing"
            return Problem(where, f"{what}, wanted {wanted!r}", mend)
    return Problem(where, f"{header[len(columns)]!r} is a column too many", mend)
