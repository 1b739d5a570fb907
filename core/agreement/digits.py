"""Terminal-digit preference: how many of a rater's readings end in 0 or 5.

Two digits of ten make 20 % when nobody rounds. The share is shown and never corrected: what
was rounded away is not known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from .figure import Figure, undefined
from .icc import UPPER
from .quantiles import beta_quantile

EXPECTED = 0.2
"""The share of 0 and 5 among ten digits equally used."""


@dataclass(frozen=True, slots=True)
class DigitPreference:
    """Last digits of one rater.

    Attributes:
        rater: name of the rater.
        readings: whole-number readings counted.
        round_ones: those of them that end in 0 or 5.
        share: their share, with its exact binomial interval (Clopper & Pearson 1934).
        not_whole: readings left out since they are not whole numbers.
    """

    rater: str
    readings: int
    round_ones: int
    share: Figure
    not_whole: int = 0


def digit_preference(rater: str, readings: Iterable[Fraction | int]) -> DigitPreference:
    """Count the last digits of one rater's readings, as typed."""
    values = [Fraction(reading) for reading in readings]
    whole = [value.numerator for value in values if value.denominator == 1]
    round_ones = sum(value % 5 == 0 for value in whole)
    share = proportion(round_ones, len(whole))
    return DigitPreference(rater, len(whole), round_ones, share, len(values) - len(whole))


def proportion(hits: int, of: int) -> Figure:
    """Compute a share with its exact 95 % binomial interval."""
    if of == 0:
        return undefined("there is no whole-number reading")
    low = beta_quantile(1 - UPPER, hits, of - hits + 1) if hits else 0.0
    high = beta_quantile(UPPER, hits + 1, of - hits) if hits < of else 1.0
    return Figure(hits / of, low, high)
