"""Analysis of variance of a table of ratings, one-way and two-way.

Sums of squares are exact fractions. Two-way without replication: what is within targets in
the one-way table splits into raters and residual. One-way needs no complete table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Variation:
    """What one source of variation adds.

    Attributes:
        ss: sum of squares, in squared units of the ratings.
        df: degrees of freedom.
    """

    ss: Fraction
    df: int

    @property
    def ms(self) -> Fraction:
        """Mean square."""
        return self.ss / self.df


@dataclass(frozen=True, slots=True)
class OneWay:
    """One-way analysis of variance; targets may have different numbers of ratings.

    Attributes:
        n: targets with a rating, at least 2.
        ratings: ratings of all of them.
        each: ratings that a target counts as having. Where all have the same number it is that
            number, else (N - sum of squared numbers / N) / (n - 1), less than their mean
            (Lessells & Boag 1987, by the help of ICCest in the R package ICC).
        targets: between targets.
        within: within targets.
    """

    n: int
    ratings: int
    each: Fraction
    targets: Variation
    within: Variation

    @property
    def ss_total(self) -> Fraction:
        """Sum of squares about the mean of all ratings."""
        return self.targets.ss + self.within.ss


def one_way(rows: Sequence[Sequence[Fraction]]) -> OneWay | str:
    """Compute the one-way table of variances, or say why there is none.

    Args:
        rows: the ratings of each target, at least one of each.
    """
    n, count = len(rows), sum(map(len, rows))
    if n < 2:
        return f"fewer than 2 targets with a rating ({n})"
    if count == n:
        return "no target has two ratings"
    total = sum((cell for row in rows for cell in row), Fraction())
    squares = sum((cell * cell for row in rows for cell in row), Fraction())
    of_targets = sum((sum(row, Fraction()) ** 2 / len(row) for row in rows), Fraction())
    each = (count - Fraction(sum(len(row) ** 2 for row in rows), count)) / (n - 1)
    return OneWay(
        n,
        count,
        each,
        Variation(of_targets - total * total / count, n - 1),
        Variation(squares - of_targets, count - n),
    )


@dataclass(frozen=True, slots=True)
class Anova:
    """Analysis of variance of n targets by k raters.

    Attributes:
        n: targets, at least 2.
        k: raters, at least 2.
        targets: between targets.
        raters: between raters.
        residual: what neither explains.
    """

    n: int
    k: int
    targets: Variation
    raters: Variation
    residual: Variation

    @property
    def within(self) -> Variation:
        """Within targets: the error of the one-way table."""
        return Variation(self.raters.ss + self.residual.ss, self.raters.df + self.residual.df)

    @property
    def ss_total(self) -> Fraction:
        """Sum of squares about the mean of all ratings."""
        return self.targets.ss + self.within.ss


def anova(rows: Sequence[Sequence[Fraction]]) -> Anova | str:
    """Compute the table of variances, or say why there is none.

    Args:
        rows: a rating of every target by every rater, no cell missing.
    """
    n, k = len(rows), len(rows[0]) if rows else 0
    if n < 2:
        return f"fewer than 2 targets with a rating by every rater ({n})"
    if k < 2:
        return "fewer than 2 raters"
    total = sum((cell for row in rows for cell in row), Fraction())
    correction = total * total / (n * k)
    targets = sum((sum(row, Fraction()) ** 2 for row in rows), Fraction()) / k - correction
    columns = zip(*rows, strict=True)
    raters = sum((sum(column, Fraction()) ** 2 for column in columns), Fraction()) / n - correction
    squares = sum((cell * cell for row in rows for cell in row), Fraction())
    return Anova(
        n,
        k,
        Variation(targets, n - 1),
        Variation(raters, k - 1),
        Variation(squares - correction - targets - raters, (n - 1) * (k - 1)),
    )
