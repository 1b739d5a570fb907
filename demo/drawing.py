"""Draws the patients of the model in courses.py: how each fared, and what was recorded of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from random import Random

from ..core.chart.events import TOXIN
from ..core.chart.patient import Patient
from . import courses as model
from .clinic import STARTED
from .courses import Course, Goal, Pair, Station, Taken, Treatment, Visit


def draw(
    patients: int = model.PATIENTS, seed: int = model.SEED, visits: int | None = None
) -> Iterator[Course]:
    """Draw patients; each is the same however many there are.

    Args:
        patients: how many.
        seed: another one is another clinic.
        visits: so many for each patient; None for as many as chance gives.
    """
    for number in range(patients):
        yield _Drawing(number, seed).course(visits)


class _Drawing:
    """Draws one patient. The draws follow one another: in another order they are others."""

    def __init__(self, number: int, seed: int) -> None:
        self._chance = Random(f"{seed}/{number}")
        self._number = number
        self._group = model.GROUPS[number % len(model.GROUPS)]
        self._kind = model.SELDOM.get(number % model.TWENTY, TOXIN)
        self._strengths: dict[tuple[date, Station], float] = {}

    def course(self, visits: int | None) -> Course:
        """Draw what was done and then visit by visit what was recorded."""
        chance, patient = self._chance, self._patient()
        sides = ("left", "right") if self._group.both else (patient.affected,)
        muscles = (*self._group.treated, self._group.beside)
        start = {(muscle, side): self._start(muscle) for muscle in muscles for side in sides}
        loss = chance.uniform(4, 10) if chance.random() < 0.2 else 0.0
        treatments = self._treatments(visits, sides)
        days = self._days([one.day for one in treatments if one.kind == self._kind])
        if visits is not None:
            days = days[-visits:]
            treatments = [one for one in treatments if one.day >= days[0]]
        people = chance.choice(list(model.EXAMINERS)), chance.choice(list(model.RECORDERS))
        course = Course(patient, start, loss, tuple(treatments), people)
        clonus = {one for one in start if one[0] in model.CALF and chance.random() < 0.3}
        return replace(
            course,
            visits=tuple(self._visit(course, day, day == days[0], clonus) for day in days),
            goals=tuple(self._goals(treatments, days)),
        )

    def _patient(self) -> Patient:
        group, chance = self._group, self._chance
        age = chance.randint(*group.ages)
        return Patient(
            code=f"CASE-{self._number + 1:03d}",
            birth_year=STARTED.year - age,
            sex=chance.choice(("female", "male")),
            diagnosis=group.diagnosis,
            affected="both" if group.both else chance.choice(("left", "right")),
            height_cm=82 + 6 * age if age < 15 else chance.randint(154, 188),
            birth_month=chance.randint(1, STARTED.month),
        )

    def _start(self, muscle: str) -> Pair:
        start = model.START[muscle]
        r1 = self._chance.gauss(start.r1, model.BETWEEN_PEOPLE)
        return r1, r1 + self._chance.uniform(*start.gap)

    def _treatments(self, visits: int | None, sides: Sequence[str]) -> list[Treatment]:
        """Draw from the latest back to the first; the list is from the first."""
        chance = self._chance
        most = {TOXIN: 4, "cast-on": 2, "surgery": 1}[self._kind]
        count = chance.randint(1, most) if visits is None else visits + 1
        day = STARTED.date() - timedelta(days=chance.randint(5, 330))
        found: list[Treatment] = []
        for _ in range(count):
            stations = self._treated(sides)
            if self._kind == "cast-on":
                off = day + timedelta(days=model.CAST_DAYS)
                found.append(Treatment("cast-off", off, stations))
            found.append(Treatment(self._kind, day, stations))
            day -= timedelta(days=chance.randint(120, 180))
        return [one for one in reversed(found) if one.day < STARTED.date()]

    def _treated(self, sides: Sequence[str]) -> tuple[Station, ...]:
        first, *others = self._group.treated
        muscles = [first, *(one for one in others if self._chance.random() < 0.85)]
        return tuple((muscle, side) for muscle in muscles for side in sides)

    def _days(self, treated: Sequence[date]) -> list[date]:
        """Draw the days of the visits, from the earliest."""
        chance = self._chance
        days: list[date] = []
        for place, day in enumerate(treated):
            before = day - timedelta(days=chance.randint(0, model.AHEAD))
            if place > 0 or chance.random() > 0.06:
                days.append(before)
            for first, last, share in model.FOLLOW_UPS:
                when = day + timedelta(days=chance.randint(first, last))
                if chance.random() < share:
                    days.append(when)
        return [day for day in days if day < STARTED.date()]

    def _visit(self, course: Course, day: date, first: bool, clonus: set[Station]) -> Visit:
        chance = self._chance
        examiner, recorder = course.habitual
        if chance.random() < 0.15:
            examiner = chance.choice(list(model.EXAMINERS))
        if chance.random() < 0.3:
            recorder = chance.choice(list(model.RECORDERS))
        time = f"{chance.randint(8, 15):02d}:{5 * chance.randint(0, 11):02d}"
        visit, tone = Visit(day, time, examiner, recorder), chance.gauss(0, model.DAY)
        left_out = model.RECORDERS[recorder] if self._may_be_left_out(course, day, first) else 0.0
        taken: list[Taken] = []
        for station in course.start:
            r1, r2 = self._read(course, station, visit, tone)
            if chance.random() < left_out:
                slow = r2 if chance.random() < 0.5 else None
                taken.append(Taken(station, r2=slow, not_tested=chance.choice(model.NOT_TESTED)))
            elif chance.random() < model.gone_share(course.share(station, day)):
                taken.append(Taken(station, r2=r2, quality=chance.choice((0, 1, 1))))
            elif station in clonus:
                taken.append(self._with_clonus(Taken(station, r1, r2, 3), recorder))
            else:
                taken.append(Taken(station, r1, r2, 2))
        return replace(visit, taken=tuple(taken))

    def _may_be_left_out(self, course: Course, day: date, first: bool) -> bool:
        """See the words on what is not tested in courses.py."""
        if self._kind != TOXIN or not course.treatments:
            return False
        if first and 0 <= (course.treatments[0].day - day).days <= model.AHEAD:
            return True
        since = ((day - one.day).days for one in course.treatments if one.day < day)
        third = model.FOLLOW_UPS[2][0]
        return min(since, default=third) < third

    def _read(self, course: Course, station: Station, visit: Visit, tone: float) -> tuple[int, int]:
        """Draw R1 and R2 as the examiner reads them, deg of stretch."""
        chance, habit = self._chance, model.EXAMINERS[visit.examiner]
        r1, r2 = course.expected(station, visit.day, self._strength(course, station, visit.day))
        while True:
            catch = r1 + tone + habit.later + chance.gauss(0, model.READ_R1)
            end = r2 + habit.later + chance.gauss(0, model.READ_R2)
            pair = habit.step * round(catch / habit.step), habit.step * round(end / habit.step)
            if pair[0] <= pair[1]:
                return pair

    def _strength(self, course: Course, station: Station, day: date) -> float:
        latest = course.latest(station, day)
        if latest is None:
            return 1.0
        key = (latest.day, station)
        if key not in self._strengths:
            self._strengths[key] = self._chance.uniform(0.5, 1.5)
        return self._strengths[key]

    def _with_clonus(self, taken: Taken, recorder: str) -> Taken:
        chance = self._chance
        if recorder == "MZ" and chance.random() < 0.4:
            said = "clonus-too-long: two bursts, timed as one"
            return replace(taken, clonus_s=chance.randint(11, 14), override=said)
        return replace(taken, clonus_s=chance.randint(3, 9))

    def _goals(self, treatments: Sequence[Treatment], days: Sequence[date]) -> Iterator[Goal]:
        chance = self._chance
        weighed = chance.random() < 0.3
        for one in treatments:
            if one.kind != TOXIN:
                continue
            for text in chance.sample(model.GOALS, chance.randint(0, 2)):
                weight = float(chance.randint(1, 3)) if weighed else None
                later = (day for day in days if 28 < (day - one.day).days <= 104)
                scored = next(later, None) if chance.random() < 0.85 else None
                score = chance.choice((-2, -1, -1, 0, 0, 0, 1, 1, 2)) if scored else None
                yield Goal(text, one.day, weight, score, scored)
