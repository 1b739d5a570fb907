"""Makes the facts of one chart: its treatment cycles, and what was measured around each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ..change.compare import Basis, CompareRow, compare
from ..chart.chart import Chart
from ..chart.cycles import OPENERS, TreatmentCycle, before_window, cycles_of, nearest
from ..chart.goals import goals_of
from ..chart.session import Session
from ..chart.windows import Window
from ..tardieu.measured import catch_of
from ..tardieu.muscle import same_group
from ..tardieu.reading import Reading, Side
from .facts import ChartFacts, CycleFacts, SessionFacts, Take, TreatedStation

Joint = tuple[str, Side]
"""Muscle group and side."""


def facts_of(chart: Chart, basis: Basis) -> ChartFacts:
    """Make the facts of a chart.

    Args:
        chart: the chart.
        basis: muscle groups, settings and figures.
    """
    sessions = chart.by_date
    making = _Making(chart, sessions, basis)
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
        session.examiner,
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

    def __init__(self, chart: Chart, sessions: Sequence[Session], basis: Basis) -> None:
        self._chart = chart
        self._sessions = sessions
        self._basis = basis
        self._windows = basis.settings.cycle_windows

    def cycle(self, cycle: TreatmentCycle) -> CycleFacts:
        """Make the facts of one cycle."""
        days = self._days(cycle)
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

    def _days(self, cycle: TreatmentCycle) -> dict[int, int]:
        """Give the sessions around a treatment, by their number, the days since it."""
        first = min((window.first for window in self._windows), default=0)
        found = {n: cycle.day_of(one.when.date()) for n, one in enumerate(self._sessions)}
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
        order = {id_: place for place, id_ in enumerate(self._basis.muscles)}
        return sorted(found, key=lambda one: (order.get(one[0], len(order)), one[1]))

    def _station(self, cycle: TreatmentCycle, joint: Joint, days: dict[int, int]) -> TreatedStation:
        seen = {n: found for n in days if (found := _reading(self._sessions[n], *joint))}
        before = before_window(self._windows)
        base = nearest({n: days[n] for n in seen}, before) if before else None
        judged: dict[int, Take] = {}
        for number, reading in seen.items():
            row = None
            if base is not None and days[number] > 0:
                row = self._row((base, seen[base]), (number, reading))
            judged[number] = self._take(number, days[number], reading, row)
        takes = [self._chosen(window, days, judged) for window in self._windows]
        back = _back(judged[base], judged.values()) if base is not None else (None, None)
        return TreatedStation(joint[0], joint[1].value, tuple(takes), *back)

    def _chosen(self, window: Window, days: dict[int, int], takes: dict[int, Take]) -> Take | None:
        number = nearest({n: days[n] for n in takes}, window)
        return None if number is None else takes[number]

    def _take(self, number: int, day: int, reading: Reading, row: CompareRow | None) -> Take:
        then = row.before if row else None
        same_speed = then is None or then.fast_velocity == reading.fast_velocity
        return Take(
            day,
            number,
            self._sessions[number].examiner,
            reading.r1_stretch,
            reading.r2_stretch,
            reading.quality,
            catch_of(reading),
            reading.not_tested,
            row.change.r1.direction if row and same_speed else None,
            row.change.r2.direction if row else None,
            same_speed,
        )

    def _row(self, before: tuple[int, Reading], after: tuple[int, Reading]) -> CompareRow:
        """Compare one reading with the one before the treatment."""
        then, now = (
            replace(self._sessions[number], readings=(reading,))
            for number, reading in (before, after)
        )
        return compare(self._chart.patient, then, now, (), self._basis).rows[0]


def _reading(session: Session, muscle: str, side: Side) -> Reading | None:
    """Find the reading of a station; the one at V3 where there are two."""
    found = session.readings_of(muscle, side)
    return max(found, key=lambda one: one.fast_velocity == "V3", default=None)


def _back(base: Take, takes: Iterable[Take]) -> tuple[int | None, int | None]:
    """Days until R1 was back within error after having been beyond, and days watched."""
    away = False
    watched: int | None = None
    for take in sorted(takes, key=lambda one: one.day):
        if take.day <= 0 or not base.caught or not take.same_speed:
            continue
        gone = take.caught is False
        if gone or take.r1_direction not in (None, 0):
            away = True
        elif take.r1_direction == 0 and away:
            return take.day, take.day
        if away:
            watched = take.day
    return None, watched
