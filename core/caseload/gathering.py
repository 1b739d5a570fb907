"""Makes the facts of one chart: its treatment cycles, and what was measured around each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ..agreement.pairs import examiner_of
from ..change.change import AngleChange, ChangeLimits
from ..change.compare import Basis, limits_of
from ..chart.chain import dispute
from ..chart.chart import Chart
from ..chart.cycles import OPENERS, TreatmentCycle, before_window, cycles_of, nearest
from ..chart.goals import goals_of
from ..chart.patient import Patient
from ..chart.session import Session
from ..tardieu.measured import catch_of
from ..tardieu.measurement_error import Asked, Found, Quantity
from ..tardieu.muscle import same_group
from ..tardieu.reading import Reading, Side
from .facts import ChartFacts, CycleFacts, SessionFacts, Take, TreatedStation

Joint = tuple[str, Side]
"""Muscle group and side."""


class Judge:
    """Says which changes are beyond error; figures that were found once are kept."""

    def __init__(self, basis: Basis) -> None:
        self.basis = basis
        self._found: dict[Asked, Found] = {}

    def changes(
        self,
        patient: Patient,
        sessions: tuple[Session, Session],
        readings: tuple[Reading, Reading],
    ) -> tuple[AngleChange, AngleChange]:
        """Hold the changes of R1 and R2 against their figures."""
        then, now = readings
        limits = limits_of(patient, sessions, now, self.basis)
        r1, r2 = (then.r1_stretch, now.r1_stretch), (then.r2_stretch, now.r2_stretch)
        return self._change("R1", r1, limits), self._change("R2", r2, limits)

    def _change(
        self, name: Quantity, pair: tuple[int | None, int | None], limits: ChangeLimits
    ) -> AngleChange:
        asked = replace(limits.asked, quantity=name)
        if asked not in self._found:
            self._found[asked] = limits.figure(name)
        then, now = pair
        change = None if then is None or now is None else now - then
        errs = limits.level, limits.reading_error, limits.reading_step
        return AngleChange(name, then, now, change, self._found[asked], *errs)


def facts_of(chart: Chart, judge: Judge) -> ChartFacts:
    """Make the facts of a chart.

    Args:
        chart: the chart.
        judge: by which changes are told.
    """
    sessions = chart.by_date
    making = _Making(chart, sessions, judge)
    cycles = [making.cycle(one) for kind in OPENERS for one in cycles_of(chart.events, kind)]
    patient = chart.patient
    return ChartFacts(
        patient.code,
        patient.diagnosis,
        patient.sex,
        patient.affected,
        patient.age_in(sessions[-1].when) if sessions else None,
        tuple(sorted(cycles, key=lambda one: (one.date, one.kind))),
        tuple(map(session_facts, sessions)),
        len(chart.problems),
    )


def session_facts(session: Session) -> SessionFacts:
    """Count what one session says of how the record is kept."""
    readings = session.readings
    angles = [angle for one in readings for angle in (one.r1, one.r2) if angle is not None]
    return SessionFacts(
        session.when.date().isoformat(),
        examiner_of(session),
        session.recorder,
        len(readings),
        sum(len(one.overrides) for one in readings),
        sum(bool(one.flags) for one in readings),
        len(angles),
        sum(angle % 5 == 0 for angle in angles),
        sum(bool(one.not_tested) for one in readings),
    )


class _Making:
    """What the cycles of one chart share."""

    def __init__(self, chart: Chart, sessions: Sequence[Session], judge: Judge) -> None:
        self._chart = chart
        self._sessions = sessions
        self._days = [session.when.date() for session in sessions]
        self._judge = judge
        self._windows = judge.basis.settings.cycle_windows

    def cycle(self, cycle: TreatmentCycle) -> CycleFacts:
        """Make the facts of one cycle."""
        days = self._days_since(cycle)
        stations = [self._station(cycle, joint, days) for joint in self._joints(cycle, days)]
        goals = [g for g in goals_of(self._chart.events, cycle.until) if g.day == cycle.day]
        return CycleFacts(
            cycle.kind,
            cycle.day.isoformat(),
            cycle.until.isoformat() if cycle.until else "",
            self._chart.patient.age_in(cycle.day),
            tuple(stations),
            tuple((goal.score, goal.weight) for goal in goals),
        )

    def _days_since(self, cycle: TreatmentCycle) -> dict[int, int]:
        """Give the sessions around a treatment, by their number, the days since it."""
        first = min((window.first for window in self._windows), default=0)
        found = {n: cycle.day_of(day) for n, day in enumerate(self._days)}
        return {n: day for n, day in found.items() if day is not None and day >= first}

    def _joints(self, cycle: TreatmentCycle, sessions: Iterable[int]) -> list[Joint]:
        """List the treated muscle groups: those measured, then those that nobody measured."""
        found: dict[Joint, None] = {}
        for number in sessions:
            for reading in self._sessions[number].readings:
                if cycle.treated(reading.muscle, reading.side):
                    found[reading.muscle, reading.side] = None
        for event in cycle.events:
            sides = [Side(event.side)] if event.side else []
            for side in sides if event.muscle else []:
                if not any(s is side and same_group(m, event.muscle) for m, s in found):
                    found[event.muscle, side] = None
        order = {id_: place for place, id_ in enumerate(self._judge.basis.muscles)}
        return sorted(found, key=lambda one: (order.get(one[0], len(order)), one[1]))

    def _station(self, cycle: TreatmentCycle, joint: Joint, days: dict[int, int]) -> TreatedStation:
        seen = {n: found for n in days if (found := _reading(self._sessions[n], *joint))}
        before = before_window(self._windows)
        base = nearest({n: days[n] for n in seen}, before) if before else None
        then = None if base is None else seen[base]
        takes = (self._take(n, days[n], one, base, then or one) for n, one in seen.items())
        return TreatedStation(joint[0], joint[1].value, tuple(takes))

    def _take(
        self, number: int, day: int, reading: Reading, base: int | None, then: Reading
    ) -> Take:
        same_speed = then.fast_velocity == reading.fast_velocity
        r1 = r2 = None
        has_figure = False
        if base is not None and day > 0:
            sessions = (self._sessions[base], self._sessions[number])
            changes = self._judge.changes(self._chart.patient, sessions, (then, reading))
            r1, r2 = (change.direction for change in changes)
            has_figure = changes[0].mdc is not None
        return Take(
            day,
            number,
            examiner_of(self._sessions[number]),
            reading.r1_stretch,
            reading.r2_stretch,
            reading.quality,
            catch_of(reading),
            reading.not_tested,
            r1 if same_speed else None,
            r2,
            same_speed,
            has_figure,
        )


def _reading(session: Session, muscle: str, side: Side) -> Reading | None:
    """Find the reading of a station; the one at V3 where there are two.

    One about which amendments disagree has no values, as no change of it is told elsewhere.
    """
    found = session.readings_of(muscle, side)
    one = max(found, key=lambda one: one.fast_velocity == "V3", default=None)
    if one is None or not dispute(one):
        return one
    return replace(one, r1=None, r2=None, quality=None, r1_tries=(), not_tested="")
