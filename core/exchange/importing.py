"""Import of a readings CSV into a shelf: every row is stored, there already, or refused.

First the whole file is read, so that one that breaks off changes nothing; its rows are put
aside by patient and visit (import_spill.py). Then one chart after the other is dealt with, visit
by visit, and what else its rows say is read (import_visits.py). So the memory used follows the
documents of the largest chart and not the length of the file, and a chart is written once for all
its new sessions and once for all its additions.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from io import BytesIO
from typing import Any

from ..chart.amendment import Amendment
from ..chart.chart import Chart
from ..chart.details import DetailsChange, difference, filled
from ..chart.patient import Patient
from ..errors import ChartLocked, NotConfirmed, NotSaved, ShelfError
from ..problem import Problem
from ..shelf import Shelf
from .csv_rows import CsvRow
from .import_pieces import RowReader
from .import_plan import (
    ChartAddition,
    ImportRules,
    amendment_id,
    details_id,
    plan_visits,
    visit_of,
)
from .import_row import Refused, Visit
from .import_spill import RefusedRows, Spill
from .import_visits import ByPatient, Visits
from .own_table import open_own

AUTHOR = "import"
"""Signs imported sessions: nobody was there to sign for them."""

ADDED_LATER = "rows imported later"
"""Reason of an amendment that adds rows to a session imported before."""

DETAILS_IMPORTED = "details imported"
"""Reason of a change that fills in details which an import states."""

_CHARTS_AT_ONCE = 250
"""New charts made under one lock of the list of codes, which others wait for meanwhile."""

_ROWS_AT_ONCE = 5000
"""Rows of new charts held until they are made."""

_TOLD_EACH = 10
"""Rows read between two calls of what reports how far it is."""

Progress = Callable[[str, int, int], None]
"""Called with "read" or "dealt with", how many rows so far, and of how many (0 while not known)."""


@dataclass(slots=True)
class Outcome:
    """What an import did, or with a dry run would do. Counts are rows unless said otherwise.

    Attributes:
        refused: rows left out with their reasons, in the order of the file.
        rows: rows of the file; in the end stored + already + the refused ones.
        stored: rows stored.
        already: rows that were there.
        flagged: rows stored with an unlikely flag.
        sessions: sessions added.
        amended: sessions to which rows were added.
        details: charts in which details that were not stated were filled in.
        new_patients: codes that got a chart.
        notes: what else the person importing must hear.
        charts: codes of the charts that something was stored in.
    """

    refused: Sequence[Refused] = ()
    rows: int = 0
    stored: int = 0
    already: int = 0
    flagged: int = 0
    sessions: int = 0
    amended: int = 0
    details: int = 0
    new_patients: list[str] = field(default_factory=list[str])
    notes: list[str] = field(default_factory=list[str])
    charts: set[str] = field(default_factory=set[str])

    def count(self, change: ChartAddition) -> None:
        """Count a change as made."""
        self.stored += len(change.rows)
        self.flagged += change.flagged
        if change.added is None:
            self.sessions += 1
        else:
            self.amended += 1


def import_csv(
    data: bytes,
    name: str,
    shelf: Shelf | None,
    rules: ImportRules,
    now: datetime,
    dry_run: bool = False,
) -> Outcome | Problem:
    """Import a file of ours that is in memory; see import_rows()."""
    return import_rows(open_own(BytesIO(data), name).rows, shelf, rules, now, dry_run)


def import_rows(
    rows: Iterable[CsvRow | Refused | Problem],
    shelf: Shelf | None,
    rules: ImportRules,
    now: datetime,
    dry_run: bool = False,
    progress: Progress | None = None,
    outcome: Outcome | None = None,
) -> Outcome | Problem:
    """Import rows as they come out of a file.

    Args:
        rows: the rows; one that could not be brought into our form is refused already.
        shelf: where to; None (for a dry run) when there is no shelf yet.
        rules: muscle groups and figures for the checks.
        now: the present with its offset; signs the sessions.
        dry_run: count only, change nothing.
        progress: called after some rows, and after each chart, with how far it is.
        outcome: what was done so far is counted in it, for whoever may end the import.

    Returns:
        What was done, or why the file as a whole cannot be read; then nothing was done.
    """
    spill = Spill(sealed=shelf is not None and shelf.encrypted)
    refused, outcome = RefusedRows(spill), outcome or Outcome()
    aside = ByPatient(spill, RowReader(rules.muscles, now))
    for row in rows:
        if isinstance(row, Problem):
            return row
        outcome.rows += 1
        bad = row if isinstance(row, Refused) else aside.add(row)
        if bad is not None:
            refused.add([bad])
        if progress and not outcome.rows % _TOLD_EACH:
            progress("read", outcome.rows, 0)
    job = _Job(shelf, rules, now, dry_run, outcome, refused)
    done = len(refused)
    for patient, visits in aside:
        job.take(patient, visits)
        done += len(visits)
        if progress:
            progress("dealt with", done, outcome.rows)
    job.make_new()
    outcome.refused = refused.in_order()
    return outcome


@dataclass(frozen=True, slots=True)
class _ChartPlan:
    """What is to be added to one chart, by the start of the sessions.

    The patient is as the chart has it, with what the rows state filled in.
    """

    patient: Patient
    changes: tuple[ChartAddition, ...]

    @property
    def code(self) -> str:
        return self.patient.code


class _Job:
    """One import: the charts one after the other, new ones some at a time.

    Trouble with one chart leaves the others alone.
    """

    def __init__(
        self,
        shelf: Shelf | None,
        rules: ImportRules,
        now: datetime,
        dry_run: bool,
        outcome: Outcome,
        refused: RefusedRows,
    ) -> None:
        self._shelf = None if dry_run else shelf
        self._rules, self._outcome, self._refused = rules, outcome, refused
        self._at = now.isoformat(timespec="seconds")
        self._look = shelf
        self._find = shelf.finder() if shelf else None
        self._new: list[_ChartPlan] = []
        self._new_rows = 0

    def take(self, stated: Patient, visits: Visits) -> None:
        """Deal with the rows of one patient, with what they state of the patient."""
        code = stated.code
        try:
            chart_id = self._find(code) if self._find else None
            chart = self._look.load(chart_id) if self._look and chart_id else None
        except ShelfError as error:
            reason = str(error)
            self._refused.add(
                row if isinstance(row, Refused) else Refused(row.row, reason)
                for _, of_visit in visits
                for row in of_visit
            )
            return
        plan = self._planned(stated, visits, chart)
        if chart and (details := difference(chart.patient, plan.patient)):
            self._fill_in(chart, details)
        if not plan.changes:
            return
        if chart is None:
            self._outcome.new_patients.append(code)
        if self._shelf is None:
            self._done(code, plan.changes)
        elif chart is None:
            self._put_off(plan)
        else:
            tips, id_ = _tips(chart), chart.id
            del chart  # its documents are read once more for writing
            self._store(plan, self._shelf, id_, tips)

    def _planned(self, stated: Patient, visits: Visits, chart: Chart | None) -> _ChartPlan:
        """Plan what becomes of the visits; rows that are refused or there already are counted."""
        code = stated.code
        patient, stored = (chart.patient, chart.by_date) if chart else (Patient(code), ())
        full = filled(patient, difference(Patient(code), stated))
        changes: list[ChartAddition] = []
        gone = _visits_withdrawn(chart) if chart else ()
        for plan in plan_visits(visits, patient, full, stored, self._rules, gone):
            patient = plan.patient
            self._outcome.already += plan.already
            self._refused.add(plan.refused)
            if plan.change:
                changes.append(replace(plan.change, rows=visits.kept(plan.change.rows)))
        return _ChartPlan(patient, tuple(changes))

    def _fill_in(self, chart: Chart, details: Mapping[str, Any]) -> None:
        """Add details that the chart does not state yet; trouble with that is a note."""
        code, made_on = chart.patient.code, chart.details_as_of
        id_ = details_id(code, details, made_on)
        change = DetailsChange(id_, AUTHOR, DETAILS_IMPORTED, self._at, details, made_on)
        error = _error_of(self._shelf.change_details, chart.id, change) if self._shelf else None
        if error:
            self._outcome.notes.append(f"{code}, details: {error}")
        if error is None or isinstance(error, NotConfirmed):
            self._outcome.details += 1

    def _put_off(self, plan: _ChartPlan) -> None:
        self._new.append(plan)
        self._new_rows += sum(len(change.rows) for change in plan.changes)
        if len(self._new) >= _CHARTS_AT_ONCE or self._new_rows >= _ROWS_AT_ONCE:
            self.make_new()

    def make_new(self) -> None:
        """Make the charts that were put off, and store what belongs into them."""
        if self._shelf is None or not self._new:
            return
        plans, self._new, self._new_rows = self._new, [], 0
        patients = [plan.patient for plan in plans]
        sessions = {plan.code: [change.session for change in plan.changes] for plan in plans}
        made: dict[str, str | ShelfError]
        try:
            made = self._shelf.create_all(patients, AUTHOR, self._at, sessions)
        except ShelfError as error:
            made = {plan.code: error for plan in plans}
        except BaseException:  # ended by a signal: each chart appears whole, or not at all
            for plan in plans:
                if self._shelf.find(plan.code):
                    self._done(plan.code, plan.changes)
            raise
        for plan in plans:
            if not self._done(plan.code, plan.changes, made[plan.code]):
                self._outcome.new_patients.remove(plan.code)

    def _store(
        self, plan: _ChartPlan, shelf: Shelf, chart_id: str, tips: dict[str, tuple[str, ...]]
    ) -> None:
        """Write the changes: all new sessions at once, then all additions at once."""
        new = [change for change in plan.changes if change.added is None]
        if new:
            sessions = [change.session for change in new]
            error = _error_of(shelf.add_closed, chart_id, sessions, AUTHOR, self._at)
            self._done(plan.code, new, error)
        added = [change for change in plan.changes if change.added is not None]
        settled = [change for change in added if tips.get(change.session.id)]
        if len(settled) > 1:
            amendments = [_amendment(change, self._at, tips) for change in settled]
            error = _error_of(shelf.amend_all, chart_id, amendments)
            # Where one of them does not fit, all go singly.
            if error is None or isinstance(error, NotConfirmed | NotSaved | ChartLocked):
                self._done(plan.code, settled, error)
                added = [change for change in added if not tips.get(change.session.id)]
        for change in added:
            error = _error_of(shelf.amend, chart_id, _amendment(change, self._at, tips))
            self._done(plan.code, [change], error)

    def _done(
        self, code: str, changes: Sequence[ChartAddition], error: ShelfError | str | None = None
    ) -> bool:
        """Count changes as made, or their rows as refused; returns whether they were made."""
        if isinstance(error, NotConfirmed):
            self._outcome.notes.append(f"{code}: {error}")
        elif isinstance(error, ShelfError):
            reason = str(error)
            self._refused.add(Refused(row, reason) for change in changes for row in change.rows)
            return False
        for change in changes:
            self._outcome.count(change)
        self._outcome.charts.add(code)
        return True


def _error_of(write: Callable[..., object], *given: object) -> ShelfError | None:
    """Call a method of the shelf; returns what it raised, None when it did its work."""
    try:
        write(*given)
    except ShelfError as error:
        return error
    return None


def _visits_withdrawn(chart: Chart) -> set[Visit]:
    gone = chart.withdrawn
    return {visit_of(session) for session in chart.sessions if session.id in gone}


def _tips(chart: Chart) -> dict[str, tuple[str, ...]]:
    """Find what an addition to each session is made on: what the rows were compared with.

    Nothing where amendments disagree; the shelf then takes no addition until that is settled.
    """
    chains = chart.chains
    return {chain.session.id: () if chain.conflict else chain.tips for chain in chains}


def _amendment(change: ChartAddition, at: str, tips: dict[str, tuple[str, ...]]) -> Amendment:
    session, added = change.session, change.added or ()
    made_on = tips.get(session.id, ())
    id_ = amendment_id(session, added, made_on)
    return Amendment(id_, session.id, AUTHOR, ADDED_LATER, at, added, made_on=made_on)
