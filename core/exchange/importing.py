"""Import of a readings CSV into a shelf: every row is stored, there already, or refused.

First the whole file is read, so that one that breaks off changes nothing; its rows are put
aside by patient (import_spill.py). Then one chart after the other is dealt with, visit by visit
(import_visits.py). So the memory used follows the documents of the largest chart and not the
length of the file, and a chart is written once for all its new sessions and once for all its
additions.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from io import BytesIO

from ..chart.amendment import Amendment
from ..chart.chart import Chart
from ..chart.patient import Patient
from ..errors import ChartLocked, NotConfirmed, NotSaved, ShelfError
from ..problem import Problem
from ..shelf import Shelf
from .csv_rows import CsvRow, stream_rows
from .import_plan import ChartAddition, ImportRules, amendment_id, plan_visits
from .import_row import Refused, parse_row
from .import_spill import Places, RefusedRows, Spill
from .import_visits import Visits

AUTHOR = "import"
"""Signs imported sessions: nobody was there to sign for them."""

ADDED_LATER = "rows imported later"
"""Reason of an amendment that adds rows to a session imported before."""

_CHARTS_AT_ONCE = 50
"""New charts made under one lock of the list of codes, which others wait for meanwhile."""

_ROWS_AT_ONCE = 2000
"""Rows of new charts held until they are made."""

Progress = Callable[[str, int, int], None]
"""Told "read" or "stored", how many rows so far, and of how many (0 while not known)."""


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
    refused: Sequence[Refused]
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Tally:
    """The outcome while it grows."""

    refused: RefusedRows
    stored: int = 0
    already: int = 0
    flagged: int = 0
    sessions: int = 0
    amended: int = 0
    new_patients: list[str] = field(default_factory=list[str])
    notes: list[str] = field(default_factory=list[str])

    def count(self, change: ChartAddition) -> None:
        """Count a change as made."""
        self.stored += len(change.rows)
        self.flagged += change.flagged
        if change.added is None:
            self.sessions += 1
        else:
            self.amended += 1

    def refuse(self, changes: Iterable[ChartAddition], reason: str) -> None:
        """Turn the rows of changes that the shelf did not take into refused ones."""
        self.refused.extend(Refused(row, reason) for change in changes for row in change.rows)


def import_csv(
    data: bytes,
    name: str,
    shelf: Shelf | None,
    rules: ImportRules,
    now: datetime,
    dry_run: bool = False,
) -> Outcome | Problem:
    """Import a file of ours that is in memory; see import_rows()."""
    return import_rows(stream_rows(BytesIO(data), name), shelf, rules, now, dry_run)


def import_rows(
    rows: Iterable[CsvRow | Refused | Problem],
    shelf: Shelf | None,
    rules: ImportRules,
    now: datetime,
    dry_run: bool = False,
    progress: Progress | None = None,
) -> Outcome | Problem:
    """Import rows as they come out of a file.

    Args:
        rows: the rows; one that could not be brought into our form is refused already.
        shelf: where to; None (for a dry run) when there is no shelf yet.
        rules: muscle groups and figures for the checks.
        now: the present with its offset; signs the sessions.
        dry_run: count only, change nothing.
        progress: told now and then how far it is.

    Returns:
        What was done, or why the file as a whole cannot be read; then nothing was done.
    """
    spill, places = Spill(sealed=shelf is not None and shelf.encrypted), Places()
    tally = _Tally(RefusedRows(spill))
    count = 0
    for row in rows:
        if isinstance(row, Problem):
            return row
        count += 1
        parsed = row if isinstance(row, Refused) else parse_row(row, rules.muscles, now)
        if isinstance(parsed, Refused):
            tally.refused.add(parsed)
        else:
            places.add(parsed.code, spill.put(parsed.row))
        if progress:
            progress("read", count, 0)
    job = _Job(shelf, rules, now, dry_run, tally)
    done = len(tally.refused)
    for code, own in places:
        job.take(code, Visits(spill, own, rules.muscles, now))
        done += len(own)
        if progress:
            progress("dealt with", done, count)
    job.make_new()
    return _outcome(count, tally)


def _outcome(rows: int, tally: _Tally) -> Outcome:
    return Outcome(
        rows,
        tally.stored,
        tally.already,
        tally.flagged,
        tally.sessions,
        tally.amended,
        tuple(tally.new_patients),
        tally.refused,
        tuple(tally.notes),
    )


@dataclass(frozen=True, slots=True)
class _ChartPlan:
    """What is to be added to one chart, by the start of the sessions."""

    code: str
    changes: tuple[ChartAddition, ...]


class _Job:
    """One import: the charts one after the other, new ones some at a time.

    Trouble with one chart leaves the others alone.
    """

    def __init__(
        self, shelf: Shelf | None, rules: ImportRules, now: datetime, dry_run: bool, tally: _Tally
    ) -> None:
        self._shelf = None if dry_run else shelf
        self._rules, self._tally = rules, tally
        self._at = now.isoformat(timespec="seconds")
        self._look = shelf
        self._find = shelf.finder() if shelf else None
        self._new: list[_ChartPlan] = []

    def take(self, code: str, visits: Visits) -> None:
        """Deal with the rows of one patient."""
        tally = self._tally
        try:
            chart_id = self._find(code) if self._find else None
            chart = self._look.load(chart_id) if self._look and chart_id else None
        except ShelfError as error:
            tally.refused.extend(Refused(row, str(error)) for row in visits.rows)
            return
        plan = self._planned(code, visits, chart)
        if not plan.changes:
            return
        if chart is None:
            tally.new_patients.append(code)
        if self._shelf is None:
            for change in plan.changes:
                tally.count(change)
        elif chart is None:
            self._put_off(plan)
        else:
            tips, id_ = _tips(chart), chart.id
            del chart  # its documents are read once more for writing
            _store(plan, self._shelf, id_, tips, self._at, tally)

    def _planned(self, code: str, visits: Visits, chart: Chart | None) -> _ChartPlan:
        """What becomes of the visits; rows that are refused or there already are counted."""
        patient, stored = (chart.patient, chart.by_date) if chart else (Patient(code), ())
        changes: list[ChartAddition] = []
        for plan in plan_visits(code, visits, patient, stored, self._rules):
            self._tally.already += plan.already
            self._tally.refused.extend(plan.refused)
            if plan.change:
                changes.append(replace(plan.change, rows=visits.kept(plan.change.rows)))
        return _ChartPlan(code, tuple(changes))

    def _put_off(self, plan: _ChartPlan) -> None:
        self._new.append(plan)
        rows = sum(len(change.rows) for plan in self._new for change in plan.changes)
        if len(self._new) >= _CHARTS_AT_ONCE or rows >= _ROWS_AT_ONCE:
            self.make_new()

    def make_new(self) -> None:
        """Make the charts that were put off, and store what belongs into them."""
        if self._shelf is None or not self._new:
            return
        plans, self._new = self._new, []
        patients = [Patient(plan.code) for plan in plans]
        sessions = {plan.code: [change.session for change in plan.changes] for plan in plans}
        made: dict[str, str | ShelfError]
        try:
            made = self._shelf.create_all(patients, AUTHOR, self._at, sessions)
        except ShelfError as error:
            made = {plan.code: error for plan in plans}
        for plan in plans:
            self._count_new(plan, made[plan.code])

    def _count_new(self, plan: _ChartPlan, made: str | ShelfError) -> None:
        if isinstance(made, ShelfError) and not isinstance(made, NotConfirmed):
            self._tally.new_patients.remove(plan.code)
            self._tally.refuse(plan.changes, str(made))
            return
        if isinstance(made, NotConfirmed):
            self._tally.notes.append(f"{plan.code}: {made}")
        for change in plan.changes:
            self._tally.count(change)


def _store(
    plan: _ChartPlan,
    shelf: Shelf,
    chart_id: str,
    tips: dict[str, tuple[str, ...]],
    at: str,
    tally: _Tally,
) -> None:
    """Write the changes: all new sessions at once, then all additions at once."""
    new = [change for change in plan.changes if change.added is None]
    if new:
        with _counted(new, plan.code, tally):
            shelf.add_closed(chart_id, [change.session for change in new], AUTHOR, at)
    added = [change for change in plan.changes if change.added is not None]
    settled = [change for change in added if tips.get(change.session.id)]
    if len(settled) > 1 and _amend_all(settled, plan.code, shelf, chart_id, tips, at, tally):
        added = [change for change in added if not tips.get(change.session.id)]
    for change in added:
        with _counted([change], plan.code, tally):
            shelf.amend(chart_id, _amendment(change, at, tips))


def _amend_all(
    changes: Sequence[ChartAddition],
    code: str,
    shelf: Shelf,
    chart_id: str,
    tips: dict[str, tuple[str, ...]],
    at: str,
    tally: _Tally,
) -> bool:
    """Write additions at once; False when one of them does not fit and all must go singly."""
    try:
        shelf.amend_all(chart_id, [_amendment(change, at, tips) for change in changes])
    except NotConfirmed as error:
        tally.notes.append(f"{code}: {error}")
    except (NotSaved, ChartLocked) as error:
        tally.refuse(changes, str(error))
        return True
    except ShelfError:
        return False
    for change in changes:
        tally.count(change)
    return True


@contextmanager
def _counted(changes: Sequence[ChartAddition], code: str, tally: _Tally) -> Generator[None]:
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


def _tips(chart: Chart) -> dict[str, tuple[str, ...]]:
    """What an addition to each session is made on: what the rows were compared with.

    Nothing where amendments disagree; the shelf then takes no addition until that is settled.
    """
    chains = chart.chains
    return {chain.session.id: () if chain.conflict else chain.tips for chain in chains}


def _amendment(change: ChartAddition, at: str, tips: dict[str, tuple[str, ...]]) -> Amendment:
    session, added = change.session, change.added or ()
    made_on = tips.get(session.id, ())
    id_ = amendment_id(session, added, made_on)
    return Amendment(id_, session.id, AUTHOR, ADDED_LATER, at, added, made_on=made_on)
