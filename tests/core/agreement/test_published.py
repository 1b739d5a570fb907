"""Published tables, to four decimals or better where the source gives them or can be computed."""

from __future__ import annotations

from fractions import Fraction

import pytest
from limbscribe.core.agreement.anova import Anova, anova
from limbscribe.core.agreement.error import Sem, sems
from limbscribe.core.agreement.icc import FORMS
from limbscribe.core.agreement.kappa import (
    cohen,
    identity_weights,
    linear_weights,
    quadratic_weights,
)
from limbscribe.core.agreement.study import analyse

from tests.support.ratings import SHROUT_FLEISS, exact, ratings

CLOSE = 5e-7


def table(rows: object = SHROUT_FLEISS) -> Anova:
    found = anova(exact(rows))  # type: ignore[arg-type]
    assert isinstance(found, Anova)
    return found


@pytest.mark.parametrize(
    ("name", "ss", "df", "ms"),
    [
        ("targets", 56.208333, 5, 11.241667),
        ("raters", 97.458333, 3, 32.486111),
        ("residual", 15.291667, 15, 1.019444),
        ("within", 112.75, 18, 6.263889),
    ],
)
def test_shrout_fleiss_anova(name: str, ss: float, df: int, ms: float) -> None:
    # The ratings: Shrout and Fleiss 1979, Psychol Bull 86:420, Table 2, as the help pages of ICC in
    # the R packages psych and DescTools have them. The mean squares follow; not seen in the paper.
    found = table()
    source = getattr(found, name)
    assert float(source.ss) == pytest.approx(ss, abs=CLOSE)
    assert source.df == df
    assert float(source.ms) == pytest.approx(ms, abs=CLOSE)
    assert float(found.ss_total) == pytest.approx(168.958333, abs=CLOSE)


@pytest.mark.parametrize(
    ("form", "value", "low", "high", "published"),
    [
        ("ICC(1,1)", 0.165742, -0.132932, 0.722560, 0.17),
        ("ICC(A,1)", 0.289764, 0.018787, 0.761084, 0.29),
        ("ICC(C,1)", 0.714841, 0.342465, 0.945858, 0.71),
        ("ICC(1,k)", 0.442797, -0.884442, 0.912415, 0.44),
        ("ICC(A,k)", 0.620051, 0.071137, 0.927232, 0.62),
        ("ICC(C,k)", 0.909316, 0.675675, 0.985892, 0.91),
    ],
)
def test_shrout_fleiss_icc(
    form: str, value: float, low: float, high: float, published: float
) -> None:
    # To three decimals the two-way ones as the R package intraclass documents them for this table
    # (.290, .620, .715, .909); the further ones and the intervals computed independently.
    found = analyse(ratings(SHROUT_FLEISS)).icc
    figure = found[form]
    assert figure.value == pytest.approx(value, abs=CLOSE)
    assert (figure.low, figure.high) == pytest.approx((low, high), abs=CLOSE)
    assert round(figure.value or 0, 2) == published
    assert list(found) == list(FORMS)


def test_one_table_two_measurement_errors() -> None:
    both = sems(table().within, table().residual)
    assert both["agreement"].value == pytest.approx(2.502776, abs=CLOSE)
    assert both["agreement"].mdc95 == pytest.approx(6.937342, abs=CLOSE)
    assert both["consistency"].value == pytest.approx(1.009675, abs=CLOSE)
    assert both["consistency"].mdc95 == pytest.approx(2.798677, abs=CLOSE)


def test_sem_of_agreement_is_that_of_the_formula() -> None:
    # sqrt(MSE + (MSC - MSE) / n), and the one-way root mean square is the same number.
    found = table()
    variance = found.residual.ms + (found.raters.ms - found.residual.ms) / found.n
    assert variance == found.within.ms


@pytest.mark.parametrize(
    ("sem", "mdc95", "mdc90"),
    [(3, 8.3, 7.0), (4, 11.1, 9.3), (5, 13.9, 11.6), (6, 16.6, 14.0), (8, 22.2, 18.6)],
)
def test_mdc_of_sem(sem: int, mdc95: float, mdc90: float) -> None:
    # MDC95 = 1.96 sqrt(2) SEM, MDC90 = 1.645 sqrt(2) SEM.
    figure = Sem(float(sem))
    assert figure.mdc95 == pytest.approx(2.7718 * sem, abs=1e-4 * sem)
    assert figure.mdc90 == pytest.approx(2.3264 * sem, abs=1e-4 * sem)
    assert (round(figure.mdc95, 1), round(figure.mdc90, 1)) == (mdc95, mdc90)


COHEN_1968 = ((88, 14, 18), (10, 40, 10), (2, 6, 12))
"""Counts of 200 patients in three diagnoses: Cohen 1968, Psychol Bull 70:213, as the help page of
cohen.kappa in the R package psych has them, with the figures that the paper reports."""


def test_cohen_1968_unweighted() -> None:
    found = cohen(COHEN_1968, identity_weights(3))
    assert found.value == pytest.approx(0.491525, abs=CLOSE)
    assert round(found.value or 0, 3) == 0.492, "as published"


def test_cohen_1968_with_the_weights_of_the_paper() -> None:
    disagree = ((0, 1, 3), (1, 0, 6), (3, 6, 0))
    weights = [[1 - Fraction(cell, 6) for cell in row] for row in disagree]
    found = cohen(COHEN_1968, weights)
    assert found.value == pytest.approx(0.347826, abs=CLOSE)
    assert round(found.value or 0, 3) == 0.348, "as published"


def test_cohen_1968_with_weights_that_are_not_alike_both_ways() -> None:
    disagree = ((0, 1, 4), (1, 0, 6), (2, 2, 0))
    weights = [[1 - Fraction(cell, 6) for cell in row] for row in disagree]
    assert round(cohen(COHEN_1968, weights).value or 0, 3) == 0.353, "as published"


def test_cohen_1968_with_customary_weights() -> None:
    assert cohen(COHEN_1968, linear_weights(3)).value == pytest.approx(0.473684, abs=CLOSE)
    assert cohen(COHEN_1968, quadratic_weights(3)).value == pytest.approx(0.454545, abs=CLOSE)


def test_standard_error_of_fleiss_cohen_everitt_1969() -> None:
    # Fleiss, Cohen and Everitt 1969, Psychol Bull 72:323: the counts as the help of cohen.kappa
    # in the R package psych has them. The figures follow; statsmodels finds the same standard error
    # (test_against_others.py).
    counts = ((106, 10, 4), (22, 28, 10), (2, 12, 6))
    found = cohen(counts, identity_weights(3))
    assert found.value == pytest.approx(0.428571, abs=CLOSE)
    assert round(found.se or 0, 3) == 0.054
