"""One-way figures from tables with missing ratings: against statsmodels, scipy, and by hand."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt
from random import Random

import pandas
import pytest
from limbscribe.core.agreement.anova import OneWay, anova, one_way
from limbscribe.core.agreement.document import study_doc
from limbscribe.core.agreement.study import analyse
from limbscribe.core.agreement.words import study_lines
from scipy.stats import f
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from tests.support.ratings import SHROUT_FLEISS, exact, ratings

Table = list[list[int | None]]


def holed(seed: int) -> Table:
    """A table of whole degrees with missing cells; each target has a rating at least."""
    chance = Random(seed)
    n, k = chance.randint(5, 20), chance.randint(2, 5)
    rows: Table = []
    for _ in range(n):
        middle = chance.gauss(0, 9)
        row: list[int | None] = [round(chance.gauss(middle, 3)) for _ in range(k)]
        for at in chance.sample(range(k), chance.randint(0, k - 1)):
            row[at] = None
        rows.append(row)
    return [[1, 4, *[None] * (k - 2)], *rows]


def present(rows: Table) -> list[list[Fraction]]:
    return [[Fraction(cell) for cell in row if cell is not None] for row in rows]


@pytest.mark.parametrize("seed", range(40))
def test_sums_of_squares_are_those_of_statsmodels(seed: int) -> None:
    rows = holed(seed)
    table = one_way(present(rows))
    assert isinstance(table, OneWay)
    long = pandas.DataFrame(
        [(t, float(cell)) for t, row in enumerate(rows) for cell in row if cell is not None],
        columns=["target", "value"],
    )
    theirs = anova_lm(ols("value ~ C(target)", long).fit())
    assert [float(table.targets.ss), float(table.within.ss)] == pytest.approx(
        list(theirs["sum_sq"]), rel=1e-9
    )
    assert [table.targets.df, table.within.df] == list(theirs["df"])


@pytest.mark.parametrize("seed", range(40))
def test_icc_and_interval_are_those_of_the_formulas(seed: int) -> None:
    # By the help and the steps of ICCest in the R package ICC: the number of ratings of a target
    # after Lessells and Boag 1987, the interval after Thomas and Hultquist 1978.
    rows = holed(seed)
    sizes = [len(row) for row in present(rows)]
    n, total, k = len(sizes), sum(sizes), len(rows[0])
    each = (total - sum(size**2 for size in sizes) / total) / (n - 1)
    mean = total / n
    spread = sum((size - mean) ** 2 for size in sizes)
    assert each == pytest.approx(mean - spread / ((n - 1) * total)), "the two ways to write it"
    study = analyse(ratings(rows))
    assert isinstance(study.one_way, OneWay)
    ratio = float(study.one_way.targets.ms / study.one_way.within.ms)
    ends = [ratio / f.ppf(p, n - 1, total - n) for p in (0.975, 0.025)]
    figure, of_mean = study.icc["ICC(1,1)"], study.icc["ICC(1,k)"]
    assert figure.value == pytest.approx((ratio - 1) / (ratio + each - 1))
    assert (figure.low, figure.high) == pytest.approx([(e - 1) / (e + each - 1) for e in ends])
    if of_mean.value is not None and figure.value is not None:
        # Spearman and Brown.
        assert of_mean.value == pytest.approx(k * figure.value / (1 + (k - 1) * figure.value))
    sem = study.sem["agreement"]
    assert sem.value == pytest.approx(sqrt(study.one_way.within.ms))
    assert sem.df == total - n


def test_a_complete_table_gives_the_same_as_ever() -> None:
    rows = exact(SHROUT_FLEISS)
    one, two = one_way(rows), anova(rows)
    assert isinstance(one, OneWay)
    assert not isinstance(two, str)
    assert (one.targets, one.within, one.each) == (two.targets, two.within, 4)


def test_a_single_rating_adds_to_the_spread_of_targets_and_not_to_the_error() -> None:
    whole = [[3, 4], [6, 8], [9, 9]]
    with_single = analyse(ratings([*whole, [40, None]]))
    alone = analyse(ratings(whole))
    assert with_single.sem["agreement"] == alone.sem["agreement"]
    assert (with_single.icc["ICC(1,1)"].value or 0) > (alone.icc["ICC(1,1)"].value or 0)
    assert with_single.limits == alone.limits
    assert with_single.icc["ICC(A,1)"] == alone.icc["ICC(A,1)"]
    assert with_single.ratings.repeated == 3


def test_rows_that_none_is_complete_of_still_give_an_error() -> None:
    study = analyse(ratings([[3, 4, None], [None, 6, 8], [9, None, 9]]))
    assert study.anova == "fewer than 2 targets with a rating by every rater (0)"
    # Within: 1/2 + 4/2 + 0, on three degrees of freedom.
    assert study.sem["agreement"].value == pytest.approx(sqrt(2.5 / 3))
    assert study.sem["consistency"].value is None
    assert study.icc["ICC(A,1)"].value is None
    document = study_doc(study)
    assert document["anova"] is None
    assert document["one_way"]["n_ratings"] == 6
    assert document["one_way"]["ratings_each"] == 2
    text = "\n".join(study_lines(study, variances=True))
    assert "SEM agreement" in text
    assert "within targets (one-way)" in text
    assert "No ICC" not in text


def test_both_analyses_are_shown_where_they_are_of_different_targets() -> None:
    lines = study_lines(analyse(ratings([*SHROUT_FLEISS, [5, None, 4, 6]])), variances=True)
    within = [line.split() for line in lines if "within" in line and "targets lack" not in line]
    assert [line[-2] for line in within[:2]] == ["20", "18"]
    assert not any("Analysis" in line for line in study_lines(analyse(ratings(SHROUT_FLEISS))))


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ([[1, None], [None, 2]], "no target has two ratings"),
        ([[1, 2], [None, None]], "fewer than 2 targets with a rating"),
        ([[None, None]], "fewer than 2 targets with a rating"),
    ],
)
def test_what_is_no_table_says_why(rows: Table, reason: str) -> None:
    study = analyse(ratings(rows))
    assert isinstance(study.one_way, str)
    assert study.one_way.startswith(reason)
    assert study.sem["agreement"].reason == study.one_way
