"""Bias and limits of agreement of two raters, and the repeatability of repeats.

Bland & Altman 1986, Lancet 327:307-310. The paper multiplies the standard deviation by 2,
later work by 1.96; the multiplier is part of the result. The paper's intervals of the limits
are approximate; exact ones are beside them, see exact_limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from .exact_limits import limit_factors
from .figure import Figure
from .icc import UPPER
from .quantiles import t_quantile

Z95 = 1.96
"""Standard deviations that hold 95 % of a normal distribution between them."""


Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ExactLimits:
    """Intervals of the lower and the upper limit, in the unit of the ratings.

    Attributes:
        one: each limit by itself.
        pair: both as a pair.
    """

    one: tuple[Interval, Interval]
    pair: tuple[Interval, Interval]


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """How far two raters lie apart, first minus second, in the unit of the ratings.

    Attributes:
        bias: mean difference with its interval (t, n - 1 degrees of freedom).
        sd: standard deviation of the differences about their mean, divisor n - 1.
        low: lower limit of agreement with its interval.
        high: upper limit of agreement with its interval.
        multiplier: standard deviations from the bias to a limit.
        n: pairs of ratings.
    """

    bias: Figure
    sd: float
    low: Figure
    high: Figure
    multiplier: float
    n: int

    @property
    def exact(self) -> ExactLimits:
        """Exact 95 % intervals of both limits, one by one and as a pair."""
        one, pair = map(self._around, limit_factors(self.n, self.multiplier))
        return ExactLimits(one, pair)

    def _around(self, factors: tuple[float, float]) -> tuple[Interval, Interval]:
        bias = self.bias.value or 0.0
        near, far = (factor * self.sd for factor in factors)
        return (bias - far, bias - near), (bias + near, bias + far)


def limits(
    pairs: Sequence[tuple[Fraction, Fraction]], multiplier: float = Z95
) -> LimitsOfAgreement | str:
    """Compute bias and limits of agreement, or say why there are none.

    Args:
        pairs: what the first and what the second rater gave each target.
        multiplier: 1.96, or 2 as in the paper of 1986.
    """
    n = len(pairs)
    if n < 2:
        return f"fewer than 2 targets rated by both raters ({n})"
    differences = [one - two for one, two in pairs]
    mean = sum(differences, Fraction()) / n
    sd = sqrt(sum(((d - mean) ** 2 for d in differences), Fraction()) / (n - 1))
    t = t_quantile(UPPER, n - 1)
    # Standard error of a limit, sqrt(3/n) SD: approximate, as in the paper.
    wide, bias = t * sd * sqrt(3 / n), float(mean)
    low, high = bias - multiplier * sd, bias + multiplier * sd
    return LimitsOfAgreement(
        Figure(bias, bias - t * sd / sqrt(n), bias + t * sd / sqrt(n)),
        sd,
        Figure(low, low - wide, low + wide),
        Figure(high, high - wide, high + wide),
        multiplier,
        n,
    )


def repeatability(ms_within: Fraction, multiplier: float = Z95) -> float:
    """Compute below which two ratings of one target lie apart, 95 % of the time.

    About zero, not about the mean difference: repeats by one rater have no bias to take off.
    With two ratings a target, sqrt(2 MSW) is the root of the mean squared difference.

    Args:
        ms_within: mean square within targets.
        multiplier: 1.96, or 2 as in the paper of 1986.
    """
    return multiplier * sqrt(2 * ms_within)
