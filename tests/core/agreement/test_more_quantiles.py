"""Chi-squared and noncentral t quantiles: against scipy, printed tables, and their own laws."""

from __future__ import annotations

from functools import partial
from math import exp, inf, isclose, log, sqrt
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.agreement.quantiles import (
    chi2_quantile,
    incomplete_gamma,
    noncentral_t_quantile,
    normal_chance,
    t_quantile,
)
from scipy import special

CASES = 3000

# NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4, lower critical values: what
# chi-squared exceeds with a chance of 0.95 and of 0.975.
LOWER = {
    1: (0.004, 0.001),
    2: (0.103, 0.051),
    5: (1.145, 0.831),
    9: (3.325, 2.700),
    10: (3.940, 3.247),
    18: (9.390, 8.231),
    20: (10.851, 9.591),
    30: (18.493, 16.791),
    60: (43.188, 40.482),
    100: (77.929, 74.222),
}

# University of Arizona, chi-square table: what it exceeds with a chance of 0.05 and of 0.025.
UPPER = {
    1: (3.841, 5.024),
    2: (5.991, 7.378),
    5: (11.070, 12.833),
    9: (16.919, 19.023),
    10: (18.307, 20.483),
    14: (23.685, 26.119),
}

chances = st.floats(0.0005, 0.9995)


def drawn(chance: Random, most: float) -> tuple[float, float]:
    """A chance, and degrees of freedom crowded where they are few."""
    p = chance.choice([0.025, 0.975, chance.uniform(0.0005, 0.9995)])
    few = (chance.uniform(1, 40), 1 + 10 ** chance.uniform(-9, log(most, 10)), chance.randint(1, 9))
    return p, float(chance.choice(few))


def test_chi_squared_is_scipys() -> None:
    chance = Random("chi-squared")
    cases = [drawn(chance, 1e6) for _ in range(CASES)]
    errors = [
        abs(chi2_quantile(p, df) / (2 * special.gammaincinv(df / 2, p)) - 1) for p, df in cases
    ]
    worst = max(errors)
    print(f"chi-squared: worst relative error of {len(errors)} cases {worst:.2g}")
    assert worst < 1e-10, cases[errors.index(worst)]


@pytest.mark.parametrize("df", LOWER)
def test_chi_squared_is_that_of_the_printed_table_below(df: int) -> None:
    found = [chi2_quantile(p, df) for p in (0.05, 0.025)]
    assert found == pytest.approx(LOWER[df], abs=0.000501)


@pytest.mark.parametrize("df", UPPER)
def test_chi_squared_is_that_of_the_printed_table_above(df: int) -> None:
    found = [chi2_quantile(p, df) for p in (0.95, 0.975)]
    assert found == pytest.approx(UPPER[df], abs=0.000501)


@pytest.mark.parametrize("p", [1e-12, 0.025, 0.5, 0.9995, 1 - 1e-12])
def test_chi_squared_of_two_is_exponential(p: float) -> None:
    assert chi2_quantile(p, 2) == pytest.approx(-2 * log(1 - p), rel=1e-9)


@given(chances, st.floats(0.5, 1000))
def test_what_lies_below_the_quantile_is_p(p: float, df: float) -> None:
    below, above = incomplete_gamma(df / 2, chi2_quantile(p, df) / 2)
    assert isclose(below, p, rel_tol=1e-8)
    assert isclose(above, 1 - p, rel_tol=1e-8)


def test_gamma_is_that_of_its_closed_form() -> None:
    for x in (1e-9, 0.3, 1.9, 2.1, 40.0):
        below, above = incomplete_gamma(2, x)
        assert above == pytest.approx((1 + x) * exp(-x), rel=1e-12)
        assert below == pytest.approx(1 - (1 + x) * exp(-x), abs=1e-15)
    assert incomplete_gamma(3, 0) == (0, 1)


def test_noncentral_t_is_scipys() -> None:
    chance = Random("noncentral t")
    worst = 0.0
    for _ in range(CASES // 4):
        p, df = drawn(chance, 1e4)
        # Among them the shift of a limit of agreement.
        shift = chance.choice([1.96 * sqrt(df + 1), chance.uniform(-6, 6), chance.uniform(0, 30)])
        below = special.nctdtr(df, shift, noncentral_t_quantile(p, df, shift))
        worst = max(worst, abs(below - p))
        assert isclose(below, p, abs_tol=1e-10), (p, df, shift)
    print(f"noncentral t: worst error of the chance {worst:.2g}")


def test_noncentral_t_gives_scipys_values() -> None:
    for n in (2, 3, 10, 17, 20, 30, 100):
        for p in (0.025, 0.975):
            theirs = special.nctdtrit(n - 1, 1.96 * sqrt(n), p)
            ours = noncentral_t_quantile(p, n - 1, 1.96 * sqrt(n))
            assert ours == pytest.approx(theirs, rel=1e-7), (n, p)


@given(chances, st.floats(1, 500))
def test_without_a_shift_it_is_students_t(p: float, df: float) -> None:
    assert noncentral_t_quantile(p, df, 0) == pytest.approx(t_quantile(p, df), rel=1e-8, abs=1e-9)


@given(chances, st.floats(1, 200), st.floats(-30, 30))
def test_turned_over_it_is_the_same(p: float, df: float, shift: float) -> None:
    q = 1 - p
    p = 1 - q  # so that both are exact
    one, two = noncentral_t_quantile(p, df, shift), noncentral_t_quantile(q, df, -shift)
    assert isclose(one, -two, rel_tol=1e-8, abs_tol=1e-8)


@pytest.mark.parametrize("shift", [0.5, 1.96, 3.0])
def test_it_is_below_zero_as_often_as_a_normal_variable(shift: float) -> None:
    # Whatever the degrees of freedom: what is divided by is never negative.
    for df in (1, 7, 300):
        assert noncentral_t_quantile(normal_chance(-shift), df, shift) == pytest.approx(0, abs=1e-9)


def test_few_degrees_of_freedom_lead_far_out() -> None:
    found = noncentral_t_quantile(0.9995, 1, 40)
    assert found > 60_000
    assert special.nctdtr(1, 40, found) == pytest.approx(0.9995, abs=1e-9)


@pytest.mark.parametrize("p", [0, 1, -0.1, 1.1, float("nan")])
def test_a_chance_out_of_its_range_is_refused(p: float) -> None:
    for refused in (partial(chi2_quantile, p, 3), partial(noncentral_t_quantile, p, 3, 1)):
        with pytest.raises(ValueError, match="no quantile"):
            refused()


@pytest.mark.parametrize(
    ("df", "shift"), [(0, 1), (0.9, 1), (inf, 1), (1e8, 1), (3, 1001), (3, float("nan"))]
)
def test_parameters_out_of_their_range_are_refused(df: float, shift: float) -> None:
    with pytest.raises(ValueError, match="no quantile"):
        noncentral_t_quantile(0.9, df, shift)


@pytest.mark.parametrize("df", [0, -1, inf, float("nan"), 1e8])
def test_degrees_of_freedom_out_of_their_range_are_refused(df: float) -> None:
    with pytest.raises(ValueError, match="no quantile"):
        chi2_quantile(0.9, df)
