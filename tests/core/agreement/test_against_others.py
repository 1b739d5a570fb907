"""The same figures from other people's programs, on made-up tables of ratings."""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pandas
import pytest
from limbscribe.core.agreement.anova import Anova, anova
from limbscribe.core.agreement.digits import proportion
from limbscribe.core.agreement.kappa import WEIGHTINGS, Kappas
from limbscribe.core.agreement.limits import LimitsOfAgreement, limits, repeatability
from limbscribe.core.agreement.study import analyse
from scipy.stats import ttest_1samp
from sklearn.metrics import cohen_kappa_score
from statsmodels.formula.api import ols
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.proportion import proportion_confint
from statsmodels.stats.weightstats import DescrStatsW

from tests.support.ratings import A_AGAIN, A_FIRST, B_AGAIN, B_FIRST, exact, ratings
from tests.support.sizes import size

TABLES = size(200, 200, 2000)
WEIGHTS = {"kappa": None, "kappa_linear": "linear", "kappa_quadratic": "quadratic"}


@pytest.fixture(scope="module")
def pingouin() -> ModuleType:
    """Pingouin, without rounding; late, since every process collects and few compare."""
    import pingouin

    pingouin.options["round.column.CI95"] = None
    return pingouin


def angles(seed: int) -> list[list[int]]:
    """A table of whole degrees; sizes, spreads and rater differences vary with the seed."""
    chance = np.random.default_rng(seed)
    n, k = int(chance.integers(4, 25)), int(chance.integers(2, 6))
    spread = chance.uniform(0, 12, 3)
    table = (
        chance.normal(0, spread[0], (n, 1))
        + chance.normal(0, spread[1], (1, k))
        + chance.normal(0, spread[2] + 1, (n, k))
    )
    return np.rint(table).astype(int).tolist()


def test_icc_and_intervals_are_those_of_pingouin(pingouin: ModuleType) -> None:
    compared = 0
    for seed in range(TABLES):
        rows = angles(seed)
        long = pandas.DataFrame(
            [(t, r, v) for t, row in enumerate(rows) for r, v in enumerate(row)],
            columns=["target", "rater", "value"],
        )
        theirs = pingouin.intraclass_corr(long, "target", "rater", "value").set_index("Type")
        for form, figure in analyse(ratings(rows)).icc.items():
            assert figure.value == pytest.approx(theirs.loc[form, "ICC"], abs=1e-8), (seed, form)
            low, high = (float(limit) for limit in theirs.loc[form, "CI95"])
            if figure.low is None:
                # Theirs divides by less than nothing there and comes out above its own value.
                assert form == "ICC(A,k)"
                assert low > figure.value
                assert figure.reason
            else:
                assert (figure.low, figure.high) == pytest.approx((low, high), abs=1e-6), seed
            compared += 1
    assert compared == 6 * TABLES
    assert TABLES >= 200


def test_kappa_and_standard_errors_are_those_of_others() -> None:
    compared = 0
    for seed in range(TABLES):
        chance = np.random.default_rng(seed)
        top = int(chance.integers(4, 6))
        true = chance.integers(0, top + 1, int(chance.integers(5, 40)))
        raters = [np.clip(true + chance.integers(-1, 2, true.size), 0, top) for _ in range(2)]
        counts = np.zeros((top + 1, top + 1), int)
        np.add.at(counts, tuple(raters), 1)
        rows = np.array(raters).T.tolist()
        ours = analyse(ratings(rows), tuple(range(top + 1))).kappas
        assert isinstance(ours, Kappas)
        assert ours.exact == pytest.approx(np.trace(counts) / true.size)
        for key, weights in WEIGHTS.items():
            figure = ours.figures[key]
            kappa = cohen_kappa_score(*raters, labels=range(top + 1), weights=weights)
            assert figure.value == pytest.approx(kappa, abs=1e-9), (seed, key)
            theirs = cohens_kappa(counts, wt=weights)
            assert figure.value == pytest.approx(theirs.kappa, abs=1e-9)
            assert figure.se == pytest.approx(theirs.std_kappa, abs=1e-9), (seed, key)
            compared += 1
    assert compared == len(WEIGHTINGS) * TABLES


