"""What a computation over the second shelf of the invented clinic should find.

All of it comes from the model in demo/courses.py, nothing from the shelf or from core/caseload: the
windows are filled and the rule is looked at by a few plain lines of their own. A cycle here is one
treatment of one muscle group on one side. The mean change is that of the model: the visits are
those that were made, but how strongly each treatment acted and how each reading was off are
averaged out. So it should lie within the interval of a mean of recorded changes as often as
that interval promises.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import fmean
from typing import Literal

from limbscribe.core.chart.cycles import DEFAULT_CYCLE_WINDOWS, OPENERS
from limbscribe.core.chart.events import TOXIN
from limbscribe.core.chart.windows import Window
from limbscribe.demo.clinic import STARTED
from limbscribe.demo.courses import PATIENTS, SEED, Course, Pair, Station, Taken, Visit
from limbscribe.demo.drawing import draw

RULE = "R1 later by 10 deg or catch gone"
"""The clinic's rule that PlantedCycle.met() looks at, on values as recorded."""

LATER = 10

Value = Literal["r1", "r2", "gap"]


@dataclass(frozen=True, slots=True)
class Seen:
    """What one visit had for one station.

    Attributes:
        days: since the treatment, negative before it.
        taken: as recorded.
        expected: R1 and R2 of the model on that day, deg of stretch.
    """

    days: int
    taken: Taken
    expected: Pair

    def recorded(self, value: Value) -> int | None:
        """A value as recorded, deg of stretch."""
        r1, r2 = self.taken.r1, self.taken.r2
        if value == "gap":
            return None if r1 is None or r2 is None else r2 - r1
        return r1 if value == "r1" else r2

    def modelled(self, value: Value) -> float:
        """The same of the model."""
        r1, r2 = self.expected
        return {"r1": r1, "r2": r2, "gap": r2 - r1}[value]

    @property
    def caught(self) -> bool | None:
        """Whether there was a catch; None where the fast stretch was not tested."""
        return None if self.taken.not_tested else self.taken.r1 is not None


@dataclass(frozen=True, slots=True)
class PlantedCycle:
    """One treatment of one muscle group on one side.

    Attributes:
        code: of the patient.
        kind: of the event that opened it.
        day: of that event.
        station: muscle group and side.
        before: the visit that counts in the window before, None without one.
        after: by the name of each later window the visit that counts, None without one.
        missed: names of the later windows that were over without a visit.
    """

    code: str
    kind: str
    day: date
    station: Station
    before: Seen | None
    after: Mapping[str, Seen | None]
    missed: frozenset[str]

    def met(self, window: str) -> bool | None:
        """Whether RULE is met in a window; None when what was recorded does not tell."""
        before, after = self.before, self.after[window]
        if before is None or after is None or not before.caught or after.caught is None:
            return None
        change = self.change(window, "r1")
        return change is None or change >= LATER

    def gone(self, window: str) -> bool:
        """Whether there was a catch before, and none in the window."""
        before, after = self.before, self.after[window]
        return bool(before and after and before.caught and after.caught is False)

    def change(self, window: str, value: Value) -> int | None:
        """Recorded change since before, deg; None without both values."""
        before, after = self.before, self.after[window]
        if before is None or after is None:
            return None
        was, is_ = before.recorded(value), after.recorded(value)
        return None if was is None or is_ is None else is_ - was

    def expected_change(self, window: str, value: Value) -> float | None:
        """The model's change for the same two visits, where change() has one."""
        before, after = self.before, self.after[window]
        if before is None or after is None or self.change(window, value) is None:
            return None
        return after.modelled(value) - before.modelled(value)


