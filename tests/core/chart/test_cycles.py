"""Treatment cycles, their windows, and the clinic's own rule."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from limbscribe.core.chart.cycle_rule import CycleRule, Seen, rule_from
from limbscribe.core.chart.cycles import (
    cycle_windows_from,
    cycles_of,
    nearest,
)
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.windows import Window
from limbscribe.core.config.settings import parse_settings
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side

TOXIN = "botulinum-toxin"


def _toxin(day: str, muscle: str = "", side: str = "") -> Event:
    return Event(f"e{day}{muscle}", TOXIN, day, muscle, side, "")


def test_a_day_is_one_cycle_and_ends_on_the_next() -> None:
    first, second = cycles_of(
        [
            _toxin("2026-06-01", "soleus", "left"),
            _toxin("2026-01-05", "soleus", "left"),
            _toxin("2026-01-05", "wrist-flexors", "right"),
            Event("c", "cast-on", "2026-02-01", "", "", ""),
        ]
    )
    assert (first.day, first.until) == (date(2026, 1, 5), date(2026, 6, 1))
    assert (second.day, second.until) == (date(2026, 6, 1), None)
    assert first.treated("soleus", Side.LEFT)
    assert first.treated("wrist-flexors", Side.RIGHT)
    assert not first.treated("soleus", Side.RIGHT)
    assert not first.treated("hamstrings", Side.LEFT)
    assert second.treated("soleus", Side.LEFT)
    assert not second.treated("wrist-flexors", Side.RIGHT)
    assert first.day_of(date(2026, 6, 1)) == 147, "a visit on the day of the next one is the last"
    assert first.day_of(date(2026, 6, 2)) is None
    assert first.day_of(date(2026, 1, 1)) == -4


def test_a_treatment_without_a_muscle_or_side_counts_for_all() -> None:
    (cycle,) = cycles_of([_toxin("2026-01-05")])
    assert cycle.treated("soleus", Side.LEFT)
    assert cycle.treated("wrist-flexors", Side.RIGHT)
    (cycle,) = cycles_of([_toxin("2026-01-05", "hamstrings")])
    assert cycle.treated("hamstrings-hip-40", Side.RIGHT), "another test position of the group"


def test_the_session_nearest_to_the_middle_counts_and_of_two_alike_the_earlier() -> None:
    window = Window("w", 14, 48)  # its middle is day 31
    assert nearest({"a": 14, "b": 30, "c": 40}, window) == "b"
    assert nearest({"c": 33, "b": 29}, window) == "b"
    assert nearest({"a": 13, "b": 49}, window) is None
    assert nearest({"a": 14}, window) == "a"
    assert nearest({"a": 48}, window) == "a"


@pytest.mark.parametrize(
    ("table", "fault"),
    [
        ({"before": [-42, 0], "after": [14, 48]}, ""),
        ({"after": [14, 48]}, "one window, and no more than one, must end on day 0 or before"),
        (
            {"a": [-42, -10], "b": [-9, 0], "c": [1, 5]},
            "one window, and no more than one, must end on day 0 or before",
        ),
        ({"before": [-42, 0], "after": [14, 48], "x": [48, 60]}, "two windows share a day"),
        ({"before": [-42, -1], "after": [0, 48]}, "'after' lies on both sides of day 0"),
        ({"before": [-42, 0], "after": [True, 48]}, "after = [True, 48]"),
        ({"before": [0, -42]}, "before = [0, -42]"),
    ],
)
def test_windows_of_the_settings(table: dict[str, object], fault: str) -> None:
    found = cycle_windows_from(table)
    assert (found if isinstance(found, str) else "") == fault


RULE = "R1 later by 10 deg or catch gone and r2 not  shorter than its figure"


@pytest.mark.parametrize(
    ("seen", "met"),
    [
        (Seen(r1_change=10), True),
        (Seen(r1_change=9), None),
        (Seen(r1_change=9, catch_gone=False), False),
        (Seen(r1_change=9, catch_gone=False, r2_direction=1), False),
        (Seen(catch_gone=True), None),
        (Seen(catch_gone=True, r2_direction=0), True),
        (Seen(r1_change=-3, catch_gone=True, r2_direction=-1), False),
        (Seen(r1_change=30, catch_gone=True, r2_direction=-1), True),
        (Seen(), None),
    ],
)
def test_a_rule_counts_what_is_known_and_says_when_it_is_not(seen: Seen, met: bool | None) -> None:
    rule = rule_from(RULE)
    assert isinstance(rule, CycleRule)
    assert rule.met(seen) is met


def test_the_other_clauses() -> None:
    figure, goal = rule_from("R1 later than its figure"), rule_from("goal attained")
    assert isinstance(figure, CycleRule)
    assert isinstance(goal, CycleRule)
    assert [figure.met(Seen(r1_direction=d)) for d in (1, 0, -1, None)] == [
        True,
        False,
        False,
        None,
    ]
    assert [goal.met(Seen(goal_attained=g)) for g in (True, False, None)] == [True, False, None]


@pytest.mark.parametrize("words", ["R1 later", "R1 later by 0 deg", "catch gone,", "a or", "and"])
def test_a_rule_that_is_none_says_which_clause(words: str) -> None:
    assert isinstance(rule_from(words), str)


def test_the_settings_say_line_and_mend() -> None:
    text = 'cycle_rule = "catch away"\n[normal_maximum]\nelbow-flexors = 0\nno-muscle = 3\n'
    settings = parse_settings(text, Path("c.toml"), shipped_muscles())
    assert settings.cycle_rule == ""
    assert {problem.where for problem in settings.problems} == {
        "c.toml line 1",
        "c.toml line 3",
        "c.toml line 4",
    }
    good = 'cycle_rule = "catch gone"\n[normal_maximum]\nelbow-flexors = 180\n'
    settings = parse_settings(good, Path("c.toml"), shipped_muscles())
    assert settings.problems == ()
    assert settings.normal_maximum == {"elbow-flexors": 180}
    assert settings.cycle_rule == "catch gone"
