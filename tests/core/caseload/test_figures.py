"""Figures of a caseload against scipy, statsmodels and published values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.caseload.coefficients import coefficients, shortening, spasticity
from limbscribe.core.caseload.facts import Take
from limbscribe.core.caseload.figures import Spread, spread, waiting
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight


@given(st.lists(st.integers(-90, 90), min_size=2, max_size=40))
def test_mean_interval_and_median_are_those_of_scipy_and_numpy(values: list[int]) -> None:
    found = spread(values)
    assert (found.n, found.mean) == (len(values), pytest.approx(np.mean(values)))
    assert found.median == pytest.approx(np.median(values))
    half = stats.t.ppf(0.975, len(values) - 1) * np.std(values, ddof=1) / np.sqrt(len(values))
    assert found.low == pytest.approx(np.mean(values) - half)
    assert found.high == pytest.approx(np.mean(values) + half)


def test_too_few_have_no_interval() -> None:
    assert spread([]) == Spread(0)
    assert spread([3]) == Spread(1, 3, None, None, 3)


@given(st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=1, max_size=30))
def test_the_median_time_is_that_of_statsmodels(seen: list[tuple[int, bool]]) -> None:
    ended = [day for day, is_end in seen if is_end]
    watched = [day for day, is_end in seen if not is_end]
    found = waiting(ended, watched)
    assert (found.n, found.ended) == (len(seen), len(ended))
    if not ended:
        assert found.median_days is None
        return
    reference = SurvfuncRight([day for day, _ in seen], [int(is_end) for _, is_end in seen])
    # The first time at which at most half are left; 0.5 itself is met within rounding.
    reached = reference.surv_times[reference.surv_prob <= 0.5 + 1e-9]
    assert found.median_days == (int(reached[0]) if len(reached) else None)


def _take(r1: int | None, r2: int | None) -> Take:
    return Take(30, 0, "AB", r1, r2, 2, True, "")


def test_coefficients_are_those_of_the_worked_values() -> None:
    """From X_N 180, X_V1 150, X_V3 110, by the definitions of Front Neurol 2023;14:1108535."""
    take = _take(110, 150)
    assert shortening(take, 180, 0) == pytest.approx(0.166667, abs=1e-6)
    assert spasticity(take, 0) == pytest.approx(0.266667, abs=1e-6)
    shifted = _take(110 - 90, 150 - 90)
    assert shortening(shifted, 180, -90) == shortening(take, 180, 0)
    assert spasticity(shifted, -90) == spasticity(take, 0)


def test_a_mobile_joint_is_negative_and_nothing_is_divided_by_zero() -> None:
    assert shortening(_take(110, 190), 180, 0) == pytest.approx(-10 / 180)
    assert spasticity(_take(-10, 0), 0) is None
    assert spasticity(_take(None, 50), 0) is None
    assert shortening(_take(20, None), 180, 0) is None
    found = coefficients([_take(110, 150), _take(None, 150), _take(None, None)], 180, 0)
    assert (found.shortening.n, found.spasticity.n) == (2, 1)
