"""Pairs of different days: which two days are one, and what is left out and why."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

import pytest
from limbscribe.core.agreement.across_days import MOST_DAYS, left_out_words, pairs_across
from limbscribe.core.agreement.adopt import circumstances_of
from limbscribe.core.agreement.gather import gather, notes_of, title_of
from limbscribe.core.agreement.pairs import Pair
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.session import Session
from limbscribe.core.chart.windows import DEFAULT_BANDS
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.retests import HAMSTRINGS, chart, reading, session

FIRST = datetime.fromisoformat("2026-03-02T09:00:00+01:00")


def after(days: int, examiner: str, *readings: Reading, hour: int = 9) -> Session:
    """A session so many days after the first."""
    when = (FIRST + timedelta(days=days)).replace(hour=hour)
    return session(when.isoformat(), examiner, *readings)


def treated(days: int, kind: str = "botulinum-toxin", **more: str) -> Event:
    """An event so many days after the first session."""
    day = (FIRST + timedelta(days=days)).date().isoformat()
    return Event(more.get("id", "e"), kind, day, more.get("muscle", ""), more.get("side", ""), "")


def found(one: Chart) -> tuple[list[Pair], Counter[str]]:
    return pairs_across(one, DEFAULT_BANDS)


def test_two_days_without_treatment_are_a_pair() -> None:
    pairs, left_out = found(
        chart(after(0, "AB", reading(-60, -30)), after(14, "ab ", reading(-55, -32)))
    )
    (pair,) = pairs
    assert (pair.raters, pair.interval, pair.target) == (
        "same",
        "different-days",
        "P-01 Left 2026-03-02 AB",
    )
    assert [take.reading.r1_stretch for take in pair.takes] == [-60, -55]
    assert pair.takes_words == ["AB 02 Mar 2026", "AB 16 Mar 2026"]
    assert not left_out


@pytest.mark.parametrize(("days", "count"), [(1, 1), (MOST_DAYS, 1), (MOST_DAYS + 1, 0)])
def test_days_too_far_apart_are_none(days: int, count: int) -> None:
    pairs, left_out = found(
        chart(after(0, "AB", reading(-60, -30)), after(days, "AB", reading(-55, -32)))
    )
    assert len(pairs) == count
    assert list(left_out) == ([] if count else [f"more than {MOST_DAYS} days apart"])


@pytest.mark.parametrize("day", [0, 5, 14])
def test_a_treatment_from_the_one_day_to_the_other_leaves_them_out(day: int) -> None:
    sessions = (after(0, "AB", reading(-60, -30)), after(14, "AB", reading(-55, -32)))
    # Of whatever muscle: a medication or a cast elsewhere may change this one too.
    event = treated(day, "medication-changed")
    pairs, left_out = found(chart(*sessions, events=(event,)))
    assert pairs == []
    assert left_out == {"a treatment date from the one to the other": 1}
    assert left_out_words(left_out) == [
        "1 time two days of a station were left out as a pair: "
        "a treatment date from the one to the other"
    ]
    struck = (event, strike(event, "s", "wrong patient"))
    assert len(found(chart(*sessions, events=struck))[0]) == 1
    assert len(found(chart(*sessions, events=(treated(day, "next-date"),)))[0]) == 1


@pytest.mark.parametrize("outside", [-1, 15])
def test_a_treatment_before_or_after_does_not(outside: int) -> None:
    sessions = (after(0, "AB", reading(-60, -30)), after(14, "AB", reading(-55, -32)))
    assert len(found(chart(*sessions, events=(treated(outside, "orthosis"),)))[0]) == 1


@pytest.mark.parametrize(
    ("day", "muscle", "count"),
    [
        (-10, "hamstrings", 0),  # day 10, "early", and day 24, "rising"
        (-30, "hamstrings", 1),  # days 30 and 44, both "peak"
        (-10, "soleus", 1),  # another muscle's injection
        (-10, "", 0),  # which muscle is not known
    ],
)
def test_both_days_are_in_the_same_part_of_the_toxin_cycle(
    day: int, muscle: str, count: int
) -> None:
    sessions = (after(0, "AB", reading(-60, -30)), after(14, "AB", reading(-55, -32)))
    pairs, left_out = found(chart(*sessions, events=(treated(day, muscle=muscle),)))
    assert len(pairs) == count
    assert sum(left_out.values()) == 1 - count


def test_posture_and_station_must_be_alike() -> None:
    first = after(0, "AB", reading(-60, -30))
    other = after(7, "AB", reading(-60, -30, posture="sitting"))
    assert found(chart(first, other))[1] == {"the posture or test position differs": 1}
    right = after(7, "AB", reading(-60, -30, side=Side.RIGHT))
    assert found(chart(first, right)) == ([], {})
    assert found(chart(first, after(7, " ", reading(-60, -30)))) == ([], {})


def test_no_day_is_in_two_pairs() -> None:
    days = [after(7 * n, "AB", reading(-60 + n, -30)) for n in range(5)]
    pairs, _ = found(chart(*days))
    assert [[take.reading.r1_stretch for take in pair.takes] for pair in pairs] == [
        [-60, -59],
        [-58, -57],
    ]


def test_a_treatment_does_not_cost_the_pair_behind_it() -> None:
    days = [after(7 * n, "AB", reading(-60 + n, -30)) for n in range(3)]
    pairs, _ = found(chart(*days, events=(treated(3, "orthosis"),)))
    assert [pair.takes[0].reading.r1_stretch for pair in pairs] == [-59]


def test_examiners_make_pairs_of_both_kinds() -> None:
    pairs, _ = found(
        chart(
            after(0, "AB", reading(-60, -30)),
            after(0, "CD", reading(-50, -30), hour=11),
            after(7, "CD", reading(-52, -30)),
            after(7, "EF", reading(-40, -30), hour=11),
        )
    )
    taken = [(pair.raters, [take.examiner for take in pair.takes]) for pair in pairs]
    assert taken == [("same", ["CD", "CD"]), ("different", ["AB", "CD"])]


def test_they_are_tables_of_their_own_and_say_so() -> None:
    one = chart(
        after(0, "AB", reading(-60, -30)),
        after(0, "AB", reading(-58, -31), hour=11),
        after(14, "AB", reading(-55, -32)),
    )
    gathered = gather([one], tuple(shipped_muscles()))
    tables = [table for table, _ in gathered.studies if table.quantity == "R1"]
    assert [table.interval for table in tables] == ["same-day", "different-days"]
    assert [table.ratings.rows for table in tables] == [((-60, -58),), ((-60, -55),)]
    assert title_of(tables[1], HAMSTRINGS).endswith("by the same examiner on different days")
    assert any("42 days apart" in note for note in notes_of(tables[1]))
    assert circumstances_of(tables[1], HAMSTRINGS).interval == "different-days"


def test_a_clinics_own_bands_decide() -> None:
    one = chart(
        after(0, "AB", reading(-60, -30)),
        after(14, "AB", reading(-55, -32)),
        events=(treated(-10, muscle="hamstrings"),),
    )
    assert pairs_across(one, DEFAULT_BANDS)[0] == []
    assert len(pairs_across(one, DEFAULT_BANDS[:1])[0]) == 1
