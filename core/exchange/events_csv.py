"""The events CSV: one row per treatment date, the same for import and export.

UTF-8, RFC 4180. The columns of what was given need not be there. A file of refused rows
carries the reason in one more column, which is passed over when the corrected file is imported.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import asdict, dataclass
from io import BytesIO

from ..chart.chart import Chart
from ..chart.event import Event
from ..chart.events import GIVEN, amount_words, in_date_order, parse_event, standing
from ..chart.patient import parse_code
from ..problem import Problem
from .csv_rows import CsvRow, stream_rows, write_rows
from .import_row import Refused

FORMER_COLUMNS = ("patient", "date", "kind", "muscle", "side", "note")
COLUMNS = (*FORMER_COLUMNS, *GIVEN)


@dataclass(frozen=True, slots=True)
class EventRows:
    """What a file holds.

    Attributes:
        columns: of the file, without the reason.
        events: (patient code, event) of every good row, in the order of the file.
        refused: the other rows.
    """

    columns: tuple[str, ...]
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
    columns = COLUMNS
    for row in stream_rows(BytesIO(data), name, (FORMER_COLUMNS,), GIVEN):
        if isinstance(row, Problem):
            return row
        columns = row.columns
        found = _event(row, f"{name} line {row.line}", muscles, new_id)
        if isinstance(found, list):
            refused.append(Refused(row, "; ".join(map(str, found))))
        else:
            events.append(found)
    return EventRows(columns, tuple(events), tuple(refused))


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


def event_row(code: str, event: Event, columns: tuple[str, ...] = COLUMNS) -> CsvRow:
    """Make the row of one event; it has no line in a file."""
    cells = {"patient": code, **asdict(event), "amount": amount_words(event.amount)}
    return CsvRow(0, tuple(cells[name] for name in columns), columns)


def _event(
    row: CsvRow, where: str, muscles: Collection[str], new_id: Callable[[], str]
) -> tuple[str, Event] | list[Problem]:
    if len(row.cells) != len(row.columns):
        what = f"{len(row.cells)} cells instead of {len(row.columns)}"
        return [Problem(where, what, "is a comma missing, or a quote?")]
    fields: dict[str, str] = dict(zip(row.columns, row.cells, strict=True))
    code = parse_code(fields["patient"])
    event = parse_event(fields, new_id(), muscles, where)
    problems = [] if isinstance(event, Event) else event
    if isinstance(code, Problem):
        return [Problem(f"{where}, patient", code.what, code.mend), *problems]
    return (code, event) if isinstance(event, Event) else problems