@dataclass(frozen=True, slots=True)
class PlantedWindow:
    """One muscle group, or one station, in one window.

    Attributes:
        n: cycles with a visit in it and one before.
        missed: cycles for which it was over without a visit.
        r1, r2, gap: the model's mean change among cycles with both values, deg; None without.
        r1_n, r2_n, gap_n: how many these are.
        gone: catches gone.
        met: cycles that meet RULE.
        told: cycles of which that can be said.
        not_tested: how many of the n were not tested, by reason as stored.
    """

    n: int
    missed: int
    r1: float | None
    r1_n: int
    r2: float | None
    r2_n: int
    gap: float | None
    gap_n: int
    gone: int
    met: int
    told: int
    not_tested: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Planted:
    """The truth of a shelf that build_caseload() makes with the same arguments.

    Attributes:
        patients: how many.
        sessions: closed ones.
        cycles: by patient, kind, day and station.
        on: the day on which windows are over or not.
    """

    patients: int
    sessions: int
    cycles: tuple[PlantedCycle, ...]
    on: date

    def of(self, muscle: str, side: str = "", kind: str = TOXIN) -> tuple[PlantedCycle, ...]:
        """The cycles of a muscle group, on one side or both."""
        return tuple(
            one
            for one in self.cycles
            if (one.kind, one.station[0]) == (kind, muscle) and side in ("", one.station[1])
        )

    def window(self, muscle: str, window: str, side: str = "", kind: str = TOXIN) -> PlantedWindow:
        """What should be found for a muscle group in a window."""
        return window_of(self.of(muscle, side, kind), window)


def planted(
    patients: int = PATIENTS,
    seed: int = SEED,
    visits: int | None = None,
    on: date | None = None,
    windows: Sequence[Window] = DEFAULT_CYCLE_WINDOWS,
) -> Planted:
    """Say what is planted in the shelf of the same patients, seed and visits.

    Args:
        patients: as in build_caseload().
        seed: as in build_caseload().
        visits: as in build_caseload().
        on: the day to look from; None for the day on which the demo plays.
        windows: the first lies before the treatment.
    """
    on = on or STARTED.date()
    found = tuple(draw(patients, seed, visits))
    cycles = tuple(one for course in found for one in _cycles(course, on, windows))
    return Planted(patients, sum(len(course.visits) for course in found), cycles, on)


def window_of(cycles: Iterable[PlantedCycle], window: str) -> PlantedWindow:
    """Count what cycles have in a window."""
    cycles = tuple(cycles)
    both = [one for one in cycles if one.before and one.after[window]]
    r1, r2, gap = (
        [change for one in both if (change := one.expected_change(window, value)) is not None]
        for value in ("r1", "r2", "gap")
    )
    met = [one.met(window) for one in both]
    seen = (one.after[window] for one in both)
    reasons = (one.taken.not_tested.partition(":")[0] for one in seen if one)
    return PlantedWindow(
        n=len(both),
        missed=sum(window in one.missed for one in cycles),
        r1=fmean(r1) if r1 else None,
        r1_n=len(r1),
        r2=fmean(r2) if r2 else None,
        r2_n=len(r2),
        gap=fmean(gap) if gap else None,
        gap_n=len(gap),
        gone=sum(one.gone(window) for one in both),
        met=met.count(True),
        told=len(met) - met.count(None),
        not_tested=dict(Counter(filter(None, reasons))),
    )


def _cycles(course: Course, on: date, windows: Sequence[Window]) -> Iterator[PlantedCycle]:
    first, *later = windows
    for kind in OPENERS:
        treatments = [one for one in course.treatments if one.kind == kind]
        for one, following in pairwise([*treatments, None]):
            if one is None:
                continue
            until = following.day if following else date.max
            visits = [visit for visit in course.visits if visit.day <= until]
            over = {w.name for w in later if (on - one.day).days > w.last}
            for station in one.stations:
                seen = [_seen(course, station, visit, one.day) for visit in visits]
                after = {w.name: _counting(seen, w) for w in later}
                missed = frozenset(name for name in over if after[name] is None)
                before = _counting(seen, first)
                yield PlantedCycle(
                    course.patient.code, kind, one.day, station, before, after, missed
                )


def _seen(course: Course, station: Station, visit: Visit, day: date) -> Seen:
    taken = next(one for one in visit.taken if one.station == station)
    return Seen((visit.day - day).days, taken, course.expected(station, visit.day))


def _counting(seen: Iterable[Seen], window: Window) -> Seen | None:
    """The visit nearest to the middle of a window; of two as near the earlier."""
    inside = [one for one in seen if window.first <= one.days <= window.last]
    middle = (window.first + window.last) / 2
    return min(inside, key=lambda one: (abs(one.days - middle), one.days), default=None)
