"""Gap, shortfall and the plain line.

The two parts are those of Boyd and Graham 1999: R2 - R1 the dynamic one, what R2 lacks of the
normal range the static one. Angles here are invented.
"""

from __future__ import annotations

import pytest
from limbscribe.core.tardieu.components import plain_line, shortfall_of, shown_gap
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.stations import DEFICIT, NEUTRAL, STRAIGHT, reference


def reading(scale=NEUTRAL, **values) -> Reading:
    return Reading("hamstrings", Side.LEFT, "supine", scale, **values)


@pytest.mark.parametrize(
    ("scale", "r1", "r2"), [(NEUTRAL, -45, -10), (DEFICIT, 45, 10), (STRAIGHT, 135, 170)]
)
def test_gap_and_shortfall_are_the_same_in_every_scale(scale, r1, r2):
    found = reading(scale, r1=r1, r2=r2, quality=2)
    assert (found.gap, shortfall_of(found, reference(mean=-2))) == (35, 8)


@pytest.mark.parametrize(
    ("r1", "r2", "mean", "line"),
    [
        (
            -45,
            -10,
            -2,
            "gap 35 deg, over the error of two readings, 7; shortfall 8 deg; gap is the larger",
        ),
        (
            -15,
            -10,
            0,
            "gap 5 deg, within the error of two readings, 7; shortfall 10 deg; "
            "gap and shortfall about equal",
        ),
        (
            -16,
            -10,
            -4,
            "gap 6 deg, within the error of two readings, 7; shortfall 6 deg; "
            "gap and shortfall about equal",
        ),
        (
            -16,
            3,
            0,
            "gap 19 deg, over the error of two readings, 7; slow range 3 deg beyond reference",
        ),
        (
            -16,
            0,
            0,
            "gap 16 deg, over the error of two readings, 7; shortfall 0 deg; gap is the larger",
        ),
        (
            -5,
            -4,
            -4,
            "gap 1 deg, within the error of two readings, 7; shortfall 0 deg; "
            "gap and shortfall about equal",
        ),
    ],
)
def test_plain_line(r1, r2, mean, line):
    assert plain_line(reading(r1=r1, r2=r2, quality=2), reference(mean=mean), 5) == line


def test_what_is_called_larger_is_larger_than_the_error_of_both():
    """The root of 2 * 5 * 5 is 7.07, that of 5 * 5 * 5 is 11.18: worked by hand."""
    for r1, words in ((-17, "within the error"), (-18, "over the error")):
        assert words in plain_line(reading(r1=r1, r2=-10, quality=2), "no reference", 5)
    for r1, words in ((-21, "about equal"), (-22, "gap is the larger")):
        assert words in plain_line(reading(r1=r1, r2=-10, quality=2), reference(mean=-10), 5)


def test_no_catch_has_no_gap_and_no_reference_is_said():
    line = plain_line(reading(r2=-10, quality=0), "no reference: birth year not stated", 5)
    assert line == "no catch, so no gap; no reference: birth year not stated"


@pytest.mark.parametrize(
    ("quality", "words"), [(0, "no catch"), (1, "no catch"), (2, "no R1"), (5, "no R1")]
)
def test_the_grades_without_a_catch_say_so_even_without_tries(quality, words):
    assert plain_line(reading(r2=-10, quality=quality), "no reference", 5).startswith(words)


def test_what_is_not_there_yet_is_said():
    assert plain_line(reading(), "no reference", 5) == "no slow range yet"
    assert plain_line(reading(not_tested="pain"), "", 5) == "slow range not tested"
    assert plain_line(reading(r2=5), "no reference", 5).startswith("no fast stretch yet")
    assert plain_line(reading(r2=5, not_tested="pain"), "x", 5).startswith("fast stretch not")


@pytest.mark.parametrize(
    ("r1", "words"),
    [
        (-10, "gap 0 deg, within the error of two readings, 7"),
        (-5, "gap 0 deg, R1 5 deg beyond R2"),
        (-2, "gap 0 deg, R1 8 deg beyond R2"),
    ],
)
def test_where_r1_lies_beyond_r2_the_gap_is_0_and_the_difference_is_said(r1, words):
    assert plain_line(reading(r1=r1, r2=-10, quality=2), "no reference", 5).startswith(f"{words};")


def test_half_a_degree_of_the_reference_is_rounded_up_once():
    """40.5 is 41 for every R2, so a degree more of R2 is a degree less of shortfall."""
    found = [shortfall_of(reading(r2=r2), reference(mean=40.5)) for r2 in (29, 30)]
    assert found == [12, 11]
    assert reference(mean=-11.5).whole == -11
    assert [shown_gap(gap) for gap in (None, -3, 4)] == [None, 0, 4]
