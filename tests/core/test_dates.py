"""A typed day: what is taken, and what is refused because it can be read in two ways."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.dates import typed_day
from limbscribe.core.problem import Problem

TODAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("25.11.2026", date(2026, 11, 25)),
        ("3.4.2026", date(2026, 4, 3)),
        ("03.04.2026", date(2026, 4, 3)),
        ("2026-04-03", date(2026, 4, 3)),
        (" 2026-04-03 ", date(2026, 4, 3)),
        ("t", TODAY),
        ("T", TODAY),
        ("-14", date(2026, 11, 11)),
        ("+14", date(2026, 12, 9)),
        ("-0", TODAY),
        ("29.02.2024", date(2024, 2, 29)),
    ],
)
def test_days_are_read(text: str, day: date) -> None:
    assert typed_day(text, TODAY) == day


@pytest.mark.parametrize(
    "text",
    ["03/04/2026", "3/4/26", "03-04-2026", "3.4.26", "03 04 2026", "26-04-03", "2026.04.03"],
)
def test_what_can_be_read_in_two_ways_is_refused_as_such(text: str) -> None:
    found = typed_day(text, TODAY)
    assert isinstance(found, Problem)
    assert "more than one day" in found.what
    assert "2026-11-25" in found.mend


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "missing"),
        ("yesterday", "no date"),
        ("14", "no date"),
        ("20260403", "no date"),
        ("2026-4-3", "more than one"),
        ("30.02.2026", "no day"),
        ("2026-13-01", "no day"),
        ("29.02.2026", "no day"),
        ("\u0662025-01-01", "no date"),
        ("01.01.1899", "in the year 1899"),
        ("01.01.2062", "in the year 2062"),
        ("+9999", "in the year 2054"),
        ("2026-11-25\n2026", "no date"),
    ],
)
def test_anything_else_is_refused_with_a_reason(text: str, what: str) -> None:
    found = typed_day(text, TODAY)
    assert isinstance(found, Problem)
    assert what in found.what
    assert found.mend


@given(st.dates(date(1900, 1, 1), date(2031, 12, 31)))
def test_both_ways_of_writing_a_day_mean_that_day(day: date) -> None:
    assert typed_day(day.isoformat(), TODAY) == day
    assert typed_day(f"{day.day}.{day.month}.{day.year}", TODAY) == day


@given(st.integers(-9999, 1800))
def test_days_away_count_from_today(days: int) -> None:
    assert typed_day(f"{days:+d}", TODAY) == TODAY + timedelta(days=days)


@given(st.text(max_size=12))
def test_no_text_is_too_odd(text: str) -> None:
    assert isinstance(typed_day(text, TODAY), date | Problem)
