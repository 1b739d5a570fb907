"""Intraclass correlations in six forms, with their 95 % confidence intervals.

Formulas and names: McGraw & Wong 1996, Psychological Methods 1:30-46. ICC(1,1), ICC(A,1) and
ICC(C,1) are the (1,1), (2,1) and (3,1) of Shrout & Fleiss 1979, Psychological Bulletin
86:420-428; with k in place of the last 1, the mean of all raters. A negative value is legal:
the targets differ less than the ratings of one target.
"""

from __future__ import annotations

from fractions import Fraction
from math import inf

from .anova import Anova, OneWay, Variation
from .figure import Figure, undefined
from .quantiles import f_quantile

FORMS = {
    "ICC(1,1)": "one-way, one rating",
    "ICC(A,1)": "two-way, agreement, one rater",
    "ICC(C,1)": "two-way, consistency, one rater",
    "ICC(1,k)": "one-way, mean of k ratings",
    "ICC(A,k)": "two-way, agreement, mean of k raters",
    "ICC(C,k)": "two-way, consistency, mean of k raters",
}
"""Form -> what it says. Agreement is absolute agreement: differences between raters count."""

ONE_WAY = ("ICC(1,1)", "ICC(1,k)")
"""The forms that ask neither for the same raters throughout nor for a complete table."""

UPPER = 0.975
"""Both tails of a 95 % interval hold 2.5 %."""

ALL_EQUAL = "all ratings are equal, so there is nothing to compare"
TARGETS_ALIKE = "the targets do not differ, so there is nothing to tell apart"
NO_ERROR = "no interval: the ratings of a target agree without any error"
ALIKE_INTERVAL = "no interval: the means of the targets do not differ"
LESS = "the targets differ less than chance would have it; nothing is left to divide by"
NO_LOWER = "no lower limit: it has no bound"
NOT_CROSSED = "the raters are not the same for every target; only one-way figures apply"


def two_way_icc(table: Anova) -> dict[str, Figure]:
    """Compute the forms beside ONE_WAY, from targets that were all rated by the same raters."""
    alike = TARGETS_ALIKE if table.ss_total else ALL_EQUAL
    consistency = _by_f(table.targets, table.residual, Fraction(table.k), table.k, alike)
    return {
        **_named(("ICC(A,1)", "ICC(A,k)"), _agreement(table)),
        **_named(("ICC(C,1)", "ICC(C,k)"), consistency),
    }


def one_way_icc(table: OneWay, k: int) -> dict[str, Figure]:
    """Compute the forms of ONE_WAY, from targets with different numbers of ratings too.

    Their interval is then that for unbalanced data of Thomas & Hultquist 1978 and Donner 1979, by
    the help of ICCest in the R package ICC: approximate, see tests/bench/bench_coverage.py.

    Args:
        table: the analysis of variance.
        k: ratings that ICC(1,k) is the mean of.
    """
    return _named(ONE_WAY, _by_f(table.targets, table.within, table.each, k, ALL_EQUAL))


def _named(forms: tuple[str, str], figures: tuple[Figure, Figure]) -> dict[str, Figure]:
    return dict(zip(forms, figures, strict=True))


def _by_f(
    between: Variation, error: Variation, each: Fraction, k: int, alike: str
) -> tuple[Figure, Figure]:
    """Compute the forms whose interval is that of one F ratio: one-way, and consistency.

    Args:
        between: variation between targets.
        error: what it is held against.
        each: ratings of a target.
        k: ratings that the second form is the mean of.
        alike: why there is no figure where neither varies.
    """
    targets, rest = between.ms, error.ms
    if not targets and not rest:
        return _both(undefined(alike))
    single = float((targets - rest) / (targets + (each - 1) * rest))
    if not rest:
        return _both(Figure(single, reason=NO_ERROR))
    if not targets:
        return Figure(single, reason=ALIKE_INTERVAL), undefined(TARGETS_ALIKE)
    ratio = targets / rest
    low = float(ratio) / f_quantile(UPPER, between.df, error.df)
    high = float(ratio) * f_quantile(UPPER, error.df, between.df)
    lower, upper = ((end - 1) / (end + float(each) - 1) for end in (low, high))
    of_one, of_mean = Figure(single, lower, upper), _of_mean(ratio, each, k)
    if of_mean is None:
        return of_one, undefined(LESS)
    lower, upper = (_of_mean(end, each, k) for end in (low, high))
    return of_one, Figure(of_mean, lower, upper, reason="" if lower is not None else NO_LOWER)


