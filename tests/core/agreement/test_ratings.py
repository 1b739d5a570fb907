"""The ratings CSV, and the last digits."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from limbscribe.core.agreement.digits import digit_preference
from limbscribe.core.agreement.ratings import Ratings, parse_ratings
from limbscribe.core.agreement.words import digit_lines
from limbscribe.core.problem import Problem
from limbscribe.core.text import width_of


def read(text: str) -> Ratings:
    found = parse_ratings(text.encode(), "r.csv")
    assert isinstance(found, Ratings), found
    return found


def refused(text: str | bytes) -> list[Problem]:
    found = parse_ratings(text if isinstance(text, bytes) else text.encode(), "r.csv")
    assert isinstance(found, list), found
    return found


def test_long_form_in_any_order() -> None:
    found = read("\ufeffrater,value,target\r\nA,1.5,x\r\nB,-2,x\r\nB,3,y\r\nA,0,y\r\n")
    assert found.targets == ("x", "y")
    assert found.raters == ("A", "B")
    assert found.rows == ((Fraction(3, 2), Fraction(-2)), (Fraction(0), Fraction(3)))


def test_empty_and_absent_values_are_missing() -> None:
    found = read("target,rater,value\nx,A,1\nx,B,\n\ny,A,2\nz,A,1\nz,B,2\n")
    assert found.missing == (("x", ("B",)), ("y", ("B",)))
    assert found.whole == ((1, 2),)
    assert found.column("A") == (1, 2, 1)


@pytest.mark.parametrize(
    "value", ["1_0", "nan", "inf", "1e5", "\u0661", "0x1", "1.", ".5", "--1", "+1", "1 2", "9" * 10]
)
def test_only_plain_numbers(value: str) -> None:
    (problem,) = refused(f"target,rater,value\nx,A,1\nx,B,{value}\n")
    assert problem.where == "r.csv line 3"
    assert "not a plain number" in problem.what


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("", "r.csv line 1", "must name the columns"),
        ("target,rater\nx,A\n", "r.csv line 1", "must name the columns"),
        ("target,rater,value\n", "r.csv", "no rating"),
        ("target,rater,value\nx,A,7,5\n", "r.csv line 2", "4 cells instead of 3"),
        ("target,rater,value\n,A,7\n", "r.csv line 2", "the target is missing"),
        ("target,rater,value\nx,,7\n", "r.csv line 2", "the rater is missing"),
        ("target,rater,value\nx,A,7\nx,A,7\n", "r.csv line 3", "a second value"),
        ('target,rater,value\nx,"A,7\n', "r.csv line 2", "never closed"),
        (b"target,rater,value\nx,\xff,7\n", "r.csv line 2", "not UTF-8"),
    ],
)
def test_refusals_say_where(text: str | bytes, where: str, what: str) -> None:
    problem = refused(text)[0]
    assert problem.where == where
    assert what in problem.what
    assert problem.mend


def test_hostile_names_cannot_steer_the_terminal() -> None:
    (problem,) = refused("target,rater,value\nx\x1b[2J,A,7\nx\x1b[2J,A,8\n")
    assert str(problem).isprintable()


def test_last_digits() -> None:
    found = digit_preference("A", [-35, 40, 0, 12, 7, -3, Fraction(5, 2)])
    assert (found.readings, found.round_ones, found.not_whole) == (6, 3, 1)
    assert found.share.value == 0.5
    # Clopper & Pearson for 3 of 6, as tabulated: 11.8 to 88.2 %.
    assert (found.share.low, found.share.high) == pytest.approx((0.1181, 0.8819), abs=5e-5)
    lines = digit_lines([found])
    assert "3 of 6" in lines[1]
    assert "11.8 to 88.2 %" in lines[1]
    assert "left out" in lines[2]
    for name in ("評価者", "評" * 20):
        row = digit_lines([replace(found, rater=name)])[1]
        assert width_of(row[: row.index("3 of 6")]) == lines[1].index("3 of 6")


def test_no_reading_no_share() -> None:
    found = digit_preference("A", [])
    assert (found.share.value, found.share.low) == (None, None)
    assert "none" in digit_lines([found])[1]
