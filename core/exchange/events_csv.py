"""The events CSV: one row per treatment date, the same for import and export.

UTF-8, RFC 4180. A file of refused rows carries the reason in one more column, which is
passed over when the corrected file is imported.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from ..chart.chart import Chart, Event
from ..chart.events import in_date_order, parse_event, standing
from ..chart.patient import parse_code
from ..problem import Problem
from .csv_rows import REASON, unguard, write_rows

COLUMNS = ("patient", "date", "kind", "muscle", "side", "note")


@dataclass(frozen=True, slots=True)
class Refused:
    """A row that cannot be used.

    Attributes:
        cells: the row as it came.
        problems: what is wrong with it.
    """

    cells: tuple[str, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class EventRows:
    """What a file holds.

    Attributes:
        events: (patient code, event) of every good row, in the order of the file.
        refused: the other rows.
    """

    events: tuple[tuple[str, Event], ...]
    refused: tuple[Refused, ...]


def read_events(
    data: bytes, name: str, muscles: Collection[str], new_id: Callable[[], str]
) -> EventRows | Problem:
    """The events in a file, or why the file as a whole cannot be read.

    Args:
        data: the file's bytes; a byte order mark is accepted.
        name: the file's name, for messages.
        muscles: ids of the known muscle groups.
        new_id: makes an id for each event.
    """
    rows = _rows(data, name)
    if isinstance(rows, Problem):
        return rows
    events: list[tuple[str, Event]] = []
    refused: list[Refused] = []
    for line, cells in rows:
        found = _event(cells, f"{name} line {line}", muscles, new_id)
        if isinstance(found, list):
            refused.append(Refused(cells, tuple(found)))
        else:
            events.append(found)
    return EventRows(tuple(events), tuple(refused))


def write_events(charts: Iterable[Chart]) -> bytes:
    """The file of these charts' events, each chart's in the order of dates, no struck ones."""
    return write_rows(
        (
            (chart.patient.code, event.date, event.kind, event.muscle, event.side, event.note)
            for chart in charts
            for event in in_date_order(standing(chart.events))
        ),
        COLUMNS,
    )


def write_refused(refused: Iterable[Refused]) -> bytes:
    """The file of refused rows with their reasons; corrected, it can be imported as it is."""
    width = len(COLUMNS)
    rows = [
        (*r.cells, *[""] * (width - len(r.cells)), "; ".join(map(str, r.problems))) for r in refused
    ]
    return write_rows(rows, (*COLUMNS, REASON))


def _event(
    cells: tuple[str, ...], where: str, muscles: Collection[str], new_id: Callable[[], str]
) -> tuple[str, Event] | list[Problem]:
    if len(cells) != len(COLUMNS):
        what = f"{len(cells)} cells instead of {len(COLUMNS)}"
        return [Problem(where, what, "is a comma missing, or a quote?")]
    fields: dict[str, str] = dict(zip(COLUMNS, cells, strict=True))
    code = parse_code(fields["patient"])
    event = parse_event(fields, new_id(), muscles, where)
    problems = [] if isinstance(event, Event) else event
    if isinstance(code, Problem):
        return [Problem(f"{where}, patient", code.what, code.mend), *problems]
    return (code, event) if isinstance(event, Event) else problems


def _rows(data: bytes, name: str) -> list[tuple[int, tuple[str, ...]]] | Problem:
    """Every row below the header with the line it starts on; rows of empty cells left out."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        return Problem(f"{name} line {line}", "this is not UTF-8", "save the file as UTF-8")
    rows: list[tuple[int, tuple[str, ...]]] = []
    reader, line = csv.reader(io.StringIO(text, newline=""), strict=True), 1
    try:
        for cells in reader:
            if any(cells):
                rows.append((line, tuple(map(unguard, cells))))
            line = reader.line_num + 1
    except csv.Error:
        return Problem(
            f"{name} line {line}", "a quote is not closed, or text follows it", "mend it"
        )
    header = rows[0][1] if rows else ()
    if header == COLUMNS:
        return rows[1:]
    if header == (*COLUMNS, REASON):
        width = len(COLUMNS)
        return [(n, cells[:-1] if len(cells) > width else cells) for n, cells in rows[1:]]
    mend = "the first line must be " + ",".join(COLUMNS)
    return Problem(f"{name} line 1", "the columns are others" if rows else "it is empty", mend)
