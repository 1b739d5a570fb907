"""The events CSV: one row per treatment date, the same for import and export.

UTF-8, RFC 4180. A file of refused rows carries the reason in one more column, which is
passed over when the corrected file is imported.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from io import BytesIO

from ..chart.chart import Chart, Event
from ..chart.events import in_date_order, parse_event, standing
from ..chart.patient import parse_code
from ..problem import Problem
from .csv_rows import CsvRow, stream_rows, write_rows
from .import_row import Refused

COLUMNS = ("patient", "date", "kind", "muscle", "side", "note")


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
    """Read the events in a file, or say why the file as a whole cannot be read.

    Args:
        data: the file's bytes; a byte order mark is accepted.
        name: the file's name, for messages.
        muscles: ids of the known muscle groups.
        new_id: makes an id for each event.
    """
    events: list[tuple[str, Event]] = []
    refused: list[Refused] = []
    for row in stream_rows(BytesIO(data), name, (COLUMNS,)):
        if isinstance(row, Problem):
            return row
        found = _event(row.cells, f"{name} line {row.line}", muscles, new_id)
        if isinstance(found, list):
            refused.append(Refused(row, "; ".join(map(str, found))))
        else:
            events.append(found)
    return EventRows(tuple(events), tuple(refused))


def write_events(charts: Iterable[Chart]) -> bytes:
    """Write these charts' events, each chart's in the order of dates, no struck ones."""
    return write_rows(
        (
            event_row(chart.patient.code, event).cells
            for chart in charts
            for event in in_date_order(standing(chart.events))
        ),
        COLUMNS,
    )


def event_row(code: str, event: Event) -> CsvRow:
    """Make the row of one event; it has no line in a file."""
    cells = (code, event.date, event.kind, event.muscle, event.side, event.note)
    return CsvRow(0, cells, COLUMNS)


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
