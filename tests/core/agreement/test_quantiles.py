"""F, t and beta quantiles: against scipy, closed forms, a printed table, and their own laws."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from math import exp, expm1, inf, isclose, log, log1p, pi, tan
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.agreement import quantiles
from limbscribe.core.agreement.quantiles import (
    beta_quantile,
    f_quantile,
    incomplete_beta,
    t_quantile,
)
from scipy import special

CASES = 6000
USED = (0.025, 0.95, 0.975)
"""Among them 1 - 0.975 and 0.975, which the program asks for."""

SCIPYS: dict[str, tuple[Callable[..., float], Callable[..., float], int]] = {
    "F": (f_quantile, lambda p, df1, df2: special.fdtri(df1, df2, p), 2),
    "t": (t_quantile, lambda p, df: special.stdtrit(df, p), 1),
    "beta": (beta_quantile, lambda p, a, b: special.betaincinv(a, b, p), 2),
}

# NIST Technical Note 1297, appendix B, table B.1: the t that holds this share in per cent
# between -t and t.
TABLE_B1 = {
    90: {1: 6.31, 2: 2.92, 3: 2.35, 5: 2.02, 10: 1.81, 20: 1.72, 30: 1.70, 50: 1.68, 100: 1.660},
    95: {1: 12.71, 2: 4.30, 3: 3.18, 5: 2.57, 10: 2.23, 20: 2.09, 30: 2.04, 50: 2.01, 100: 1.984},
    99: {1: 63.66, 2: 9.92, 3: 5.84, 5: 4.03, 10: 3.17, 20: 2.85, 30: 2.75, 50: 2.68, 100: 2.626},
}

chances = st.floats(0.0005, 0.9995)
degrees = st.floats(0.5, 1000) | st.floats(1, 1.01)


def drawn(chance: Random, parameters: int) -> tuple[float, ...]:
    """A chance and degrees of freedom: 1 to 500, crowded near 1, hardly ever whole."""
    p = chance.choice([*USED, chance.uniform(0.0005, 0.9995)])
    ranges = (
        lambda: chance.uniform(1, 500),
        lambda: 1 + 10 ** chance.uniform(-9, 2.69),
        lambda: chance.uniform(1, 6),
    )
    return (p, *(chance.choice(ranges)() for _ in range(parameters)))


@pytest.mark.parametrize("name", SCIPYS)
def test_it_is_scipys(name: str, record_property: Callable[[str, object], None]) -> None:
    ours, theirs, parameters = SCIPYS[name]
    chance = Random(name)
    cases = [drawn(chance, parameters) for _ in range(CASES)]
    errors = [abs(ours(*case) / float(theirs(*case)) - 1) for case in cases]
    worst = max(errors)
    record_property("worst relative error", worst)
    print(f"{name}: worst relative error of {len(errors)} cases {worst:.2g}")
    assert worst < 1e-9, cases[errors.index(worst)]


@pytest.mark.parametrize("share", TABLE_B1)
def test_t_is_that_of_the_printed_table(share: int) -> None:
    for df, printed in TABLE_B1[share].items():
        digits = 3 if df == 100 else 2
        t = t_quantile(0.5 + share / 200, df)
        assert t == pytest.approx(printed, abs=0.5001 * 10**-digits), df
        assert f_quantile(share / 100, 1, df) == pytest.approx(t**2, rel=1e-11), "F(1, df) is t^2"


@pytest.mark.parametrize("p", [1e-12, 0.0005, 0.025, 0.3, 0.5, 0.8, 0.975, 0.9995, 1 - 1e-12])
def test_closed_forms_hold_far_into_the_tails(p: float) -> None:
    same = partial(pytest.approx, rel=1e-9)
    if p != 0.5:
        below = min(p, 1 - p)
        cauchy = 1 / tan(pi * below)
        assert t_quantile(p, 1) == same(cauchy if p > 0.5 else -cauchy)
        of_two = (1 - 2 * below) / (2 * below * (1 - below)) ** 0.5
        assert t_quantile(p, 2) == same(of_two if p > 0.5 else -of_two)
    for df in (0.7, 1.0, 2.5, 37.3, 999.0):
        assert beta_quantile(p, df, 1) == same(p ** (1 / df))
        assert f_quantile(p, df, 2) == same(2 / df / expm1(-2 / df * log(p)))
        assert f_quantile(p, 2, df) == same(df / 2 * expm1(-2 / df * log1p(-p)))


@given(chances, degrees, degrees)
def test_what_lies_below_the_quantile_is_p(p: float, a: float, b: float) -> None:
    x = beta_quantile(p, a, b)
    if 0 < x < 1 - 1e-6:  # nearer to 1, x itself has too few digits left
        assert isclose(incomplete_beta(x, 1 - x, a, b), p, rel_tol=1e-8)
    f = f_quantile(p, a, b)
    share = a * f / (a * f + b), b / (a * f + b)
    assert isclose(incomplete_beta(*share, a / 2, b / 2), p, rel_tol=1e-8)
    t = t_quantile(p, a)
    both = incomplete_beta(a / (a + t * t), t * t / (a + t * t), a / 2, 0.5) if t else 1.0
    assert isclose(both, 2 * min(p, 1 - p), rel_tol=1e-8)
    assert (t > 0) == (p > 0.5)


@given(chances, degrees, degrees)
def test_turned_over_it_is_the_same(p: float, a: float, b: float) -> None:
    q = 1 - p
    p = 1 - q  # so that both are exact
    assert isclose(f_quantile(p, a, b) * f_quantile(q, b, a), 1, rel_tol=1e-9)
    assert t_quantile(p, a) == -t_quantile(q, a)
    assert isclose(beta_quantile(p, a, b) + beta_quantile(q, b, a), 1, rel_tol=1e-9)
    assert f_quantile(p, a, b) < f_quantile(min(p + 0.0004, 0.9999), a, b)


@given(
    st.floats(1e-300, 1, exclude_max=True),
    st.floats(-30, 6.9).map(lambda power: 10**power),
    st.floats(-30, 6.9).map(lambda power: 10**power),
)
def test_it_ends_with_a_number_whatever_the_parameters(p: float, a: float, b: float) -> None:
    assert 0 <= beta_quantile(p, a, b) <= 1
    assert 0 <= f_quantile(p, a, b) <= inf
    assert -inf <= t_quantile(p, a) <= inf


def test_steps_that_rounding_keeps_short_are_not_taken_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tries: list[float] = []

    def counted(x: float, y: float, a: float, b: float) -> float:
        tries.append(x)
        return incomplete_beta(x, y, a, b)

    monkeypatch.setattr(quantiles, "incomplete_beta", counted)
    # All but the last bit of I lies at 0 here: Newton's steps alone need nearly 200.
    assert beta_quantile(0.9999999999999992, 4.968832308764446e-17, 9308.93816418163) < 1e-6
    assert len(tries) < 130
    tries.clear()
    f_quantile(0.975, 19, 38.3)
    assert len(tries) < 10


def test_beyond_the_range_of_a_float_it_is_0_or_infinite() -> None:
    assert f_quantile(0.975, 5, 0.005) == inf
    assert f_quantile(0.025, 0.005, 5) == 0
    assert (t_quantile(0.975, 0.002), t_quantile(0.025, 0.002)) == (inf, -inf)
    assert (beta_quantile(0.5, 1e-9, 5), beta_quantile(0.5, 5, 1e-9)) == (0, 1)
    # ln F is about (2 / df) ln(1 / 0.025): still within.
    assert exp(600) < f_quantile(0.975, 5, 0.012) < inf


@pytest.mark.parametrize("p", [0, 1, -0.1, 1.1, float("nan")])
def test_a_chance_out_of_its_range_is_refused(p: float) -> None:
    for refused in (
        partial(f_quantile, p, 3, 4),
        partial(t_quantile, p, 3),
        partial(beta_quantile, p, 3, 4),
    ):
        with pytest.raises(ValueError, match="no quantile"):
            refused()


@pytest.mark.parametrize("df", [0, -1, inf, float("nan"), 1e-320, 1e8])
def test_degrees_of_freedom_out_of_their_range_are_refused(df: float) -> None:
    for refused in (
        partial(f_quantile, 0.9, df, 4),
        partial(f_quantile, 0.9, 4, df),
        partial(t_quantile, 0.9, df),
        partial(t_quantile, 0.5, df),
        partial(beta_quantile, 0.9, df, 4),
        partial(beta_quantile, 0.1, 4, df),
    ):
        with pytest.raises(ValueError, match="no quantile"):
            refused()
