"""Means, medians and intervals of a caseload."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import fmean, median, stdev
from typing import NamedTuple

from ..agreement.quantiles import t_quantile

UPPER = 0.975
"""Of a two-sided 95 % interval."""


class Spread(NamedTuple):
    """What many numbers of one kind say.

    Attributes:
        n: how many.
        mean: None without any.
        low: lower end of the 95 % interval of the mean (Student's t); None below two.
        high: upper end.
        median: None without any.
    """

    n: int
    mean: float | None = None
    low: float | None = None
    high: float | None = None
    median: float | None = None


def spread(values: Sequence[float]) -> Spread:
    """Describe numbers by their mean, its 95 % interval, and their median."""
    n = len(values)
    if not n:
        return Spread(0)
    mean, middle = fmean(values), float(median(values))
    if n == 1:
        return Spread(1, mean, None, None, middle)
    half = t_quantile(UPPER, n - 1) * stdev(values) / math.sqrt(n)
    return Spread(n, mean, mean - half, mean + half, middle)


class Waiting(NamedTuple):
    """How long something lasted, where not all was seen to its end.

    Attributes:
        n: how many.
        ended: how many were seen to end.
        median_days: by Kaplan and Meier; None where fewer than half ended.
    """

    n: int
    ended: int
    median_days: int | None


def waiting(ended: Sequence[int], watched: Sequence[int]) -> Waiting:
    """Estimate how long something lasts, by Kaplan and Meier 1958 (J Am Stat Assoc 53:457-481).

    Args:
        ended: days at which it was first seen to have ended.
        watched: days until which it was seen to go on, of those that did not end.
    """
    share = 1.0
    for day in sorted(set(ended)):
        at_risk = sum(d >= day for d in ended) + sum(d >= day for d in watched)
        share *= 1 - ended.count(day) / at_risk
        if share <= 0.5 + 1e-12:
            return Waiting(len(ended) + len(watched), len(ended), day)
    return Waiting(len(ended) + len(watched), len(ended), None)
