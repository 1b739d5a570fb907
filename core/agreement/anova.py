"""Analysis of variance of a table of ratings, one-way and two-way in one.

Sums of squares are exact fractions. Two-way without replication: what is within targets in
the one-way table splits into raters and residual.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Anova:
    """Sums of squares of n targets by k raters, in squared units of the ratings.

    Attributes:
        n: targets, at least 2.
        k: raters, at least 2.
        ss_targets: between targets.
        ss_raters: between raters.
        ss_residual: what neither explains.
    """

    n: int
    k: int
    ss_targets: Fraction
    ss_raters: Fraction
    ss_residual: Fraction

    @property
    def ss_within(self) -> Fraction:
        """Within targets: the error of the one-way table."""
        return self.ss_raters + self.ss_residual

    @property
    def ss_total(self) -> Fraction:
        """About the mean of all ratings."""
        return self.ss_targets + self.ss_within

    @property
    def df_targets(self) -> int:
        """Degrees of freedom between targets."""
        return self.n - 1

    @property
    def df_raters(self) -> int:
        """Degrees of freedom between raters."""
        return self.k - 1

    @property
    def df_residual(self) -> int:
        """Degrees of freedom of the residual."""
        return (self.n - 1) * (self.k - 1)

    @property
    def df_within(self) -> int:
        """Degrees of freedom within targets."""
        return self.n * (self.k - 1)

    @property
    def ms_targets(self) -> Fraction:
        """Mean square between targets."""
        return self.ss_targets / self.df_targets

    @property
    def ms_raters(self) -> Fraction:
        """Mean square between raters."""
        return self.ss_raters / self.df_raters

    @property
    def ms_residual(self) -> Fraction:
        """Residual mean square."""
        return self.ss_residual / self.df_residual

    @property
    def ms_within(self) -> Fraction:
        """Mean square within targets."""
        return self.ss_within / self.df_within


def anova(rows: Sequence[Sequence[Fraction]]) -> Anova | str:
    """The table of variances, or the reason why there is none.

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
    return Anova(n, k, targets, raters, squares - correction - targets - raters)
