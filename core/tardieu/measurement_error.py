"""Measurement error: the figure that a change is compared with, and where it comes from.

A figure belongs to a quantity, a limb or a muscle, a population, same or different raters, an
interval and an instrument. Where none fits in every respect, the closest is offered by its name
with the respects in which it differs. A figure of one muscle is never offered for another one,
nor one of a limb for the other limb: nothing is borrowed silently.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..language import N_

Quantity = Literal["R1", "R2", "gap"]
QUANTITIES: tuple[Quantity, ...] = ("R1", "R2", "gap")

Level = Literal[90, 95]

AGES = ("children", "adults", "any", "not-stated")
RATERS = ("same", "different", "any", "not-stated")
INTERVALS = ("same-day", "different-days", "any", "not-stated")
INSTRUMENTS = (
    N_("goniometer"),
    N_("inclinometer"),
    N_("motion-analysis"),
    N_("visual"),
    N_("not-stated"),
)

UNSTATED = "not-stated"
ANY = "any"

_Z = {90: 1.645, 95: 1.96}

_BY_HAND = frozenset({"goniometer", "inclinometer", "visual"})
"""Instruments that are read at the bedside; the others are a laboratory's."""

_LIMBS = {"upper": "whole arm", "lower": "whole leg"}


def mdc_of_sem(sem: float, level: Level = 95) -> float:
    """Compute the smallest detectable change of one person: z * sqrt(2) * SEM, deg."""
    return _Z[level] * math.sqrt(2) * sem


def error_of_readings(reading_error: float, readings: int) -> int:
    """Compute the error (deg) of a sum or difference of independent readings, whole degrees.

    The variances add up, so it is root of their number times the error of one: Bland, page on
    the formula of repeatability, University of York 2005.
    """
    return round(math.sqrt(readings) * reading_error)


def sem_of_mdc(mdc: float, level: Level) -> float:
    """Compute the SEM (deg) behind a smallest detectable change (deg)."""
    return mdc / (_Z[level] * math.sqrt(2))


def sem_of_mad(mad: float) -> float:
    """Compute the SEM (deg) behind the mean absolute difference (deg) of two measurements.

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
        instrument: one of INSTRUMENTS, or "any".
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

    def mdc(self, level: Level = 95, rounding: float = 0) -> float:
        """Compute the smallest detectable change, deg; ``rounding``: variance it adds, deg2."""
        return mdc_of_sem(math.sqrt(self.sem**2 + rounding), level)


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
class Fitting:
    """The figure that fits best.

    Attributes:
        error: the figure.
        misfits: the respects in which it differs, in words; () where it fits in every respect.
        clause: the same as one short clause, e.g. "whole leg, children".
    """

    error: MeasurementError
    misfits: tuple[str, ...] = ()
    clause: str = ""

    @property
    def line(self) -> str:
        """What is shown beside the figure."""
        shown = f"{self.error.name} ({self.error.source})"
        if not self.misfits:
            return shown
        differs = "; ".join(self.misfits)
        return f"no figure fits in every respect ({differs}); shown against {shown}"


@dataclass(frozen=True, slots=True)
class NoFigure:
    """There is no figure, not even for this limb."""

    line: str = "no published figure"


Found = Fitting | NoFigure


def find_error(asked: Asked, figures: Iterable[MeasurementError]) -> Found:
    """Find the figure for what is asked.

    First comes the class: read at the bedside or in a laboratory, then measured for R1 and R2
    alike, so that both angles of a station are judged by one study. Of those with the raters
    asked for, the clinic's own comes first, then the one with the fewest misfits. Where no
    figure has these raters, the largest of the class is chosen: mere error must not look like
    a change.

    Args:
        asked: what it is wanted for.
        figures: those to choose from.
    """
    fitting = [e for e in figures if asked.quantity in e.quantities and _speaks_of(asked, e)]
    if not fitting:
        return NoFigure()
    best = min(_class_of(asked, error) for error in fitting)
    of_class = [error for error in fitting if _class_of(asked, error) == best]
    of_raters = [error for error in of_class if _has_raters(asked, error)]
    if of_raters:
        error = min(of_raters, key=lambda error: (not error.own, len(_misfits(asked, error))))
    else:
        error = max(of_class, key=lambda error: error.sem)
    misfits = _misfits(asked, error)
    clause = ", ".join(dict.fromkeys(short for _, short in misfits))
    return Fitting(error, tuple(words for words, _ in misfits), clause)


def gap_error(r1: Found, r2: Found) -> Found:
    """Find the figure of the gap, R2 - R1, from those of both angles: their errors add up.

    The variance of a difference is the sum of both variances: Bland, page on the formula of
    repeatability, University of York 2005. Children's gaps differed by up to 30 deg from one
    week to the next where R1 and R2 themselves did by up to 7: Kilgour et al. 2003.
    """
    if isinstance(r1, NoFigure) or isinstance(r2, NoFigure):
        return NoFigure()
    error = replace(
        r1.error,
        name=f"gap from {r1.error.name}",
        quantities=("gap",),
        sem=math.hypot(r1.error.sem, r2.error.sem),
        published=f"R1 {r1.error.published}, R2 {r2.error.published}",
        verified="computed from the errors of R1 and of R2, taken as independent",
    )
    return replace(r1, error=error)


def figures_for(
    own: Sequence[MeasurementError], published: Sequence[MeasurementError], use_own: bool
) -> tuple[MeasurementError, ...]:
    """Choose the figures: the clinic's own take part only when that was chosen."""
    return (*own, *published) if use_own else tuple(published)


