"""Exact intervals of limits of agreement: published tables, scipy, and a worked example."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from limbscribe.core.agreement.exact_limits import limit_factors, tolerance_factor
from limbscribe.core.agreement.figure import Figure
from limbscribe.core.agreement.limits import LimitsOfAgreement, limits
from scipy import integrate, optimize, stats

from tests.support.ratings import A_FIRST, B_FIRST, exact

CONFIDENCES = (0.025, 0.05, 0.5, 0.95, 0.975)

# Both limits as a pair, by degrees of freedom: the method of Carkeet 2015, Optom Vis Sci 92(3), as
# the reference table of the Python package pyCompare has it (tests/referenceCIs.csv). There the
# fourth decimal is cut off rather than rounded.
CARKEET = {
    2: (1.1051, 1.2333, 2.6342, 9.7888, 13.9396),
    9: (1.3915, 1.4778, 2.1239, 3.3934, 3.7706),
    16: (1.4900, 1.5619, 2.0554, 2.8683, 3.0824),
    19: (1.5175, 1.5853, 2.0410, 2.7603, 2.9445),
    29: (1.5808, 1.6393, 2.0140, 2.5549, 2.6854),
    84: (1.7117, 1.7504, 1.9791, 2.2621, 2.3240),
    99: (1.7283, 1.7645, 1.9762, 2.2339, 2.2896),
}


@pytest.mark.parametrize("df", CARKEET)
def test_as_a_pair_they_are_those_of_the_table(df: int) -> None:
    found = [tolerance_factor(p, df + 1, 0.95) for p in CONFIDENCES]
    assert found == pytest.approx(CARKEET[df], abs=4e-4 if df == 2 else 2e-4)


@pytest.mark.parametrize("n", [2, 4, 12, 60])
def test_as_a_pair_they_are_what_scipy_integrates(n: int) -> None:
    def half_width(x: float) -> float:
        def missing(width: float) -> float:
            return stats.norm.cdf(x + width) - stats.norm.cdf(x - width) - 0.95

        return optimize.brentq(missing, 0, 60, xtol=1e-12)

    def held(k: float) -> float:
        def at(z: float) -> float:
            need = (n - 1) * half_width(z / sqrt(n)) ** 2 / k**2
            return 2 * stats.norm.pdf(z) * stats.chi2.sf(need, n - 1)

        return integrate.quad(at, 0, 9, epsabs=1e-10)[0]

    for p in (0.025, 0.975):
        assert held(tolerance_factor(p, n, 0.95)) == pytest.approx(p, abs=1e-8)


@pytest.mark.parametrize(
    ("n", "near", "far"),
    [
        # t'(p; n - 1, 1.96 sqrt(n)) / sqrt(n), computed with scipy and kept.
        (10, 1.1632, 3.8010),
        (17, 1.3151, 3.1483),
        (20, 1.3565, 3.0141),
        (30, 1.4504, 2.7566),
        (100, 1.6591, 2.3419),
    ],
)
def test_one_by_one_they_are_those_of_noncentral_t(n: int, near: float, far: float) -> None:
    found, _ = limit_factors(n, 1.96)
    assert found == pytest.approx((near, far), abs=5e-5)
    theirs = stats.nct.ppf((0.025, 0.975), n - 1, 1.96 * sqrt(n)) / sqrt(n)
    assert found == pytest.approx(tuple(theirs), rel=1e-6)


def test_the_example_of_1986() -> None:
    # Bland and Altman 1986, Lancet 327:307: 17 differences of two peak flow meters, l/min, mean
    # -2.1 and SD 38.8 as printed; here with the digits that follow from its table. The limits by
    # these factors; as a pair the lower one is -121.61 to -59.88. Another method (MOVER, Zou 2013)
    # ends at -122.48, and is not this one.
    mean, sd = -2.117647, 38.765130
    ends = Figure(mean - 1.96 * sd), Figure(mean + 1.96 * sd)
    found = LimitsOfAgreement(Figure(mean), sd, *ends, 1.96, 17).exact
    (lower, upper), (lower_pair, upper_pair) = found.one, found.pair
    assert lower == pytest.approx((-124.16, -53.10), abs=0.006)
    assert upper == pytest.approx((48.86, 119.93), abs=0.006)
    assert lower_pair == pytest.approx((-121.61, -59.88), abs=0.011)
    assert upper_pair == pytest.approx((55.64, 117.37), abs=0.011)


def test_exact_intervals_lie_around_their_limits_and_turn_with_the_sign() -> None:
    pairs = exact(list(zip(A_FIRST, B_FIRST, strict=True)))
    found = limits([(a, b) for a, b in pairs])
    turned = limits([(b, a) for a, b in pairs])
    assert isinstance(found, LimitsOfAgreement)
    assert isinstance(turned, LimitsOfAgreement)
    for low, high in (found.exact.one, found.exact.pair):
        assert low[0] < (found.low.value or 0) < low[1]
        assert high[0] < (found.high.value or 0) < high[1]
    low, high = turned.exact.one
    assert (-high[1], -high[0], -low[1], -low[0]) == pytest.approx(
        (*found.exact.one[0], *found.exact.one[1])
    )


def test_with_many_pairs_all_three_intervals_come_together() -> None:
    n = 20_000
    one, pair = limit_factors(n, 1.96)
    approximate = 1.96 - stats.t.ppf(0.975, n - 1) * sqrt(3 / n)
    assert one[0] == pytest.approx(approximate, abs=5e-3)
    assert pair[0] == pytest.approx(1.96, abs=0.02)
    assert limit_factors(100_000, 1.96)[1][1] == pytest.approx(1.96, abs=0.01)


def test_the_multiplier_of_the_paper_gives_intervals_of_its_limits() -> None:
    one, pair = limit_factors(17, 2)
    theirs = stats.nct.ppf((0.025, 0.975), 16, 2 * sqrt(17)) / sqrt(17)
    assert one == pytest.approx(tuple(theirs), rel=1e-6)
    # 2 SD hold 95.45 % of a normal distribution.
    content = stats.norm.cdf(2) - stats.norm.cdf(-2)
    assert pair[1] == pytest.approx(tolerance_factor(0.975, 17, content), rel=1e-9)


def test_no_difference_between_pairs_leaves_no_width() -> None:
    found = limits([(a, a) for (a,) in exact([[1], [5], [9]])])
    assert isinstance(found, LimitsOfAgreement)
    assert np.ptp([end for ends in found.exact.pair for end in ends]) == 0
