"""The events CSV: one row per treatment date or goal, the same for import and export.

UTF-8, RFC 4180. The columns of what was given, and those of goals, need not be there; a file
without a goal is written without the latter (goal_rows.py). A file of refused rows
carries the reason in one more column, which is passed over when the corrected file is imported.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from io import BytesIO

from ..chart.chart import Chart
from ..chart.event import Event
from ..chart.events import (
    GIVEN,
    GOAL,
    KINDS,
    NOT_DONE,
    given_amount,
    in_date_order,
    parse_event,
    unstruck,
)
from ..chart.patient import parse_code
from ..problem import Problem
from .csv_rows import CsvRow, stream_rows, write_rows
from .goal_rows import COLUMNS as OF_GOAL
from .goal_rows import GoalRow, goal_cells, goal_rows, read_goal
from .import_row import Refused

FORMER_COLUMNS = ("patient", "date", "kind", "muscle", "side", "note")
COLUMNS = (*FORMER_COLUMNS, *GIVEN)
OPTIONAL = (*GIVEN, *OF_GOAL)


@dataclass(frozen=True, slots=True)
class EventRows:
    """What a file holds.

    Attributes:
        columns: of the file, without the reason.
        by_patient: by patient code, the event of every good row, and the score where it is of a
            goal that has one; in the order of the file.
        refused: the other rows.
    """

    columns: tuple[str, ...]
    by_patient: Mapping[str, Sequence[GoalRow]]
    refused: tuple[Refused, ...]


def read_events(
    data: bytes, name: str, muscles: Collection[str], new_id: Callable[[], str], today: date
) -> EventRows | Problem:
    """Read the events in a file, or say why the file as a whole cannot be read.

    Args:
        data: the file's bytes; a byte order mark is accepted.
        name: the file's name, for messages.
        muscles: ids of the known muscle groups.
        new_id: makes an id for each event.
        today: the day of today; nobody has scored a goal later.
    """
    by_patient: dict[str, list[GoalRow]] = {}
    refused: list[Refused] = []
    columns = COLUMNS
    for row in stream_rows(BytesIO(data), name, (FORMER_COLUMNS,), OPTIONAL):
        if isinstance(row, Problem):
            return row
        columns = row.columns
        found = _event(row, f"{name} line {row.line}", muscles, new_id, today)
        if isinstance(found, list):
            refused.append(Refused(row, "; ".join(map(str, found))))
        else:
            by_patient.setdefault(found[0], []).append(found[1])
    return EventRows(columns, by_patient, tuple(refused))


def write_events(charts: Sequence[Chart]) -> bytes:
    """Write these charts' events and goals, each chart's in the order of dates, no struck ones."""
    columns = columns_for(charts)
    rows = (
        event_row(chart.patient.code, row, columns).cells
        for chart in charts
        for row in _rows(chart.events)
    )
    return write_rows(rows, columns)


def columns_for(charts: Iterable[Chart]) -> tuple[str, ...]:
    """Name the columns that a file of these charts' events needs."""
    goals = (event.kind == GOAL for chart in charts for event in unstruck(chart.events))
    return (*COLUMNS, *OF_GOAL) if any(goals) else COLUMNS


def _rows(events: Sequence[Event]) -> Iterator[GoalRow]:
    """Yield what was done and the goals in the order of dates, each goal with its scores."""
    goals: dict[str, list[GoalRow]] = {}
    for goal, score in goal_rows(events):
        goals.setdefault(goal.id, []).append((goal, score))
    shown = (event for event in unstruck(events) if event.kind not in NOT_DONE or event.id in goals)
    for event in in_date_order(shown):
        yield from goals.get(event.id, [(event, None)])


def event_row(code: str, row: GoalRow, columns: tuple[str, ...]) -> CsvRow:
    """Make the row of one event; it has no line in a file."""
    event, score = row
    cells = {"patient": code, **asdict(event), "amount": given_amount(event.amount)}
    cells |= goal_cells(event, score)
    return CsvRow(0, tuple(cells[name] for name in columns), columns)


def _event(
    row: CsvRow,
    where: str,
    muscles: Collection[str],
    new_id: Callable[[], str],
    today: date,
) -> tuple[str, GoalRow] | list[Problem]:
    if len(row.cells) != len(row.columns):
        what = f"{len(row.cells)} cells instead of {len(row.columns)}"
        return [Problem(where, what, "is a comma missing, or a quote?")]
    fields: dict[str, str] = dict(zip(row.columns, row.cells, strict=True))
    code = parse_code(fields["patient"])
    if fields["kind"].strip() == GOAL:
        found = read_goal(fields, new_id, where, today)
    else:
        found = _treatment(fields, new_id(), muscles, where)
    if isinstance(code, Problem):
        others = found if isinstance(found, list) else []
        return [Problem(f"{where}, patient", code.what, code.mend), *others]
    return found if isinstance(found, list) else (code, found)


def _treatment(
    fields: Mapping[str, str], id_: str, muscles: Collection[str], where: str
) -> tuple[Event, None] | list[Problem]:
    """Read a row that is no goal."""
    event = parse_event(fields, id_, muscles, where, (*KINDS, GOAL))
    wrong = [
        Problem(
            f"{where}, {name}", "only a goal has one", f"leave it empty, or make the kind {GOAL}"
        )
        for name in OF_GOAL
        if fields.get(name, "").strip()
    ]
    if isinstance(event, list):
        return [*event, *wrong]
    return wrong or (event, None)
