"""Cohen's kappa of two raters on a fixed list of categories, unweighted and weighted.

The categories are fixed before the table is made: leaving out a grade that nobody happened
to give would put the others closer together and change a weighted kappa.

Cohen 1960, Educational and Psychological Measurement 20:37-46; weighted: Cohen 1968,
Psychological Bulletin 70:213-220. Linear weights: Cicchetti & Allison 1971; quadratic:
Fleiss & Cohen 1973. Standard errors for large samples: Fleiss, Cohen & Everitt 1969,
Psychological Bulletin 72:323-327 (volume and pages were not looked up).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from math import sqrt

from .figure import Figure, undefined

Weights = Sequence[Sequence[Fraction]]
"""How much a pair of categories agrees: 1 the same, 0 not at all."""

MEAN_OF_PAIRS = "mean over the pairs of raters (Light)"
PAIR = "two raters"

_RANGE = re.compile(r"([0-9])-([0-9])", re.ASCII)


def identity_weights(count: int) -> Weights:
    """Let only the same category agree."""
    return [[Fraction(i == j) for j in range(count)] for i in range(count)]


def linear_weights(count: int) -> Weights:
    """Weigh by 1 - |i - j| / (count - 1), after Cicchetti & Allison."""
    return [[1 - Fraction(abs(i - j), count - 1) for j in range(count)] for i in range(count)]


def quadratic_weights(count: int) -> Weights:
    """Weigh by 1 - (i - j)^2 / (count - 1)^2, after Fleiss & Cohen."""
    far = (count - 1) ** 2
    return [[1 - Fraction((i - j) ** 2, far) for j in range(count)] for i in range(count)]


WEIGHTINGS: dict[str, tuple[str, Callable[[int], Weights]]] = {
    "kappa": ("unweighted", identity_weights),
    "kappa_linear": ("linear weights, Cicchetti-Allison", linear_weights),
    "kappa_quadratic": ("quadratic weights, Fleiss-Cohen", quadratic_weights),
}
"""Key of the result -> its words, and its weights for a number of categories."""


@dataclass(frozen=True, slots=True)
class Kappas:
    """Agreement on ordered categories.

    Attributes:
        categories: the fixed list.
        form: PAIR, or MEAN_OF_PAIRS for more than two raters.
        exact: share of pairs of ratings in the same category; of all pairs of raters.
        figures: key of WEIGHTINGS -> kappa.
        pairs: for each pair of raters their names and figures; one pair for two raters.
    """

    categories: tuple[int, ...]
    form: str
    exact: float
    figures: dict[str, Figure]
    pairs: tuple[tuple[str, str, dict[str, Figure]], ...]


def parse_categories(text: str) -> tuple[int, ...] | None:
    """Read the categories of a range such as 0-4; None for anything else, or a single category."""
    match = _RANGE.fullmatch(text)
    if match is None or int(match.group(1)) >= int(match.group(2)):
        return None
    return tuple(range(int(match.group(1)), int(match.group(2)) + 1))


def cohen(table: Sequence[Sequence[int]], weights: Weights) -> Figure:
    """Compute kappa and its standard error, from a square table of counts.

    Args:
        table: rows the categories of the first rater, columns those of the second.
        weights: see Weights.
    """
    n = sum(map(sum, table))
    if n == 0:
        return undefined("there is no pair of ratings")
    places = range(len(table))
    share = [[Fraction(cell, n) for cell in row] for row in table]
    rows = [sum(row, Fraction()) for row in share]
    columns = [sum(column, Fraction()) for column in zip(*share, strict=True)]
    seen = sum((weights[i][j] * share[i][j] for i in places for j in places), Fraction())
    by_chance = [[weights[i][j] * rows[i] * columns[j] for j in places] for i in places]
    chance = sum(map(sum, by_chance), Fraction())
    if chance == 1:
        return undefined("both raters used one and the same category throughout")
    value = (seen - chance) / (1 - chance)
    row_mean = [sum((weights[i][j] * columns[j] for j in places), Fraction()) for i in places]
    column_mean = [sum((weights[i][j] * rows[i] for i in places), Fraction()) for j in places]
    spread = sum(
        (
            share[i][j] * (weights[i][j] - (row_mean[i] + column_mean[j]) * (1 - value)) ** 2
            for i in places
            for j in places
        ),
        Fraction(),
    )
    variance = (spread - (value - chance * (1 - value)) ** 2) / (n * (1 - chance) ** 2)
    if not variance:
        return Figure(float(value), reason="no standard error: no spread is left")
    return Figure(float(value), se=sqrt(variance))


def kappas(
    rows: Sequence[Sequence[Fraction]], raters: Sequence[str], categories: tuple[int, ...]
) -> Kappas | str:
    """Compute kappa of two raters, or the mean over the pairs of more; or say why there is none.

    Args:
        rows: for each target one rating a rater, each one of the categories.
        raters: their names.
        categories: the fixed list.
    """
    if len(raters) < 2:
        return "fewer than 2 raters"
    if len(rows) < 2:
        return f"fewer than 2 targets with a rating by every rater ({len(rows)})"
    pairs = list(combinations(range(len(raters)), 2))
    named = tuple((raters[i], raters[j], _pair(rows, (i, j), categories)) for i, j in pairs)
    same = sum(row[i] == row[j] for row in rows for i, j in pairs)
    form = PAIR if len(raters) == 2 else MEAN_OF_PAIRS
    figures = named[0][2] if form == PAIR else {key: _mean(named, key) for key in WEIGHTINGS}
    return Kappas(categories, form, same / (len(rows) * len(pairs)), figures, named)


def _pair(
    rows: Sequence[Sequence[Fraction]], who: tuple[int, int], categories: tuple[int, ...]
) -> dict[str, Figure]:
    place = {Fraction(category): at for at, category in enumerate(categories)}
    table = [[0] * len(categories) for _ in categories]
    for row in rows:
        table[place[row[who[0]]]][place[row[who[1]]]] += 1
    weightings = WEIGHTINGS.items()
    return {key: cohen(table, weights(len(categories))) for key, (_, weights) in weightings}


def _mean(pairs: Sequence[tuple[str, str, dict[str, Figure]]], key: str) -> Figure:
    values: list[float] = []
    for one, two, figures in pairs:
        value = figures[key].value
        if value is None:
            return undefined(f"it is undefined for {one} and {two}: {figures[key].reason}")
        values.append(value)
    # The pairs share their raters, so their standard errors do not add up to one.
    return Figure(sum(values) / len(values), reason="no standard error of a mean")
