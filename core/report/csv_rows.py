"""The readings CSV: one row per station and session, the same for import and export.

UTF-8, RFC 4180, lines ending in CR LF. Angles are whole numbers in the row's own ``scale``;
an empty cell was not measured. Text that a spreadsheet would take for a formula carries a
leading apostrophe in the file and loses it again on import; numbers, negative ones too, and
UTC offsets stay bare.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..angles import show_angle
from ..problem import Problem
from ..reading import Reading
from ..session import Session

COLUMNS = (
    *("patient", "date", "time", "utc_offset", "examiner", "recorder"),
    *("muscle", "side", "posture", "scale", "fast_velocity", "r1", "r2", "quality"),
    *("clonus_s", "pain", "not_tested", "comment"),
)
REASON = "reason"
"""Extra last column of a file of refused rows; passed over when such a file is imported."""

_HARMLESS = re.compile(r"-?[0-9]+(\.[0-9]+)?|[+-][0-9]{2}:[0-9]{2}", re.ASCII)
# Apostrophes already there count too, so that guard() can always be undone.
_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a file.

    Attributes:
        line: line of the file on which the row starts, from 1.
        cells: its cells, apostrophes of guard() taken off; may be too few or too many.
    """

    line: int
    cells: tuple[str, ...]


def guard(cell: str) -> str:
    """The cell as it is written: text that looks like a formula gets an apostrophe."""
    if _HARMLESS.fullmatch(cell) or not _FORMULA.match(cell):
        return cell
    return "'" + cell


def unguard(cell: str) -> str:
    """The cell as it was meant: undoes guard()."""
    return cell[1:] if _GUARDED.match(cell) else cell


def write_rows(rows: Iterable[Sequence[str]], columns: Sequence[str] = COLUMNS) -> bytes:
    """The bytes of a file with these columns and rows."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([guard(cell) for cell in row] for row in rows)
    # A lone surrogate cannot be UTF-8; it is written as its escape rather than not at all.
    return out.getvalue().encode("utf-8", errors="backslashreplace")


def session_rows(code: str, session: Session) -> Iterator[tuple[str, ...]]:
    """The rows of a session's readings, cells as they are meant."""
    started = session.when.isoformat(timespec="seconds")
    head = (code, started[:10], started[11:19], started[19:], session.examiner, session.recorder)
    for reading in session.readings:
        yield (*head, *reading_cells(reading))


def reading_cells(reading: Reading) -> tuple[str, ...]:
    """The cells of a reading, from ``muscle`` on; two equal tuples are one measurement."""
    not_tested = reading.not_tested
    if reading.not_tested_note:
        not_tested += f": {reading.not_tested_note}"
    return (
        reading.muscle,
        reading.side.value,
        reading.posture,
        reading.scale.id,
        reading.fast_velocity,
        show_angle(reading.r1),
        show_angle(reading.r2),
        _number(reading.quality),
        _number(reading.clonus_s),
        _number(reading.pain),
        not_tested,
        reading.comment,
    )


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def read_rows(data: bytes, name: str) -> tuple[Row, ...] | Problem:
    """The rows of a file, or why the file as a whole cannot be read.

    Rows of nothing but empty cells are left out; a row with too few or too many cells is
    kept, for the import to refuse.

    Args:
        data: the file's bytes; a byte order mark is accepted.
        name: the file's name, for messages.
    """
    text = _decoded(data, name)
    if isinstance(text, Problem):
        return text
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for cells in reader:
            if any(cells):
                rows.append(Row(line, tuple(map(unguard, cells))))
            line = reader.line_num + 1
    except csv.Error as error:
        return _broken(name, line, str(error))
    header = rows[0].cells if rows else ()
    if header not in (COLUMNS, (*COLUMNS, REASON)):
        return _wrong_header(name, rows[0].line if rows else 1, header)
    if header == COLUMNS:
        return tuple(rows[1:])
    # The reason of a refused row is ours, not the clinic's.
    return tuple(
        Row(r.line, r.cells[:-1] if len(r.cells) > len(COLUMNS) else r.cells) for r in rows[1:]
    )


def _decoded(data: bytes, name: str) -> str | Problem:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return Problem(name, "the file is UTF-16", "save it as UTF-8")
    if b"\0" in data:
        line = data.count(b"\n", 0, data.index(b"\0")) + 1
        return Problem(f"{name} line {line}", "a NUL byte stands here", "save it as text, UTF-8")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return Problem(f"{name} line {line}", "this is not UTF-8", "save the file as UTF-8")


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


def _wrong_header(name: str, line: int, header: tuple[str, ...]) -> Problem:
    where = f"{name} line {line}"
    mend = "the first line must be " + ",".join(COLUMNS)
    if not header:
        return Problem(where, "the file is empty", mend)
    if len(header) == 1 and ";" in header[0]:
        return Problem(where, "the columns are separated by ';'", "separate them by ','")
    for place, wanted in enumerate(COLUMNS):
        got = header[place] if place < len(header) else ""
        if got != wanted:
            what = f"column {place + 1} is {got!r}" if got else f"column {place + 1} is missing"
            return Problem(where, f"{what}, wanted {wanted!r}", mend)
    return Problem(where, f"{header[len(COLUMNS)]!r} is a column too many", mend)
