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

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

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
AHEAD = 14
"""Days by which the visit before may lie ahead of a treatment."""

FOLLOW_UPS = ((30, 45, 0.9), (54, 78, 0.8), (86, 104, 0.75))
"""First and last day after a treatment, and how often somebody comes."""

NOT_TESTED = ("pain", "refused", "resisted", "no-time", "other: the splint stayed on")


GOALS = (
    "opens the hand for washing",
    "puts on a sleeve with one helper",
    "stands flat on both feet at the sink",
    "wears the splint through the night",
    "sits in the chair for one meal",
    "walks indoors with the heel down",
)


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
CALF = ("gastrocnemius", "soleus")
GROUPS = (
    Group("stroke", (48, 79), False, _ARM, "soleus"),
    Group("stroke", (48, 79), False, (*CALF, "hamstrings"), "elbow-flexors"),
    Group("cerebral-palsy", (5, 14), True, (*CALF, "hamstrings"), "hip-adductors"),
    Group("brain-injury", (19, 55), False, _ARM, "gastrocnemius"),
    Group("multiple-sclerosis", (30, 66), True, ("hip-adductors", "hamstrings"), "soleus"),
    Group("stroke", (48, 79), False, ("elbow-flexors", "finger-flexors"), "wrist-flexors"),
    Group("spinal-cord", (20, 70), True, ("hip-adductors", "soleus"), "gastrocnemius"),
    Group("cerebral-palsy", (4, 12), True, CALF, "hamstrings"),
    Group("brain-injury", (19, 55), False, (*CALF, "hamstrings"), "wrist-flexors"),
    Group("cerebral-palsy", (6, 15), True, ("hamstrings", "gastrocnemius"), "soleus"),
)

TWENTY = 20
SELDOM = {9: "cast-on", 19: "surgery"}
"""Of TWENTY patients, by place, those who have something else than toxin."""


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
    taken: tuple[Taken, ...] = ()


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
        start: R1 and R2 of each station without any treatment, on the day the demo plays; deg.
        loss: deg a year of R1 and R2.
        treatments: from the earliest.
        habitual: examiner and recorder of most visits.
        visits: from the earliest.
        goals: from the earliest.
    """

    patient: Patient
    start: Mapping[Station, Pair]
    loss: float
    treatments: tuple[Treatment, ...]
    habitual: tuple[str, str]
    visits: tuple[Visit, ...] = ()
    goals: tuple[Goal, ...] = ()

    def latest(self, station: Station, day: date) -> Treatment | None:
        """Find the latest treatment of a station before a day that has an effect of its own.

        A visit on the day of a treatment comes before it.
        """
        before = (
            one
            for one in reversed(self.treatments)
            if one.kind in SHAPES and one.day < day and station in one.stations
        )
        return next(before, None)

    def share(self, station: Station, day: date) -> float:
        """Compute the share of its effect that the latest treatment has on a day."""
        latest = self.latest(station, day)
        return share_of(latest.kind, (day - latest.day).days) if latest else 0.0

    def expected(self, station: Station, day: date, strength: float = 1.0) -> Pair:
        """Compute R1 and R2 of a station on a day without errors of reading, deg.

        Args:
            station: muscle group and side.
            day: the day.
            strength: how strongly the latest treatment acts here; 1 is the mean.
        """
        latest = self.latest(station, day)
        top = top_of(latest.kind, station[0]) if latest else (0.0, 0.0)
        share = strength * self.share(station, day)
        lost = self.loss * (day - STARTED.date()).days / 365
        r1, r2 = self.start[station]
        return r1 + share * top[0] - lost, r2 + share * top[1] - lost


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


def gone_share(share: float) -> float:
    """How often a catch is gone, by the share of the effect."""
    return 1 / 30 + share / 4