def test_mean_over_pairs_is_the_mean_over_pairs() -> None:
    for seed in range(20):
        chance = np.random.default_rng(seed)
        rows = chance.integers(0, 5, (15, 4))
        ours = analyse(ratings(rows.tolist()), (0, 1, 2, 3, 4)).kappas
        assert isinstance(ours, Kappas)
        for key, weights in WEIGHTS.items():
            theirs = [
                cohen_kappa_score(rows[:, i], rows[:, j], labels=range(5), weights=weights)
                for i in range(4)
                for j in range(i + 1, 4)
            ]
            assert ours.figures[key].value == pytest.approx(np.mean(theirs), abs=1e-9)


def test_limits_of_agreement_by_another_way() -> None:
    for seed in range(TABLES):
        rows = [row[:2] for row in angles(seed)]
        found = limits([(a, b) for a, b in exact(rows)])
        assert isinstance(found, LimitsOfAgreement)
        difference = pandas.Series([a - b for a, b in rows], dtype=float)
        assert found.bias.value == pytest.approx(difference.mean())
        assert found.sd == pytest.approx(difference.std(ddof=1))
        theirs = ttest_1samp(difference, 0).confidence_interval(0.95)
        assert (found.bias.low, found.bias.high) == pytest.approx((theirs.low, theirs.high))


PAIRS = exact(list(zip(A_FIRST, B_FIRST, strict=True)))


def agreed(multiplier: float) -> LimitsOfAgreement:
    found = limits([(a, b) for a, b in PAIRS], multiplier)
    assert isinstance(found, LimitsOfAgreement)
    return found


def test_bias_and_sd_are_those_of_statsmodels() -> None:
    found = agreed(1.96)
    theirs = DescrStatsW(np.subtract(A_FIRST, B_FIRST), ddof=1)
    assert found.sd == pytest.approx(theirs.std, abs=1e-9), "divisor n - 1"
    assert found.bias.value == pytest.approx(theirs.mean, abs=1e-9)
    interval = DescrStatsW(np.subtract(A_FIRST, B_FIRST)).tconfint_mean(0.05)
    assert (found.bias.low, found.bias.high) == pytest.approx(interval, abs=1e-9)


@pytest.mark.parametrize("multiplier", [1.96, 2])
def test_limits_and_their_intervals_are_those_that_pingouin_draws(
    multiplier: float, pingouin: ModuleType
) -> None:
    from matplotlib.figure import Figure

    axes = pingouin.plot_blandaltman(
        np.array(A_FIRST), np.array(B_FIRST), agreement=multiplier, ax=Figure().subplots()
    )
    bias, high, low = (line.get_ydata()[0] for line in axes.lines[1:])  # behind the zero line
    bands = [(band.get_y(), band.get_y() + band.get_height()) for band in axes.patches]
    found = agreed(multiplier)
    assert found.multiplier == multiplier
    ours = (found.bias, found.high, found.low)
    assert [one.value for one in ours] == pytest.approx([bias, high, low], abs=1e-9)
    assert len(bands) == 3
    for one, band in zip(ours, bands, strict=True):
        assert (one.low, one.high) == pytest.approx(band, abs=1e-9)


def test_limits_are_1_96_sd_unless_another_number_is_given() -> None:
    assert limits([(a, b) for a, b in PAIRS]) == agreed(1.96)
    assert agreed(2) != agreed(1.96)


@pytest.mark.parametrize("repeats", [(A_FIRST, A_AGAIN), (B_FIRST, B_AGAIN)], ids=("A", "B"))
def test_repeatability_is_that_of_the_model_of_statsmodels(
    repeats: tuple[tuple[int, ...], tuple[int, ...]],
) -> None:
    rows = list(zip(*repeats, strict=True))
    table = anova(exact(rows))
    assert isinstance(table, Anova)
    long = pandas.DataFrame(
        [(t, v) for t, row in enumerate(rows) for v in row], columns=["target", "value"]
    )
    within = ols("value ~ C(target)", long).fit().mse_resid
    assert repeatability(table.within.ms) == pytest.approx(1.96 * np.sqrt(2 * within), abs=1e-9)
    assert repeatability(table.within.ms, 2) == pytest.approx(2 * np.sqrt(2 * within), abs=1e-9)
    squares = np.square(np.subtract(*repeats)).mean()
    assert repeatability(table.within.ms, 1) == pytest.approx(np.sqrt(squares)), "about zero"


def test_exact_binomial_interval_is_that_of_statsmodels() -> None:
    for of in range(1, 41):
        for hits in range(of + 1):
            found = proportion(hits, of)
            theirs = proportion_confint(hits, of, method="beta")
            assert (found.low, found.high) == pytest.approx(theirs, abs=1e-10)
            assert found.value == hits / of
