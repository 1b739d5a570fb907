"""Intervals of SEM and MDC by chi-squared: published figures, and scipy."""

from __future__ import annotations

from fractions import Fraction
from math import sqrt

import pytest
from limbscribe.core.agreement.anova import Anova, Variation, anova
from limbscribe.core.agreement.document import study_doc
from limbscribe.core.agreement.error import Sem, sems
from limbscribe.core.agreement.icc import two_way_icc
from limbscribe.core.agreement.study import analyse
from scipy.stats import chi2

from tests.support.ratings import SHROUT_FLEISS, exact, ratings


@pytest.mark.parametrize(
    ("df", "low", "high"),
    [
        # sqrt(df / chi2(0.975)) and sqrt(df / chi2(0.025)), computed with scipy and kept.
        (9, 0.6878, 1.8256),
        (10, 0.6987, 1.7549),
        (16, 0.7448, 1.5219),
        (19, 0.7605, 1.4606),
        (29, 0.7964, 1.3443),
    ],
)
def test_multipliers(df: int, low: float, high: float) -> None:
    assert Sem(1.0, df).interval == pytest.approx((low, high), abs=5.1e-5)


@pytest.mark.parametrize("df", [1, 2, 7, 60, 1000])
def test_it_is_what_scipy_gives(df: int) -> None:
    theirs = [3.2 * sqrt(df / chi2.ppf(p, df)) for p in (0.975, 0.025)]
    sem = Sem(3.2, df)
    assert sem.interval == pytest.approx(theirs, rel=1e-9)
    assert sem.mdc_interval(95) == pytest.approx([1.96 * sqrt(2) * end for end in theirs])
    assert sem.mdc_interval(90) == pytest.approx([1.645 * sqrt(2) * end for end in theirs])


def test_shrout_and_fleiss() -> None:
    # Shrout and Fleiss 1979, Table 2. SEM 1.01 is printed in the reliability vignette of the R
    # package SimplyAgree; its interval follows with 15 degrees of freedom. The intervals that
    # vignette prints for the ICC as 95 % are the 90 % ones: they are no reference here.
    table = anova(exact(SHROUT_FLEISS))
    assert isinstance(table, Anova)
    found = sems(table.within, table.residual)
    assert round(found["consistency"].value or 0, 2) == 1.01
    assert found["consistency"].interval == pytest.approx((0.7459, 1.5627), abs=5e-5)
    assert found["agreement"].df == 18
    figure = two_way_icc(table)["ICC(C,1)"]
    assert (figure.low, figure.high) != pytest.approx((0.41184, 0.92583), abs=0.01)


def test_muscle_activation_of_tennis_players() -> None:
    # Mean squares as printed in the help page GDO of the R package PairedData: 18 players on 3
    # days, players 72704, days 34650, error 12426. Its "ICC(3,1)" of 0.8540 divides by the sum of
    # two mean squares, which is another figure.
    table = Anova(
        18,
        3,
        Variation(Fraction(72704 * 17), 17),
        Variation(Fraction(34650 * 2), 2),
        Variation(Fraction(12426 * 34), 34),
    )
    sem = sems(table.within, table.residual)["consistency"]
    assert sem.value == pytest.approx(111.472, abs=5e-4)
    assert sem.interval == pytest.approx((90.17, 146.05), abs=5e-3)
    assert two_way_icc(table)["ICC(C,1)"].value == pytest.approx(0.617881, abs=5e-7)


def test_no_error_and_no_figure_have_no_interval() -> None:
    assert Sem(0.0, 7).interval is None
    assert Sem(None, reason="too few").mdc_interval(95) is None
    document = study_doc(analyse(ratings([[1, 1], [2, 2], [5, 5]])))
    assert document["sem_agreement"] == 0
    assert document["sem_agreement_interval"] is None


def test_the_document_has_the_intervals_beside_the_figures() -> None:
    document = study_doc(analyse(ratings(SHROUT_FLEISS)))
    assert document["sem_consistency_interval"] == pytest.approx([0.7459, 1.5627], abs=5e-5)
    assert document["mdc95_consistency_interval"] == pytest.approx(
        [1.96 * sqrt(2) * end for end in document["sem_consistency_interval"]]
    )
    assert document["sem_agreement_df"] == 18
