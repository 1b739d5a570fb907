"""Measurement error: the figure that a change is held against, and where it comes from.

A figure belongs to a quantity, a muscle, a population, same or different raters, an interval
and an instrument. Where one fits in every respect it is Exact. Where none does, the closest
is offered by its name with the respects in which it differs; across limbs nothing is offered.
Nothing is ever borrowed silently.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Quantity = Literal["R1", "R2", "gap"]
QUANTITIES: tuple[Quantity, ...] = ("R1", "R2", "gap")

Level = Literal[90, 95]

AGES = ("children", "adults", "any", "not-stated")
RATERS = ("same", "different", "not-stated")
INTERVALS = ("same-day", "different-days", "not-stated")
INSTRUMENTS = ("goniometer", "inclinometer", "motion-analysis", "visual", "not-stated")

UNSTATED = "not-stated"
ANY = "any"

_Z = {90: 1.645, 95: 1.96}

# How far a misfit puts a figure back when the closest is looked for; half where either side is
# not stated. The order is ours, common practice, no published source: another muscle weighs
# more than everything else together, a limb as a whole less than its people and instrument
# being others (a child in the clinic is nearer to children in the clinic than to adults
# measured by motion analysis, whatever the muscle).
_COST = {
    "muscle": 100,
    "limb as a whole": 15,
    "test position": 20,
    "population": 10,
    "age": 10,
    "raters": 8,
    "instrument": 10,
    "interval": 4,
}


def mdc_of_sem(sem: float, level: Level = 95) -> float:
    """Smallest detectable change of one person measured twice: z * sqrt(2) * SEM, deg."""
    return _Z[level] * math.sqrt(2) * sem


def sem_of_mdc(mdc: float, level: Level) -> float:
    """The SEM (deg) behind a smallest detectable change (deg)."""
    return mdc / (_Z[level] * math.sqrt(2))


def sem_of_mad(mad: float) -> float:
    """The SEM (deg) behind the mean absolute difference (deg) of two measurements.

    For normal differences around 0 their SD is sqrt(pi / 2) * MAD, and the SEM is that
    divided by sqrt(2).
    """
    return math.sqrt(math.pi) / 2 * mad


@dataclass(frozen=True, slots=True)
class MeasurementError:
    """One figure; see data/measurement_error.toml for what the words mean.

    Attributes:
        name: what it was measured on, in words.
        quantities: what it holds for.
        muscles: ids; () when the muscles of the limb were not told apart.
        limb: "upper" or "lower".
        populations: diagnosis groups, "healthy" or "any"; () when not known.
        age: one of AGES.
        raters: one of RATERS.
        interval: one of INTERVALS.
        position: test position, "" for the muscle's standard one.
        instrument: one of INSTRUMENTS.
        sem: standard error of measurement, deg, as published or as it follows.
        published: the figure as it was published, e.g. "SEM 5".
        source: the publication or the clinic's own study.
        verified: how far the figure was checked, or what it was computed from.
        note: what else a reader must know, or "".
        own: it is the clinic's own.
    """

    name: str
    quantities: tuple[Quantity, ...]
    muscles: tuple[str, ...]
    limb: str
    populations: tuple[str, ...]
    age: str
    raters: str
    interval: str
    position: str
    instrument: str
    sem: float
    published: str
    source: str
    verified: str
    note: str = ""
    own: bool = False

    def mdc(self, level: Level = 95) -> float:
        """Smallest detectable change, deg."""
        return mdc_of_sem(self.sem, level)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a figure is wanted for.

    Attributes:
        quantity: R1, R2 or the gap.
        muscle: id of the muscle group.
        limb: "upper" or "lower", "" when not known.
        population: diagnosis group, "" when not stated.
        age: "children" or "adults", "" when not stated.
        raters: "same" or "different", "" when not stated.
        interval: "same-day" or "different-days".
        position: test position, "" for the muscle's standard one.
        instrument: one of INSTRUMENTS.
    """

    quantity: Quantity
    muscle: str
    limb: str
    population: str = ""
    age: str = ""
    raters: str = ""
    interval: str = "different-days"
    position: str = ""
    instrument: str = "goniometer"


