"""Goals and their T score against published values.

Values seen in the printed output and the tests of two public packages for goal attainment, and
recomputed from the formula of Kiresuk and Sherman, Community Ment Health J 1968;4(6):443-453.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from limbscribe.core.chart.events import standing, strike
from limbscribe.core.chart.goals import (
    Goal,
    goal_event,
    goals_by_day,
    goals_of,
    parse_goal,
    parse_score,
    score_event,
    t_score,
    t_words,
)
from limbscribe.core.problem import Problem

DAY = date(2026, 3, 2)


def _goals(scores: list[int | None], weights: list[float] | None = None) -> list[Goal]:
    given = weights or [None] * len(scores)
    return [
        Goal(str(n), "g", w, DAY, s) for n, (s, w) in enumerate(zip(scores, given, strict=True))
    ]


@pytest.mark.parametrize(
    ("scores", "weights", "expected"),
    [
        # printed in the README of a package for simulated trials, equal weights
        ([2, 2, 2], None, 77.38613),
        ([0, -1, 1], None, 50.0),
        ([0, 1, 1], None, 59.12871),
        ([2, 1, 2], None, 72.82177),
        # tests of a second package, by hand there
        ([1], None, 60.0),
        ([-1], None, 40.0),
        ([1, 0], [6, 6], 56.201737),
        # separates the formula from two shortcuts in circulation (66.9031 and 60.0000)
        ([1, 1], None, 62.403473),
        # example inputs in the help of the first package
        ([-2, 0, -1, 2, 0, 1], [3, 5, 1, 4, 2, 6], 55.0),
        # a cohort of 243 patients: median 34.9 and 21.0, quartiles 35.5, 19.8 and 22.6
        # (abstract, PubMed 20026573)
        ([-1] * 4, None, 35.49),
        ([-1] * 5, None, 34.92),
        ([-2] * 3, None, 22.61),
        ([-2] * 4, None, 20.98),
        ([-2] * 5, None, 19.85),
    ],
)
def test_t_score_is_as_published(
    scores: list[int | None], weights: list[float] | None, expected: float
) -> None:
    assert t_score(_goals(scores, weights)) == pytest.approx(expected, abs=0.006)


def test_a_goal_without_a_score_is_left_out_and_counted() -> None:
    goals = _goals([1, None, 1])
    assert t_score(goals) == t_score(_goals([1, 1]))
    assert t_words(goals) == "T score 62.4 from 2 of 3 goals"
    assert t_score(_goals([None])) is None
    assert t_words(_goals([None])) == ""


def test_goals_come_from_events_and_are_no_treatment() -> None:
    goal = goal_event("g1", " washing of the hand ", DAY, 2)
    other = goal_event("g2", "splint on for the night", DAY)
    first = score_event("s1", "g1", -1, date(2026, 4, 1))
    later = score_event("s2", "g1", 1, date(2026, 5, 1))
    events = [goal, other, later, first]
    found = goals_of(events)
    assert [(g.text, g.weight, g.score, g.scored) for g in found] == [
        ("washing of the hand", 2, 1, "2026-05-01"),
        ("splint on for the night", None, None, ""),
    ]
    assert [g.attained for g in found] == ["+1 (more than expected)", ""]
    assert standing(events) == ()
    assert goals_of(events, until=date(2026, 4, 30))[0].score == -1


def test_a_struck_score_or_goal_no_longer_counts() -> None:
    goal = goal_event("g1", "a", DAY)
    score = score_event("s1", "g1", 0, DAY)
    assert goals_of([goal, score])[0].attained == "0 (expected level)"
    assert goals_of([goal, score, strike(score, "x", "slip")])[0].score is None
    assert goals_of([goal, score, strike(goal, "x", "slip")]) == ()


@pytest.mark.parametrize("note", ["g1 3", "g1", "g1 +1", "g1 1.0", "g1  1", "g2 1"])
def test_a_score_that_is_none_is_passed_over(note: str) -> None:
    score = replace(score_event("s1", "g1", 0, DAY), note=note)
    assert goals_of([goal_event("g1", "a", DAY), score])[0].score is None


@pytest.mark.parametrize("weight", [0.0, -3.0, 1e308])
def test_a_weight_that_no_form_takes_counts_as_none(weight: float) -> None:
    assert t_score(_goals([1, 0], [weight, 1.0])) == t_score(_goals([1, 0]))


@pytest.mark.parametrize(
    ("typed", "weight"), [("", None), ("2", 2.0), ("2,5", 2.5), ("999", 999.0)]
)
def test_a_goal_is_read_as_typed(typed: str, weight: float | None) -> None:
    assert parse_goal(" heel ", typed, "g1", DAY) == goal_event("g1", "heel", DAY, weight)


@pytest.mark.parametrize("typed", ["0", "0.00", "-1", "1e3", "nan", "two", "1000"])
def test_a_weight_that_is_none_is_refused(typed: str) -> None:
    [problem] = parse_goal("heel", typed, "g1", DAY)
    assert (problem.where, typed in problem.what) == ("weight", True)


def test_a_score_needs_its_sign() -> None:
    typed = ("-2", "-1", "0", "+1", "+2")
    assert [parse_score(text) for text in typed] == [-2, -1, 0, 1, 2]
    for text in ("", "1", "2", "-0", "+3", "1.0", "--1"):
        assert isinstance(parse_score(text), Problem), text


def test_goals_of_a_treatment_stay_together_with_the_numbers_they_were_given() -> None:
    later = goal_event("g3", "c", date(2026, 6, 1))
    events = [later, goal_event("g1", "a", DAY), goal_event("g2", "b", DAY)]
    found = goals_by_day(goals_of([*events, strike(events[1], "x", "slip")]))
    assert {day: [(g.text, g.number) for g in group] for day, group in found.items()} == {
        DAY: [("b", 3)],
        date(2026, 6, 1): [("c", 1)],
    }
