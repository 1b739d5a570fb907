"""Figures that do not exist: none is a number, each says why."""

from __future__ import annotations

import itertools
from math import isfinite

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.agreement.document import study_doc
from limbscribe.core.agreement.icc import FORMS
from limbscribe.core.agreement.kappa import MEAN_OF_PAIRS, Kappas, parse_categories
from limbscribe.core.agreement.limits import LimitsOfAgreement
from limbscribe.core.agreement.study import analyse, outside
from limbscribe.core.agreement.words import study_lines

from tests.support.ratings import ratings


def test_all_equal() -> None:
    study = analyse(ratings([[7, 7], [7, 7], [7, 7]]))
    assert {f.value for f in study.icc.values()} == {None}
    assert {f.reason for f in study.icc.values()} == {
        "all ratings are equal, so there is nothing to compare"
    }
    assert study.sem["agreement"].value == 0
    assert "no proof" in study.notes[0]


def test_decimals_without_error_are_without_error() -> None:
    # 0.3 - 0.1 is not 0.2 in binary; the mean squares must be 0 all the same.
    study = analyse(ratings([[0.1, 0.3], [0.4, 0.6], [0.7, 0.9]]))
    assert study.sem["consistency"].value == 0
    assert study.icc["ICC(C,1)"].value == 1
    assert study.icc["ICC(C,1)"].low is None
    assert study.icc["ICC(C,1)"].reason.startswith("no interval")
    one = study.icc["ICC(A,1)"]
    assert one.value is not None
    assert 0 < one.value < 1
    assert one.low is not None
    assert one.low < one.value < (one.high or 0), "raters differ, so this one has an interval"


def test_perfect_agreement() -> None:
    study = analyse(ratings([[1, 1], [2, 2], [5, 5]]), tuple(range(6)))
    for figure in study.icc.values():
        assert (figure.value, figure.low, figure.high) == (1, None, None)
        assert figure.reason == "no interval: the ratings of a target agree without any error"
    assert isinstance(study.kappas, Kappas)
    kappa = study.kappas.figures["kappa"]
    assert (kappa.value, kappa.se) == (1, None)
    assert kappa.reason


def test_targets_alike_but_not_the_raters() -> None:
    study = analyse(ratings([[1, 3], [1, 3], [1, 3]]))
    assert study.icc["ICC(C,1)"].value is None
    assert study.icc["ICC(A,1)"].value == 0
    assert study.icc["ICC(1,1)"].value == -1
    assert study.icc["ICC(1,k)"].value is None
    assert "do not differ" in study.icc["ICC(1,k)"].reason


def test_negative_is_legal_and_said() -> None:
    study = analyse(ratings([[1, 5], [5, 1], [2, 4], [4, 3]]))
    value = study.icc["ICC(1,1)"].value
    assert value is not None
    assert -1 <= value < 0
    assert any("negative ICC" in note for note in study.notes)


def test_an_agreement_of_means_above_one_is_no_figure() -> None:
    # MSR below MSE / n: numerator and denominator are both negative and would give 1.8.
    study = analyse(ratings([[0, 9], [9, 1], [1, 8.5], [8.5, 0]]))
    figure = study.icc["ICC(A,k)"]
    assert (figure.value, figure.low, figure.high) == (None, None, None)
    assert "nothing is left to divide by" in figure.reason


@pytest.mark.parametrize(
    ("rows", "value"),
    [
        # 0.005 and 0.00004 degrees of freedom: F is beyond what a float can hold. A library that
        # cuts it off there gives an interval that does not even hold the value.
        ([[0, 0, 0], [-3, -1, 3]], -9 / 19),
        ([[-10, 11, 1, 3], [2, -9, 6, 7]], -0.6089676747),
    ],
)
def test_with_next_to_no_degrees_of_freedom_there_is_no_interval(
    rows: list[list[int]], value: float
) -> None:
    figure = analyse(ratings(rows)).icc["ICC(A,1)"]
    assert figure.value == pytest.approx(value)
    assert (figure.low, figure.high) == (None, None)
    assert figure.reason == "no interval: too few degrees of freedom are left"


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ([[3, 4]], "fewer than 2 targets"),
        ([[3], [4]], "fewer than 2 raters"),
        ([[3, None], [None, 5]], "no target has two ratings"),
        ([[None, None], [None, None]], "fewer than 2 targets"),
    ],
)
def test_too_few(rows: list[list[float | None]], reason: str) -> None:
    study = analyse(ratings(rows), tuple(range(6)))
    assert all(f.value is None and f.reason for f in study.icc.values())
    assert study.icc["ICC(1,1)"].reason.startswith(reason)
    assert all(sem.value is None and sem.mdc95 is None for sem in study.sem.values())
    assert isinstance(study.limits, str)
    assert study.repeatability is None
    assert isinstance(study.kappas, str)


def test_missing_cells_are_said_and_their_targets_left_out_where_they_must_be() -> None:
    whole = [[3, 4], [6, 8], [9, 9]]
    study, complete = analyse(ratings([*whole, [5, None]])), analyse(ratings(whole))
    assert study.n == 3
    assert study.notes[0].startswith("1 of 4 targets lacks a rating: T4 (not by B). One-way")
    assert "use the other targets only" in study.notes[0]
    for form in FORMS:
        assert (study.icc[form] == complete.icc[form]) is ("(1," not in form), form
    assert study.sem == complete.sem