def _speaks_of(asked: Asked, error: MeasurementError) -> bool:
    return asked.muscle in error.muscles if error.muscles else asked.limb == error.limb


def _class_of(asked: Asked, error: MeasurementError) -> tuple[bool, bool]:
    """Rank the class of a figure: False is better than True, the first respect counts most."""
    by_hand = asked.instrument in _BY_HAND or not asked.instrument
    both = error.own or {"R1", "R2"} <= set(error.quantities)
    other = error.instrument != ANY and by_hand != (error.instrument in _BY_HAND)
    return (other, not both)


def _has_raters(asked: Asked, error: MeasurementError) -> bool:
    # Who is not known to be the same is taken for another one.
    return error.raters in (asked.raters or "different", ANY)


def _misfits(asked: Asked, error: MeasurementError) -> list[tuple[str, str]]:
    """List every respect in which a figure does not fit, in words and as a short clause."""
    found: list[tuple[str, str]] = []
    if asked.muscle not in error.muscles:
        found.append(("muscles of the limb not told apart", _LIMBS.get(error.limb, error.limb)))
    if error.muscles and asked.position != error.position:
        found.append((f"test position there: {error.position or 'standard'}", "other position"))
    other_age = error.age != ANY and (error.age != asked.age or not asked.age)
    if ANY not in error.populations and asked.population not in error.populations:
        there = ", ".join(error.populations) or UNSTATED
        short = error.age if other_age else "other people"  # that it was children says it all
        found.append((_misfit("population", asked.population, there), short))
    for respect, short in (
        ("age", error.age),
        ("raters", f"{error.raters} raters" if error.raters != "same" else "same rater"),
        ("instrument", "other instrument"),
        ("interval", error.interval.replace("-", " ")),
    ):
        wanted, there = getattr(asked, respect), getattr(error, respect)
        if there not in (wanted, ANY) or not wanted:
            clause = f"{respect} not stated" if there == UNSTATED else short
            found.append((_misfit(respect, wanted, there), clause))
    return found


def _misfit(respect: str, wanted: str, there: str) -> str:
    """Say in which respect a figure differs, or may differ."""
    if there == UNSTATED:
        return f"{respect} there not stated"
    if not wanted:
        return f"{respect} here not stated, there {there}"
    return f"{respect} there: {there}"
