"""Reliability pairs found on a shelf of invented sessions."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.agreement.across_days import pairs_across
from limbscribe.core.agreement.adopt import circumstances_of
from limbscribe.core.agreement.gather import pair_lines, title_of
from limbscribe.core.agreement.pairs import (
    PairTable,
    pair_tables,
    pairs_of,
    shelf_digits,
    standard_posture,
)
from limbscribe.core.agreement.study import analyse
from limbscribe.core.chart.chain import CONFLICT
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import Session
from limbscribe.core.chart.windows import DEFAULT_BANDS
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Flag, Side

from tests.support.retests import HAMSTRINGS, chart, reading, session

NINE, TEN, ELEVEN = (f"2026-03-02T{hour}:00:00+01:00" for hour in ("09", "10", "11"))


def tables(*charts: Chart) -> dict[tuple[str, str], PairTable]:
    pairs = [pair for each in charts for pair in pairs_of(each)[0]]
    return {(t.raters, t.quantity): t for t in pair_tables(pairs, shipped_muscles())}


def test_two_examiners_on_one_day_are_a_pair_of_different_raters() -> None:
    one = chart(session(NINE, "ab", reading(-60, -30)), session(TEN, "CD ", reading(-55, -32)))
    two = chart(
        session(NINE, "CD", reading(-40, -20)), session(TEN, "AB", reading(-42, -20)), code="P-02"
    )
    found = tables(one, two)
    assert set(found) == {("different", quantity) for quantity in ("R1", "R2", "gap", "quality")}
    r1 = found["different", "R1"].ratings
    assert r1.raters == ("AB", "CD"), "by name, not by who came first"
    assert r1.rows == ((-60, -55), (-42, -40))
    assert r1.crossed
    assert r1.targets == ("P-01 Left 2026-03-02", "P-02 Left 2026-03-02")
    assert found["different", "gap"].ratings.rows == ((30, 23), (22, 20))
    assert found["different", "quality"].categories == (0, 1, 2, 3, 4)
    assert found["different", "R1"].categories is None
    assert standard_posture(found["different", "R1"], HAMSTRINGS)


def test_one_examiner_twice_is_a_repeat() -> None:
    found = tables(
        chart(session(NINE, "AB", reading(-60, -30)), session(TEN, "AB", reading(-55, -32)))
    )
    assert {raters for raters, _ in found} == {"same"}
    assert found["same", "R2"].ratings.raters == ("first", "second")
    assert found["same", "R2"].ratings.rows == ((-30, -32),)


def test_three_sessions_make_both_kinds() -> None:
    found = tables(
        chart(
            session(NINE, "AB", reading(-60, -30)),
            session(TEN, "CD", reading(-50, -30)),
            session(ELEVEN, "AB", reading(-58, -31)),
        )
    )
    assert found["different", "R1"].ratings.rows == ((-60, -50),)
    assert found["same", "R1"].ratings.rows == ((-60, -58),)


def test_examiners_that_change_give_one_way_figures_only() -> None:
    charts = [
        chart(
            session(NINE, one, reading(-60 + n, -30)),
            session(TEN, two, reading(-50 + 2 * n, -30)),
            code=f"P-{n:02d}",
        )
        for n, (one, two) in enumerate([("AB", "CD"), ("AB", "EF"), ("CD", "EF")])
    ]
    table = tables(*charts)["different", "R1"]
    assert table.ratings.raters == ("first", "second")
    assert not table.ratings.crossed
    study = analyse(table.ratings)
    assert study.icc["ICC(1,1)"].value is not None
    assert study.icc["ICC(A,1)"].value is None


def test_scales_do_not_matter_since_stretch_angles_are_compared() -> None:
    other = HAMSTRINGS.scale("straight-180")
    found = tables(
        chart(
            session(NINE, "AB", reading(-60, -30)),
            session(TEN, "CD", reading(120, 150, scale=other)),
        )
    )
    assert found["different", "R1"].ratings.rows == ((-60, -60),)
    assert found["different", "R2"].ratings.rows == ((-30, -30),)


def test_no_catch_is_a_missing_cell_and_not_a_zero() -> None:
    found = tables(
        chart(session(NINE, "AB", reading(-60, -30)), session(TEN, "CD", reading(None, -30)))
    )
    assert found["different", "R1"].ratings.rows == ((-60, None),)
    assert found["different", "gap"].ratings.rows == ((30, None),)
    assert found["different", "quality"].ratings.rows == ((2, 1),)


def test_what_amendments_disagree_about_is_no_pair() -> None:
    flag = Flag(CONFLICT, "impossible", "station", "amendments disagree")
    asked = session(NINE, "AB", reading(-60, -30, flags=(flag,)))
    pairs, left = pairs_of(chart(asked, session(TEN, "CD", reading(-55, -32))))
    assert pairs == []
    assert left == [
        "P-01, 02 Mar 2026, hamstrings Left: left out, amendments disagree about a reading"
    ]


def test_the_local_date_decides() -> None:
    late = "2026-03-02T23:30:00+01:00"
    next_day = "2026-03-03T00:30:00+01:00"
    pairs, left = pairs_of(
        chart(session(late, "AB", reading(-60, -30)), session(next_day, "CD", reading(-60, -30)))
    )
    assert (pairs, left) == ([], [])


@pytest.mark.parametrize(
    ("second", "events", "why"),
    [
        (session(TEN, " ", reading(-60, -30)), (), "does not name its examiner"),
        (session(TEN, "CD", reading(-60, -30, posture="sitting")), (), "posture"),
        (
            session(TEN, "CD", reading(-60, -30)),
            (Event("e", "toxin", "2026-03-02", "hamstrings", "left", ""),),
            "an event is recorded",
        ),
    ],
)
def test_what_is_left_out_is_said(second: Session, events: tuple[Event, ...], why: str) -> None:
    pairs, left = pairs_of(chart(session(NINE, "AB", reading(-60, -30)), second, events=events))
    assert pairs == []
    assert len(left) == 1
    assert left[0].startswith("P-01, 02 Mar 2026")
    assert why in left[0]


def test_another_side_or_velocity_is_another_station() -> None:
    for changed in ({"side": Side.RIGHT}, {"fast_velocity": "V2"}, {"muscle": "soleus"}):
        pairs, _ = pairs_of(
            chart(
                session(NINE, "AB", reading(-60, -30)),
                session(TEN, "CD", reading(-60, -30, **changed)),
            )
        )
        assert pairs == []


def test_last_digits_are_those_typed() -> None:
    # 122 in straight-180 is -58 in neutral-zero; a scale with an odd zero would shift it.
    odd = replace(HAMSTRINGS.scale("neutral-zero"), offset=2)
    found = shelf_digits(
        [
            chart(
                session(NINE, "AB", reading(-60, -35, scale=odd)),
                session(TEN, "AB", reading(None, -31)),
                session(ELEVEN, "CD", reading(-44, -21)),
            )
        ]
    )
    assert [(one.rater, one.round_ones, one.readings) for one in found] == [
        ("AB", 2, 3),
        ("CD", 0, 2),
    ]
    assert shelf_digits([chart(session(NINE, "AB", reading(-60, -35)))], "soleus") == []


def test_repeats_by_two_examiners_on_one_day_are_two_targets() -> None:
    times = (NINE, TEN, ELEVEN, "2026-03-02T12:00:00+01:00")
    taken = zip(times, ("AB", "CD", "AB", "CD"), (-60, -50, -58, -47), strict=True)
    found = tables(chart(*(session(time, who, reading(r1, -30)) for time, who, r1 in taken)))
    same = found["same", "R1"].ratings
    assert same.targets == ("P-01 Left 2026-03-02 AB", "P-01 Left 2026-03-02 CD")
    assert same.rows == ((-60, -58), (-50, -47))


def test_another_reader_is_another_rater_and_another_instrument_no_pair() -> None:
    by_eye = session(NINE, "AB", reading(-60, -30), instrument="visual", reader="XX")
    read = session(TEN, "ab", reading(-55, -30), instrument="goniometer", reader="YY")
    pairs, left = pairs_of(chart(by_eye, read))
    assert pairs == []
    assert left == ["P-01, 02 Mar 2026, hamstrings Left: left out, the instrument differs"]
    again = session(ELEVEN, "AB", reading(-58, -31), reader="ab")
    found = tables(chart(read, again))
    assert {raters for raters, _ in found} == {"different"}, "as comparisons have it"
    assert found["different", "R1"].ratings.raters == ("AB", "AB read by YY")
    seen = replace(by_eye, started=TEN)
    one = tables(chart(by_eye, seen))["same", "R2"]
    of = circumstances_of(one, HAMSTRINGS)
    assert (of.raters, of.instrument) == ("same", "visual")
    assert title_of(one, HAMSTRINGS).endswith("on one day, instrument: visual")
    apart = replace(read, started="2026-03-09T10:00:00+01:00")
    found_apart, why = pairs_across(chart(by_eye, apart), DEFAULT_BANDS)
    assert (found_apart, dict(why)) == ([], {"the instrument differs": 1})


def test_blind_ratings_are_marked() -> None:
    found = tables(
        chart(
            session(NINE, "AB", reading(-60, -30)),
            session(TEN, "CD", reading(-55, -32), blind=True),
        )
    )["different", "R1"]
    assert found.blind == 1
    assert found.pairs[0].takes_words == ["AB 09:00", "CD 10:00 blind"]
    assert pair_lines(found)[1:] == ["  P-01 Left 2026-03-02: AB 09:00: -60, CD 10:00 blind: -55"]