def test_raters_that_are_not_the_same_give_one_way_figures_only() -> None:
    rows = [[3, 4], [6, 8], [9, 9]]
    study = analyse(ratings(rows, crossed=False), tuple(range(10)))
    crossed = analyse(ratings(rows))
    for form in FORMS:
        assert (study.icc[form].value is None) is ("(1," not in form)
    assert study.icc["ICC(1,1)"] == crossed.icc["ICC(1,1)"]
    assert study.sem["agreement"] == crossed.sem["agreement"]
    assert study.sem["consistency"].value is None
    assert isinstance(study.limits, str)
    assert isinstance(study.kappas, str)


def test_one_category_has_no_kappa() -> None:
    study = analyse(ratings([[2, 2], [2, 2]]), (0, 1, 2, 3, 4))
    assert isinstance(study.kappas, Kappas)
    for figure in study.kappas.figures.values():
        assert figure.value is None
        assert figure.se is None
        assert "one and the same category" in figure.reason
    assert study.kappas.exact == 1


def test_a_mean_over_pairs_is_named_and_none_when_a_pair_has_none() -> None:
    rows = [[2, 2, 1], [2, 2, 3], [2, 2, 0]]
    study = analyse(ratings(rows), (0, 1, 2, 3, 4))
    assert isinstance(study.kappas, Kappas)
    assert study.kappas.form == MEAN_OF_PAIRS
    assert study.kappas.figures["kappa"].value is None
    assert "A and B" in study.kappas.figures["kappa"].reason


def test_an_unused_grade_keeps_its_place() -> None:
    rows = [[0, 0], [1, 3], [3, 3], [4, 3], [1, 0], [4, 4]]
    fixed = analyse(ratings(rows), (0, 1, 2, 3, 4)).kappas
    closed_up = [[{0: 0, 1: 1, 3: 2, 4: 3}[cell] for cell in row] for row in rows]
    tight = analyse(ratings(closed_up), (0, 1, 2, 3)).kappas
    wider = analyse(ratings(rows), (0, 1, 2, 3, 4, 5)).kappas
    assert isinstance(fixed, Kappas)
    assert isinstance(tight, Kappas)
    assert isinstance(wider, Kappas)
    key = "kappa_linear"
    assert abs((fixed.figures[key].value or 0) - (tight.figures[key].value or 0)) > 0.005
    assert fixed.figures[key].value == pytest.approx(wider.figures[key].value), "an end grade"


def test_a_rating_outside_the_list_is_named() -> None:
    table = ratings([[0, 5], [1, 2.5]])
    assert outside(table, (0, 1, 2, 3, 4)) == "5 by B for T1 is not a grade of the list"
    assert outside(table, (0, 1, 2, 3, 4, 5)) == "2.5 by B for T2 is not a grade of the list"
    assert outside(ratings([[0, None]]), (0, 1)) == ""


@pytest.mark.parametrize("text", ["", "4", "4-0", "2-2", "0-", "a-b", "0-44", "0-4 "])
def test_no_list_of_grades(text: str) -> None:
    assert parse_categories(text) is None


def test_lists_of_grades() -> None:
    assert parse_categories("0-4") == (0, 1, 2, 3, 4)
    assert parse_categories("0-5") == (0, 1, 2, 3, 4, 5)


def test_every_small_table_of_grades_gives_finite_numbers_or_reasons() -> None:
    """Of two raters and three targets, whose order is of no account."""
    targets = itertools.product(range(3), repeat=2)
    for table in itertools.combinations_with_replacement(targets, 3):
        check(table)


@given(
    st.integers(1, 6).flatmap(
        lambda k: st.lists(
            st.lists(st.integers(0, 4) | st.none(), min_size=k, max_size=k),
            min_size=1,
            max_size=7,
        )
    )
)
def test_any_table_gives_finite_numbers_or_reasons(rows: list[list[int | None]]) -> None:
    check(rows)


def check(rows: object) -> None:
    """Nothing infinite, nothing missing without a reason, limits around their value."""
    study = analyse(ratings(rows), (0, 1, 2, 3, 4))  # type: ignore[arg-type]
    for figure in study.icc.values():
        numbers = [x for x in (figure.value, figure.low, figure.high) if x is not None]
        assert all(map(isfinite, numbers))
        assert len(numbers) == 3 or figure.reason
        assert figure.value is None or figure.value <= 1
        if figure.value is not None and None not in (figure.low, figure.high):
            assert (figure.low or 0) - 1e-9 <= figure.value <= (figure.high or 0) + 1e-9
    if isinstance(study.kappas, Kappas):
        for figure in study.kappas.figures.values():
            assert figure.value is None or -1 - 1e-12 <= figure.value <= 1
            assert figure.reason or figure.se is not None
    if isinstance(study.limits, LimitsOfAgreement):
        assert isfinite(study.limits.sd)
    document = study_doc(study)
    assert set(document["icc"]) == set(FORMS)
    assert max(map(len, study_lines(study))) <= 80


def test_a_limit_without_a_bound_is_named() -> None:
    study = analyse(ratings([[1, 3, 5, 0], [4, 1, 6, 3], [3, 4, 1, 2]]))
    figure = study.icc["ICC(A,k)"]
    assert (figure.low, figure.reason) == (None, "no lower limit: it has no bound")
    assert figure.high is not None