def _of_mean(ratio: Fraction | float, each: Fraction, k: int) -> float | None:
    """Compute the form of the mean of k ratings from an F ratio; None when it has no bound.

    The form of one rating, stepped up after Spearman and Brown. That is 1 - 1 / F where every
    target has k ratings; with fewer, what is divided by can fall to nothing.
    """
    base = k * ratio + (each - k)
    return float(k * (ratio - 1) / base) if base > 0 else None


def _agreement(table: Anova) -> tuple[Figure, Figure]:
    """Compute absolute agreement; the degrees of freedom of its interval are not whole numbers."""
    n, k = table.n, table.k
    targets, raters, residual = table.targets.ms, table.raters.ms, table.residual.ms
    if not table.ss_total:
        return _both(undefined(ALL_EQUAL))
    difference = targets - residual
    whole = targets + (k - 1) * residual + k * (raters - residual) / n
    if not whole:
        return _both(undefined(TARGETS_ALIKE))
    value = difference / whole
    of_mean = targets + (raters - residual) / n
    single, mean = _agreement_limits(table, value)
    if of_mean <= 0:
        return _with(single, value), undefined(LESS)
    return _with(single, value), _with(mean, difference / of_mean)


def _both(figure: Figure) -> tuple[Figure, Figure]:
    return figure, figure


def _with(limits: Figure, value: Fraction) -> Figure:
    return Figure(float(value), limits.low, limits.high, reason=limits.reason)


def _agreement_limits(table: Anova, value: Fraction) -> tuple[Figure, Figure]:
    """Compute the limits of ICC(A,1) and ICC(A,k), without the values."""
    if value == 1:
        return _both(undefined(NO_ERROR))
    if not table.targets.ms:
        return _both(undefined(ALIKE_INTERVAL))
    df = _agreement_df(table, value)
    f_low = f_quantile(UPPER, table.targets.df, df)
    if f_low == inf:
        return _both(undefined("no interval: too few degrees of freedom are left"))
    f_high = f_quantile(UPPER, df, table.targets.df)
    n, k = table.n, table.k
    targets, raters = float(table.targets.ms), float(table.raters.ms)
    residual = float(table.residual.ms)
    others = k * raters + (k * n - k - n) * residual
    below = n * (targets - f_low * residual)
    above = n * (f_high * targets - residual)
    single = Figure(
        None, below / (f_low * others + n * targets), above / (others + n * f_high * targets)
    )
    low_base = f_low * (raters - residual) + n * targets
    high_base = raters - residual + n * f_high * targets
    # With raters that differ less than chance would have it, a base can fall to nothing:
    # then the limit of the mean has no bound on that side.
    low = below / low_base if low_base > 0 else None
    high = above / high_base if high_base > 0 else None
    unbound = [side for side, limit in (("lower", low), ("upper", high)) if limit is None]
    reason = f"no {' and no '.join(unbound)} limit: it has no bound" if unbound else ""
    return single, Figure(None, low, high, reason=reason)


def _agreement_df(table: Anova, value: Fraction) -> float:
    """Compute the degrees of freedom after Satterthwaite, v in McGraw & Wong 1996.

    Never 0: the numbers added before squaring make up the mean square of the targets.
    """
    n, k = table.n, table.k
    odds = value / (1 - value)
    of_raters = k * odds / n * table.raters.ms
    of_residual = (1 + k * (n - 1) * odds / n) * table.residual.ms
    spread = of_raters**2 / table.raters.df + of_residual**2 / table.residual.df
    return float((of_raters + of_residual) ** 2 / spread)
