"""One sign for the change of an angle and one for that of a station."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.compare import Basis, CompareRow, Comparison, compare_dates
from limbscribe.core.change.compare_doc import cells
from limbscribe.core.change.compare_words import signs_line
from limbscribe.core.change.marks import LEGEND, angle_mark, row_mark
from limbscribe.core.chart.chart import Chart
from limbscribe.core.tardieu.reading import Reading

from tests.support.compared import BASIS, LEFT
from tests.support.records import MUSCLES, PATIENT, reading, session

PLAIN = Basis(MUSCLES)


def row(then: Reading, now: Reading, basis: Basis = BASIS) -> CompareRow:
    """The only row of two sessions; the MDC95 of the soleus is 10.0 deg in BASIS."""
    return whole(then, now, basis).rows[0]


def whole(then: Reading, now: Reading, basis: Basis = BASIS) -> Comparison:
    chart = Chart(
        "c", PATIENT, (session("2026-01-02", then), session("2026-04-01", now)), (), (), ()
    )
    found = compare_dates(chart, basis)
    assert isinstance(found, Comparison)
    return found


def soleus(r1: int | None, r2: int | None, **more: object) -> Reading:
    return reading("soleus", LEFT, r1, r2, **more)  # type: ignore[arg-type]


def pronators(r1: int, r2: int) -> Reading:
    """The catch of the forearm pronators has no published figure."""
    return reading("forearm-pronators", LEFT, r1, r2)


@pytest.mark.parametrize(
    ("now", "r1", "r2", "station"),
    [
        ((1, 12), ">", "=", ">"),
        ((0, 12), "=", "=", "="),
        ((-10, 1), "=", "<", "<"),
        ((-10, 2), "=", "=", "="),
        ((1, 23), ">", ">", ">"),
        ((1, 1), ">", "<", "<>"),
        ((-21, 23), "<", ">", "<>"),
        ((-21, 1), "<", "<", "<"),
        ((-8, None), "=", "", ""),
        ((None, 12), "", "=", "*"),
        ((None, 23), "", ">", "*"),
    ],
)
def test_signs_are_directed_and_ten_degrees_are_within(now, r1, r2, station) -> None:
    """From R1 -10, R2 12; beyond error is more than 10.0 deg."""
    found = row(soleus(-10, 12), soleus(*now))
    marks = (angle_mark(found.change.r1), angle_mark(found.change.r2), row_mark(found))
    assert marks == (r1, r2, station)


def test_a_catch_where_there_was_none_is_told_before_the_range() -> None:
    assert row_mark(row(soleus(None, 12), soleus(-10, 40))) == "+"
    assert row_mark(row(soleus(None, 12), soleus(None, 40))) == ">"


def test_a_catch_that_was_not_tested_is_neither_gone_nor_new() -> None:
    untested = soleus(None, None, quality=None, r1_tries=(), not_tested="pain")
    assert row_mark(row(soleus(-10, 12), untested)) == ""
    assert row_mark(row(untested, soleus(-10, 12))) == ""


def test_without_a_figure_only_beyond_reading_error_is_marked() -> None:
    """Two readings with an error of 5 deg each: sqrt(2) * 5 = 7.1 deg."""
    then = pronators(0, 20)
    far, near = row(then, pronators(8, 20), PLAIN), row(then, pronators(7, 20), PLAIN)
    assert far.change.r1.mdc is None
    assert (angle_mark(far.change.r1), row_mark(far)) == ("~", "~")
    assert (angle_mark(near.change.r1), row_mark(near)) == ("", "")


def test_the_gap_and_the_shortfall_keep_the_sign_of_their_change() -> None:
    """R2 +20: gap 22 to 42, larger; the shortfall shrinks, which is more stretch."""
    change = row(soleus(-10, 0), soleus(-10, 20)).change
    assert (change.gap.change, angle_mark(change.gap)) == (20, ">")
    assert angle_mark(row(soleus(-10, 20), soleus(-10, 0)).change.gap) == "<"
    shortfall = replace(change.r2, name="shortfall", before=30, after=10)
    assert angle_mark(shortfall) == ">"
    assert angle_mark(replace(shortfall, before=10, after=30, change=-20)) == "<"


def test_every_mark_has_words_and_the_table_explains_each_of_its_signs() -> None:
    assert set(LEGEND) == set("*+><=~!")
    found = whole(soleus(-10, 12), soleus(-10, 12))
    for width in (58, 79):
        text = signs_line(found, width)
        assert all(f"{sign} " in text for sign in LEGEND)
    assert "~ beyond reading error" in text, "within it a change without a figure has no sign"
    assert len(text) <= 79
    assert "+9 more stretch" in text


def test_the_table_has_the_marks_beside_the_numbers() -> None:
    assert cells(row(soleus(-10, 12), soleus(None, 0)))[3] == "*"
    assert cells(row(soleus(None, 12), soleus(-10, 0)))[3:7:3] == ("+", "<")
