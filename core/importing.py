"""Import of a readings CSV into a shelf: every row is stored, there already, or refused."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime

from .import_plan import Change, ChartPlan, Judge, amendment_id, plan_chart
from .import_row import ParsedRow, Refused, parse_row
from .patient import Patient
from .problem import Problem
from .reading import Reading
from .report.csv_rows import COLUMNS, REASON, read_rows, write_rows
from .session import Session
from .shelf import Amendment, Chart, NotConfirmed, Shelf, ShelfError

AUTHOR = "import"
"""Signs imported sessions: nobody was there to sign for them."""

ADDED_LATER = "rows imported later"
"""Reason of an amendment that adds rows to a session imported before."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an import did, or with a dry run would do. Counts are rows unless said otherwise.

    Attributes:
        rows: rows of the file; always stored + already + the refused ones.
        stored: rows stored.
        already: rows that were there.
        flagged: rows stored with an unlikely flag.
        sessions: sessions added.
        amended: sessions to which rows were added.
        new_patients: codes that got a chart.
        refused: rows left out with their reasons, in the order of the file.
        notes: what else the person importing must hear.
    """

    rows: int
    stored: int
    already: int
    flagged: int
    sessions: int
    amended: int
    new_patients: tuple[str, ...]
    refused: tuple[Refused, ...]
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Tally:
    """The outcome while it grows."""

    stored: int = 0
    already: int = 0
    flagged: int = 0
    sessions: int = 0
    amended: int = 0
    new_patients: list[str] = field(default_factory=list[str])
    refused: list[Refused] = field(default_factory=list[Refused])
    notes: list[str] = field(default_factory=list[str])

    def count(self, change: Change) -> None:
        """Count a change as made."""
        self.stored += len(change.rows)
        self.flagged += change.flagged
        if change.added is None:
            self.sessions += 1
        else:
            self.amended += 1

    def refuse(self, changes: Iterable[Change], reason: str) -> None:
        """Turn the rows of changes that the shelf did not take into refused ones."""
        self.refused += [Refused(row, reason) for change in changes for row in change.rows]


def import_csv(
    data: bytes, name: str, shelf: Shelf | None, judge: Judge, now: datetime, dry_run: bool = False
) -> Outcome | Problem:
    """Import a file.

    Args:
        data: the file's bytes.
        name: the file's name, for messages.
        shelf: where to; None (for a dry run) when there is no shelf yet.
        judge: muscle groups and figures for the checks.
        now: the present with its offset; signs the sessions.
        dry_run: count only, change nothing.

    Returns:
        What was done, or why the file as a whole cannot be read; then nothing was done.
    """
    rows = read_rows(data, name)
    if isinstance(rows, Problem):
        return rows
    tally = _Tally()
    by_code: dict[str, list[ParsedRow]] = {}
    for row in rows:
        parsed = parse_row(row, judge.muscles, now)
        if isinstance(parsed, Refused):
            tally.refused.append(parsed)
        else:
            by_code.setdefault(parsed.code, []).append(parsed)
    for code, parsed_rows in by_code.items():
        _import_chart(code, parsed_rows, shelf, judge, now, dry_run, tally)
    return _outcome(len(rows), tally)


def refused_file(refused: Iterable[Refused]) -> bytes:
    """The file of refused rows: as they came, with the reason in a last column.

    Corrected, it can be imported as it is.
    """
    width = len(COLUMNS)
    rows = [(*r.row.cells, *[""] * (width - len(r.row.cells)), r.reason) for r in refused]
    return write_rows(rows, (*COLUMNS, REASON))


def _outcome(rows: int, tally: _Tally) -> Outcome:
    return Outcome(
        rows,
        tally.stored,
        tally.already,
        tally.flagged,
        tally.sessions,
        tally.amended,
        tuple(tally.new_patients),
        tuple(sorted(tally.refused, key=lambda refused: refused.row.line)),
        tuple(tally.notes),
    )


def _import_chart(
    code: str,
    rows: list[ParsedRow],
    shelf: Shelf | None,
    judge: Judge,
    now: datetime,
    dry_run: bool,
    tally: _Tally,
) -> None:
    """Import the rows of one patient; trouble with one chart leaves the others alone."""
    try:
        chart = _chart_of(code, shelf)
    except ShelfError as error:
        tally.refused += [Refused(row.row, str(error)) for row in rows]
        return
    patient, stored = (chart.patient, chart.by_date) if chart else (Patient(code), ())
    plan = plan_chart(code, rows, patient, stored, judge)
    tally.already += len(plan.already)
    tally.refused += plan.refused
    if chart is None and plan.changes:
        tally.new_patients.append(code)
    if dry_run or shelf is None:
        for change in plan.changes:
            tally.count(change)
    elif plan.changes:
        _store(plan, shelf, chart, now.isoformat(timespec="seconds"), tally)


def _chart_of(code: str, shelf: Shelf | None) -> Chart | None:
    chart_id = shelf.find(code) if shelf else None
    return shelf.load(chart_id) if shelf and chart_id else None


def _store(plan: ChartPlan, shelf: Shelf, chart: Chart | None, at: str, tally: _Tally) -> None:
    """Write the changes: all new sessions at once, then each addition."""
    new = [change for change in plan.changes if change.added is None]
    try:
        chart_id = chart.id if chart else shelf.create(Patient(plan.code))
    except ShelfError as error:
        tally.new_patients.remove(plan.code)
        tally.refuse(plan.changes, str(error))
        return
    if new:
        with _counted(new, plan.code, tally):
            shelf.add_closed(chart_id, [change.session for change in new], AUTHOR, at)
    for change in plan.changes:
        if change.added is not None:
            with _counted([change], plan.code, tally):
                shelf.amend(chart_id, _amendment(change.session, change.added, at))


@contextmanager
def _counted(changes: Sequence[Change], code: str, tally: _Tally) -> Generator[None]:
    """Count changes as made, or their rows as refused when the shelf did not take them."""
    try:
        yield
    except NotConfirmed as error:
        tally.notes.append(f"{code}: {error}")
    except ShelfError as error:
        tally.refuse(changes, str(error))
        return
    for change in changes:
        tally.count(change)


def _amendment(session: Session, added: tuple[Reading, ...], at: str) -> Amendment:
    return Amendment(amendment_id(session, added), session.id, AUTHOR, ADDED_LATER, at, added)
