"""The small trend of the entry, and the sign of a catch that is gone."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from limbscribe.core.change.trend import Series
from limbscribe.core.change.trend_events import TrendEvent
from limbscribe.tui.plot.inline import draw_inline
from limbscribe.tui.plot.signs import legend_lines
from limbscribe.tui.plot.trend import draw_trends

from tests.support.series import series as series_at

from .test_plot import FIRST, series


def quality(found: Series, *grades: int) -> Series:
    """The series with other grades of quality."""
    pairs = zip(found.points, grades, strict=True)
    points = (
        replace(p, quality=grade, reading=replace(p.reading, quality=grade)) for p, grade in pairs
    )
    return replace(found, points=tuple(points))


def toxin(days: int, kind: str = "botulinum toxin") -> TrendEvent:
    return TrendEvent(FIRST + timedelta(days=days), "T", kind, "this muscle, Left", "")


THREE = quality(series((0, -20, 5), (30, -10, 5), (90, None, 10)), 2, 2, 1)


def test_plot_event_and_dates_in_five_rows():
    assert draw_inline(THREE, [toxin(10)], 42, 5) == (
        " 10┤ o...........o......................n",
        "   │ :           x",
        "-20┤ x...........",
        "         T botulinum toxin",
        "    02 Jan 2026                02 Apr 2026",
    )


@pytest.mark.parametrize(
    ("events", "row"),
    [
        ([toxin(-40)], "    <T botulinum toxin"),
        ([toxin(85)], f"{'botulinum toxin T':>39}"),
        (
            [toxin(10), replace(toxin(60), letter="C", kind="cast on")],
            f"         T{'C':>19}",
        ),
    ],
)
def test_the_word_of_a_letter_stands_where_there_is_room(events: list[TrendEvent], row: str):
    """Of two kinds no word is shown: nothing would say which letter it belongs to."""
    assert draw_inline(THREE, events, 42, 6)[-2] == row


@pytest.mark.parametrize("height", range(4, 12))
@pytest.mark.parametrize("events", [[], [toxin(10)]])
def test_it_takes_exactly_its_room(height: int, events: list[TrendEvent]):
    lines = draw_inline(THREE, events, 42, height)
    assert len(lines) == height
    assert max(map(len, lines)) <= 42
    assert lines[-1].split() == ["02", "Jan", "2026", "02", "Apr", "2026"]


def test_a_single_day_and_too_little_room_draw_nothing():
    """Seven rows for one point say less than the row of last values, which is there anyway."""
    assert draw_inline(series((0, -20, 5)), (), 42, 9) == ()
    assert draw_inline(series((0, None, None), (9, None, None)), (), 42, 9) == ()
    assert draw_inline(THREE, (), 42, 3) == ()


def test_a_catch_that_is_gone_has_a_sign_of_its_own():
    """Where no catch was ever met, and where none was looked for, nothing is gone."""
    drawn = draw_trends([THREE], 60, 12)
    assert "n" in drawn.signs
    assert any("n R2, the catch is gone" in line for line in legend_lines(80, drawn))
    never = quality(series((0, None, 5), (30, None, 5)), 1, 0)
    assert draw_trends([never], 60, 12).signs == {"o"}
    unknown = series((0, -20, 5), (90, None, 10))
    assert "n" not in draw_trends([unknown], 60, 12).signs


def test_a_velocity_that_never_met_a_catch_has_not_lost_one():
    """V2 met none at either visit, and V3 its own both times: nothing is gone."""
    four = (0, -20, 5), (0, None, 5), (9, -20, 8), (9, None, 8)
    visits = quality(series_at(*four, v2=(1, 3)), 2, 1, 2, 1)
    assert "n" not in draw_trends([visits], 60, 12).signs
    met = (0, -20, 5), (0, -10, 5), (9, -20, 8), (9, None, 8)
    lost = quality(series_at(*met, v2=(1, 3)), 2, 2, 2, 1)
    assert "n" in draw_trends([lost], 60, 12).signs
