"""The model behind the second shelf of the invented clinic: how many patients fare.

Everything here is made up in round numbers, so that a computation over many patients can be held
against what was put in. Nobody real and no data set stands behind it, and it says nothing of
what any treatment does. Angles are degrees of stretch, see core/tardieu/angles.py.

In words:

- A patient belongs to one of GROUPS: a diagnosis, an age, the muscle groups that are treated, and
  one that is measured beside them and never treated. Some are treated on both sides.
- Before any treatment R1 lies about the mean of START with a standard deviation of 7 deg between
  people, and R2 beyond it by anything between the least and the largest gap.
- Toxin moves R1 and R2 by the degrees of START at the top, times the share of SHAPES for the days
  since: it rises for four weeks, stays for two and a half, and wanes until day 170. A cast or
  surgery moves both by the degrees of OTHERS. Each treatment of each muscle group does so by
  half to one and a half times as much, by chance and 1 on average. Only the latest one counts.
- The catch is gone by chance alone, a quarter as often as the share says, and one time in
  thirty beside that. It does not depend on the angles, so leaving those readings out does not
  shift the mean of the others.
- One patient in five loses range: 4 to 10 deg a year of both R1 and R2.
- A reading is off by chance: the day moves R1 of all muscle groups of a visit by one draw with a
  standard deviation of 2 deg, and each R1 and R2 has one of its own of 4.5 and 4 deg. A pair
  with R1 beyond R2 is drawn anew, which hardly ever happens.
- Examiners: BN reads as it is, DU to 5 deg, GO 2 deg later than the others. A patient mostly
  has the same one. Recorders: KI writes "not tested" more often, MZ overrides the seconds of
  some clonus with a reason.
- Treatments come 120 to 180 days apart. The visit before lies 0 to 14 days ahead of each, and
  visits follow on days 30 to 45, 54 to 78 and 86 to 104, of which every tenth, fifth and fourth is
  missed. Some first treatments had no visit before.
- Not tested, with a reason: some readings of the first two visits after toxin, or of the very
  first visit. So no window of days holds one beside another visit, and which visit of a window
  counts does not depend on what was measured in it.
- Goals are set with toxin, some with a weight, and mostly scored at the first visit after day 28.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from random import Random

from ..core.chart.events import TOXIN
from ..core.chart.patient import Patient
from .clinic import STARTED

SEED = 18
PATIENTS = 60

Station = tuple[str, str]
"""Muscle group and side."""

Pair = tuple[float, float]
"""R1 and R2, or what is added to them; deg."""


@dataclass(frozen=True, slots=True)
class Start:
    """A muscle group before any treatment, deg.

    Attributes:
        r1: mean of R1 between people.
        gap: least and largest R2 - R1.
        toxin: what toxin adds to R1 and R2 at the top.
    """

    r1: float
    gap: tuple[float, float]
    toxin: Pair


START = {
    "elbow-flexors": Start(-72, (38, 52), (16, 3)),
    "wrist-flexors": Start(-12, (36, 50), (13, 4)),
    "finger-flexors": Start(-30, (38, 50), (15, 5)),
    "hip-adductors": Start(4, (32, 42), (9, 3)),
    "hamstrings": Start(-68, (34, 48), (12, 4)),
    "gastrocnemius": Start(-28, (34, 46), (14, 5)),
    "soleus": Start(-20, (34, 46), (11, 4)),
}

OTHERS: dict[str, Pair] = {"cast-on": (6, 10), "surgery": (10, 14)}
"""Kind of event -> what it adds to R1 and R2 at the top, whatever the muscle group; deg."""

SHAPES = {
    TOXIN: ((0, 0.0), (14, 0.7), (28, 1.0), (45, 1.0), (84, 0.5), (140, 0.1), (170, 0.0)),
    "cast-on": ((0, 0.0), (28, 1.0), (45, 1.0), (120, 0.4), (300, 0.0)),
    "surgery": ((0, 0.0), (42, 0.6), (120, 1.0)),
}
"""Kind of event -> share of the effect by days since; straight lines between them."""

BETWEEN_PEOPLE, DAY, READ_R1, READ_R2 = 7.0, 2.0, 4.5, 4.0
"""deg, standard deviations; the last three make an error of about 5 deg for one R1."""

CAST_DAYS = 21
FOLLOW_UPS = ((30, 45, 0.9), (54, 78, 0.8), (86, 104, 0.75))
"""First and last day after a treatment, and how often somebody comes."""

NOT_TESTED = ("pain", "refused", "resisted", "no-time", "other: the splint stayed on")


@dataclass(frozen=True, slots=True)
class Group:
    """A kind of patient.

    Attributes:
        diagnosis: key of patient.DIAGNOSIS_GROUPS.
        ages: youngest and oldest, years.
        both: both sides are treated and measured.
        treated: muscle groups that are treated.
        beside: one that is measured only.
    """

    diagnosis: str
    ages: tuple[int, int]
    both: bool
    treated: tuple[str, ...]
    beside: str


_ARM = ("elbow-flexors", "wrist-flexors", "finger-flexors")
_CALF = ("gastrocnemius", "soleus")
GROUPS = (
    Group("stroke", (48, 79), False, _ARM, "soleus"),
    Group("stroke", (48, 79), False, (*_CALF, "hamstrings"), "elbow-flexors"),
    Group("cerebral-palsy", (5, 14), True, (*_CALF, "hamstrings"), "hip-adductors"),
    Group("brain-injury", (19, 55), False, _ARM, "gastrocnemius"),
    Group("multiple-sclerosis", (30, 66), True, ("hip-adductors", "hamstrings"), "soleus"),
    Group("stroke", (48, 79), False, ("elbow-flexors", "finger-flexors"), "wrist-flexors"),
    Group("spinal-cord", (20, 70), True, ("hip-adductors", "soleus"), "gastrocnemius"),
    Group("cerebral-palsy", (4, 12), True, _CALF, "hamstrings"),
    Group("brain-injury", (19, 55), False, (*_CALF, "hamstrings"), "wrist-flexors"),
    Group("cerebral-palsy", (6, 15), True, ("hamstrings", "gastrocnemius"), "soleus"),
)

SELDOM = {9: "cast-on", 19: "surgery"}
"""Of twenty patients, by place, those who have something else than toxin."""


@dataclass(frozen=True, slots=True)
class Habit:
    """How an examiner reads: to so many deg, and so many deg later."""

    step: int = 1
    later: int = 0


EXAMINERS = {"BN": Habit(), "DU": Habit(step=5), "GO": Habit(later=2)}
RECORDERS = {"FY": 0.02, "KI": 0.08, "MZ": 0.03}
"""Recorder -> how often a reading is not tested where that may be."""


@dataclass(frozen=True, slots=True)
class Treatment:
    """One treatment of one day."""

    kind: str
    day: date
    stations: tuple[Station, ...]


@dataclass(frozen=True, slots=True)
class Taken:
    """One reading as recorded, angles in deg of stretch.

    Attributes:
        station: muscle group and side.
        r1: None without a catch, or without a test.
        r2: None without a test.
        quality: grade, None without a fast stretch.
        clonus_s: s, or None.
        not_tested: the reason as a file has it, "" when tested.
        override: as a file has it, "" without.
    """

    station: Station
    r1: int | None = None
    r2: int | None = None
    quality: int | None = None
    clonus_s: int | None = None
    not_tested: str = ""
    override: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    """One session."""

    day: date
    time: str
    examiner: str
    recorder: str
    taken: tuple[Taken, ...]

    def of(self, station: Station) -> Taken:
        """The reading of a station; every visit has one of each."""
        return next(taken for taken in self.taken if taken.station == station)


@dataclass(frozen=True, slots=True)
class Goal:
    """A goal of the treatment of a day, with its score and the day of that, if scored."""

    text: str
    day: date
    weight: float | None
    score: int | None
    scored: date | None


@dataclass(frozen=True, slots=True)
class Course:
    """One patient: what was done, and what was recorded.

    Attributes:
        patient: the patient.
        start: R1 and R2 of each station before any treatment, deg.
        loss: deg a year of R1 and R2.
        treatments: from the earliest.
        visits: from the earliest.
        goals: from the earliest.
        habitual: examiner and recorder of most visits.
    """

    patient: Patient
    start: dict[Station, Pair]
    loss: float
    treatments: tuple[Treatment, ...]
    visits: tuple[Visit, ...]
    goals: tuple[Goal, ...]
    habitual: tuple[str, str]

    def expected(self, station: Station, day: date) -> Pair:
        """Compute R1 and R2 on a day as they are on average over chance, deg."""
        return expected(station, self.start[station], self.loss, self.treatments, day)


def courses(
    patients: int = PATIENTS, seed: int = SEED, visits: int | None = None
) -> Iterator[Course]:
    """Draw patients; each is the same however many there are.

    Args:
        patients: how many.
        seed: another one is another clinic.
        visits: so many for each patient; None for as many as chance gives.
    """
    for number in range(patients):
        yield _Drawing(number, seed).course(visits)


def expected(
    station: Station,
    start: Pair,
    loss: float,
    treatments: Iterable[Treatment],
    day: date,
    strength: float = 1.0,
) -> Pair:
    """R1 and R2 of a station on a day, deg.

    A visit on the day of a treatment comes before it.

    Args:
        station: muscle group and side.
        start: before any treatment, deg.
        loss: deg a year of both.
        treatments: all of the patient.
        day: the day.
        strength: how strongly the latest treatment acts here; 1 on average.
    """
    lost = loss * (day - STARTED.date()).days / 365
    latest = latest_treatment(treatments, station, day)
    adds = (0.0, 0.0) if latest is None else top_of(latest.kind, station[0])
    share = 0.0 if latest is None else strength * share_of(latest.kind, (day - latest.day).days)
    return start[0] + share * adds[0] - lost, start[1] + share * adds[1] - lost


def top_of(kind: str, muscle: str) -> Pair:
    """What a treatment adds to R1 and R2 of a muscle group at the top, deg."""
    return START[muscle].toxin if kind == TOXIN else OTHERS[kind]


def share_of(kind: str, days: int) -> float:
    """Share of the effect so many days after a treatment."""
    shape = SHAPES[kind]
    for (before, low), (after, high) in pairwise(shape):
        if days <= after:
            return low + (high - low) * (days - before) / (after - before)
    return shape[-1][1]


def latest_treatment(
    treatments: Iterable[Treatment], station: Station, day: date
) -> Treatment | None:
    """The latest treatment of a station before a day that has an effect of its own."""
    before = [
        one
        for one in treatments
        if one.day < day and station in one.stations and one.kind in SHAPES
    ]
    return max(before, key=lambda one: one.day, default=None)


GOAL_TEXTS = (
    "opens the hand for washing",
    "puts on a sleeve with one helper",
    "stands flat on both feet at the sink",
    "wears the splint through the night",
    "sits in the chair for one meal",
    "walks indoors with the heel down",
)


class _Drawing:
    """Draws one patient, in an order that must not change: the draws follow one another."""

    def __init__(self, number: int, seed: int) -> None:
        self._chance = Random(f"{seed}/{number}")
        self._number = number
        self._group = GROUPS[number % len(GROUPS)]
        self._kind = SELDOM.get(number % 20, TOXIN)
        self._strength: dict[tuple[date, Station], float] = {}

    def course(self, visits: int | None) -> Course:
        patient = self._patient()
        sides = ("left", "right") if self._group.both else (patient.affected,)
        muscles = (*self._group.treated, self._group.beside)
        start = {(muscle, side): self._start(muscle) for muscle in muscles for side in sides}
        loss = self._chance.uniform(4, 10) if self._chance.random() < 0.2 else 0.0
        treatments = self._treatments(visits, sides)
        days = self._days([one.day for one in treatments if one.kind == self._kind])
        if visits is not None:
            days = days[-visits:]
            treatments = [one for one in treatments if one.day >= days[0]]
        habitual = self._chance.choice(list(EXAMINERS)), self._chance.choice(list(RECORDERS))
        course = Course(patient, start, loss, tuple(treatments), (), (), habitual)
        self._clonus = {
            station for station in start if station[0] in _CALF and self._chance.random() < 0.3
        }
        taken = tuple(self._visit(course, day, day == days[0]) for day in days)
        goals = tuple(self._goals(treatments, days))
        return Course(patient, start, loss, tuple(treatments), taken, goals, habitual)

    def _patient(self) -> Patient:
        group, chance = self._group, self._chance
        age = chance.randint(*group.ages)
        tall = 82 + 6 * age if age < 15 else chance.randint(154, 188)
        return Patient(
            code=f"CASE-{self._number + 1:03d}",
            birth_year=STARTED.year - age,
            sex=chance.choice(("female", "male")),
            diagnosis=group.diagnosis,
            affected="both" if group.both else chance.choice(("left", "right")),
            height_cm=tall,
            birth_month=chance.randint(1, STARTED.month),
        )

    def _start(self, muscle: str) -> Pair:
        r1 = self._chance.gauss(START[muscle].r1, BETWEEN_PEOPLE)
        return r1, r1 + self._chance.uniform(*START[muscle].gap)

    def _treatments(self, visits: int | None, sides: Sequence[str]) -> list[Treatment]:
        """From the latest back to the first."""
        chance = self._chance
        most = {TOXIN: 4, "cast-on": 2, "surgery": 1}[self._kind]
        count = chance.randint(1, most) if visits is None else visits + 1
        day = STARTED.date() - timedelta(days=chance.randint(5, 330))
        found: list[Treatment] = []
        for _ in range(count):
            stations = self._treated(sides)
            if self._kind == "cast-on":
                off = day + timedelta(days=CAST_DAYS)
                found.append(Treatment("cast-off", off, stations))
            found.append(Treatment(self._kind, day, stations))
            day -= timedelta(days=chance.randint(120, 180))
        today = STARTED.date()
        return [one for one in reversed(found) if one.day < today]

    def _treated(self, sides: Sequence[str]) -> tuple[Station, ...]:
        first, *others = self._group.treated
        muscles = [first, *(one for one in others if self._chance.random() < 0.85)]
        return tuple((muscle, side) for muscle in muscles for side in sides)

    def _days(self, treated: Sequence[date]) -> list[date]:
        """Days of the visits, from the earliest."""
        chance = self._chance
        days: list[date] = []
        for place, day in enumerate(treated):
            before = day - timedelta(days=chance.randint(0, 14))
            if place > 0 or chance.random() > 0.06:
                days.append(before)
            for first, last, share in FOLLOW_UPS:
                when = day + timedelta(days=chance.randint(first, last))
                if chance.random() < share:
                    days.append(when)
        return [day for day in days if day < STARTED.date()]

    def _visit(self, course: Course, day: date, first: bool) -> Visit:
        chance = self._chance
        examiner, recorder = course.habitual
        if chance.random() < 0.15:
            examiner = chance.choice(list(EXAMINERS))
        if chance.random() < 0.3:
            recorder = chance.choice(list(RECORDERS))
        time = f"{chance.randint(8, 15):02d}:{5 * chance.randint(0, 11):02d}"
        may_miss = self._may_miss(course.treatments, day, first)
        tone = chance.gauss(0, DAY)
        taken: list[Taken] = []
        for station in course.start:
            left_out = may_miss and chance.random() < RECORDERS[recorder]
            pair = self._read(course, station, day, tone, EXAMINERS[examiner])
            taken.append(self._taken(course, station, day, pair, left_out, recorder))
        return Visit(day, time, examiner, recorder, tuple(taken))

    def _may_miss(self, treatments: Sequence[Treatment], day: date, first: bool) -> bool:
        """See the words on what is not tested at the top of the module."""
        if self._kind != TOXIN or not treatments:
            return False
        if first and 0 <= (treatments[0].day - day).days <= 14:
            return True
        since = min(((day - one.day).days for one in treatments if one.day < day), default=None)
        return since is not None and since < FOLLOW_UPS[2][0]

    def _read(
        self, course: Course, station: Station, day: date, tone: float, habit: Habit
    ) -> tuple[int, int]:
        """R1 and R2 as this examiner reads them, deg of stretch."""
        chance = self._chance
        true = expected(
            station,
            course.start[station],
            course.loss,
            course.treatments,
            day,
            self._strength_of(course.treatments, station, day),
        )
        while True:
            r1 = true[0] + tone + habit.later + chance.gauss(0, READ_R1)
            r2 = true[1] + habit.later + chance.gauss(0, READ_R2)
            pair = habit.step * round(r1 / habit.step), habit.step * round(r2 / habit.step)
            if pair[0] <= pair[1]:
                return pair

    def _strength_of(self, treatments: Sequence[Treatment], station: Station, day: date) -> float:
        latest = latest_treatment(treatments, station, day)
        if latest is None:
            return 1.0
        key = (latest.day, station)
        if key not in self._strength:
            self._strength[key] = self._chance.uniform(0.5, 1.5)
        return self._strength[key]

    def _taken(
        self,
        course: Course,
        station: Station,
        day: date,
        pair: tuple[int, int],
        left_out: bool,
        recorder: str,
    ) -> Taken:
        chance = self._chance
        r1, r2 = pair
        if left_out:
            slow = r2 if chance.random() < 0.5 else None
            return Taken(station, r2=slow, not_tested=chance.choice(NOT_TESTED))
        latest = latest_treatment(course.treatments, station, day)
        share = share_of(latest.kind, (day - latest.day).days) if latest else 0.0
        if chance.random() < 1 / 30 + share / 4:
            return Taken(station, r2=r2, quality=chance.choice((0, 1, 1)))
        if station not in self._clonus:
            return Taken(station, r1, r2, 2)
        if recorder == "MZ" and chance.random() < 0.4:
            said = "clonus-too-long: two bursts, timed as one"
            return Taken(station, r1, r2, 3, chance.randint(11, 14), override=said)
        return Taken(station, r1, r2, 3, chance.randint(3, 9))

    def _goals(self, treatments: Sequence[Treatment], days: Sequence[date]) -> Iterator[Goal]:
        chance = self._chance
        weighed = chance.random() < 0.3
        for one in treatments:
            if one.kind != TOXIN:
                continue
            for text in chance.sample(GOAL_TEXTS, chance.randint(0, 2)):
                weight = float(chance.randint(1, 3)) if weighed else None
                later = (day for day in days if 28 < (day - one.day).days <= 104)
                scored = next(later, None) if chance.random() < 0.85 else None
                score = chance.choice((-2, -1, -1, 0, 0, 0, 1, 1, 2)) if scored else None
                yield Goal(text, one.day, weight, score, scored)
