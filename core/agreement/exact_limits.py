"""Exact intervals of limits of agreement, as factors of the standard deviation about the bias.

Differences are taken as normal. A limit by itself is a quantile of them, whose interval is that
of noncentral t. Both limits as a pair hold at least 95 % of all differences between them: that
is the factor of a two-sided tolerance interval, at 2.5 and at 97.5 % confidence (Carkeet 2015,
Optometry and Vision Science 92(3), doi 10.1097/OPX.0000000000000513; the integral is that of
Krishnamoorthy & Mathew 2009, Statistical Tolerance Regions, Wiley).
"""

from __future__ import annotations

from functools import lru_cache
from math import erf, exp, lgamma, log, sqrt

from .icc import UPPER
from .quantiles import (
    incomplete_gamma,
    noncentral_t_quantile,
    normal_chance,
    normal_density,
    solved,
)

_STEP = 0.25
_REACH = 8.5
"""Step and reach of the sum over the normal distribution of the mean; exact to some 1e-12."""
_FAR = 300.0
"""Below exp(-300) the square of a factor is out of a float's range; it holds nothing anyway."""


Factors = tuple[float, float]
"""How many standard deviations from the bias the ends of an interval of a limit lie, the nearer
and the further."""


@lru_cache(maxsize=256)
def limit_factors(n: int, multiplier: float) -> tuple[Factors, Factors]:
    """Compute the factors of 95 % intervals: each limit by itself, and both as a pair.

    Args:
        n: pairs of ratings, at least 2.
        multiplier: standard deviations from the bias to a limit of agreement.
    """
    low, high = 1 - UPPER, UPPER
    one = [noncentral_t_quantile(p, n - 1, multiplier * sqrt(n)) / sqrt(n) for p in (low, high)]
    held = erf(multiplier / sqrt(2))
    return (one[0], one[1]), (tolerance_factor(low, n, held), tolerance_factor(high, n, held))


def tolerance_factor(p: float, n: int, content: float) -> float:
    """Find the k with which mean and k standard deviations hold a share, with confidence p.

    Args:
        p: above 0 and below 1.
        n: values that mean and standard deviation come from, at least 2.
        content: the share of the normal distribution, above 0 and below 1.
    """
    half = (n - 1) / 2
    places = [step * _STEP for step in range(int(_REACH / _STEP) + 1)]
    # The distribution of the mean is the same on both sides, so one is summed and counted twice.
    weights = [(2 if z else 1) * _STEP * normal_density(z) for z in places]
    needed = [half * _half_width(z / sqrt(n), content) ** 2 for z in places]

    def chance(log_k: float) -> tuple[float, float]:
        below = rise = 0.0
        if log_k < -_FAR:
            return below, rise
        for weight, need in zip(weights, needed, strict=True):
            x = need * exp(-2 * log_k)
            below += weight * incomplete_gamma(half, x)[1]
            rise += weight * 2 * exp(half * log(x) - x - lgamma(half)) if x else 0
        return below, rise

    return exp(solved(p, chance, log(_half_width(0, content))))


def _half_width(off: float, content: float) -> float:
    """Find how wide an interval must be to hold a share, when its middle is off by ``off``.

    In standard deviations. Newton's method from below, where it does not overshoot.
    """
    width = off + _one_sided(content)
    for _ in range(100):
        held = normal_chance(off + width) - normal_chance(off - width)
        step = (content - held) / (normal_density(off + width) + normal_density(off - width))
        width += step
        if abs(step) < 1e-13:
            break
    return width


@lru_cache(maxsize=8)
def _one_sided(content: float) -> float:
    """Find below how many standard deviations a share of the normal distribution lies."""
    return solved(content, lambda z: (normal_chance(z), normal_density(z)), 1.0)