@dataclass(frozen=True, slots=True)
class Exact:
    """A figure that fits in every respect."""

    error: MeasurementError

    @property
    def line(self) -> str:
        """What stands beside the figure."""
        return f"{self.error.name} ({self.error.source})"


@dataclass(frozen=True, slots=True)
class Closest:
    """The figure that fits best, though not in every respect.

    Attributes:
        error: the figure.
        misfits: the respects in which it differs, in words.
        other_muscle: it was not measured on this very muscle.
        muscle_has_one: there is a figure for this muscle, which differs in more respects.
    """

    error: MeasurementError
    misfits: tuple[str, ...]
    other_muscle: bool
    muscle_has_one: bool = False

    @property
    def line(self) -> str:
        """What stands beside the figure."""
        shown = f"shown against {self.error.name} ({self.error.source})"
        if self.other_muscle:
            kind = "fitting" if self.muscle_has_one else "published"
            return f"no {kind} figure for this muscle; {shown}"
        return f"no figure fits in every respect ({'; '.join(self.misfits)}); {shown}"


@dataclass(frozen=True, slots=True)
class NoFigure:
    """There is no figure, not even for this limb."""

    line: str = "no figure"


Found = Exact | Closest | NoFigure


def find_error(asked: Asked, figures: Iterable[MeasurementError]) -> Found:
    """The figure for what is asked.

    Args:
        asked: what it is wanted for.
        figures: those to choose from; a clinic's own wins over a published one that fits
            equally well.
    """
    ranked: list[tuple[float, bool, int, MeasurementError, tuple[str, ...]]] = []
    for place, error in enumerate(figures):
        if asked.quantity not in error.quantities:
            continue
        if asked.muscle not in error.muscles and asked.limb != error.limb:
            continue
        misfits = _misfits(asked, error)
        cost = sum(cost for cost, _ in misfits)
        words = tuple(words for _, words in misfits)
        ranked.append((cost, not error.own, place, error, words))
    if not ranked:
        return NoFigure()
    *_, error, words = min(ranked, key=lambda one: one[:3])
    if not words:
        return Exact(error)
    has_one = any(asked.muscle in one[3].muscles for one in ranked)
    return Closest(error, words, asked.muscle not in error.muscles, has_one)


def figures_for(
    own: Sequence[MeasurementError], published: Sequence[MeasurementError], use_own: bool
) -> tuple[MeasurementError, ...]:
    """The figures to choose from: the clinic's own take part only when that was chosen."""
    return (*own, *published) if use_own else tuple(published)


def _misfits(asked: Asked, error: MeasurementError) -> list[tuple[float, str]]:
    """Every respect in which a figure does not fit: what it costs, and its words."""
    found: list[tuple[float, str]] = []
    if asked.muscle not in error.muscles:
        whole = not error.muscles
        words = "muscles of the limb not told apart" if whole else "another muscle"
        found.append((_COST["limb as a whole" if whole else "muscle"], words))
    if asked.position != error.position:
        words = error.position or "standard"
        found.append((_COST["test position"], f"test position there: {words}"))
    if ANY not in error.populations and asked.population not in error.populations:
        there = ", ".join(error.populations)
        found.append(_misfit("population", asked.population, there or UNSTATED))
    for respect, wanted, there in (
        ("age", asked.age, error.age),
        ("raters", asked.raters, error.raters),
        ("instrument", asked.instrument, error.instrument),
        ("interval", asked.interval, error.interval),
    ):
        if there not in (wanted, ANY) or not wanted:
            found.append(_misfit(respect, wanted, there))
    return found


def _misfit(respect: str, wanted: str, there: str) -> tuple[float, str]:
    """One respect in which a figure differs, or may differ."""
    if there == UNSTATED:
        return _COST[respect] / 2, f"{respect} there not stated"
    if not wanted:
        return _COST[respect] / 2, f"{respect} here not stated, there {there}"
    return _COST[respect], f"{respect} there: {there}"
