"""The two plots of a pair of raters."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.tui.plot.axes import even_ticks
from limbscribe.tui.plot.pairs import draw_bland_altman, draw_pairs

from tests.support.ratings import A_FIRST, B_FIRST

PAIRS = [(float(a), float(b)) for a, b in zip(A_FIRST, B_FIRST, strict=True)]


@pytest.mark.parametrize(("width", "height"), [(30, 8), (60, 12), (78, 15), (118, 30)])
def test_plots_keep_their_size(width: int, height: int) -> None:
    for lines in (
        draw_pairs(PAIRS, width, height),
        draw_bland_altman(PAIRS, [-11.5, -1.3, 9.0], width, height),
    ):
        assert len(lines) == height
        assert max(map(len, lines)) <= width
        assert 1 <= sum(text.count("o") for text in lines) <= len(PAIRS)
        assert all(text.isprintable() for text in lines)


def test_equal_ratings_fall_on_the_line() -> None:
    lines = draw_pairs([(0.0, 0.0), (50.0, 50.0), (100.0, 100.0)], 60, 16)
    marked = [text for text in lines if "o" in text]
    assert len(marked) == 3
    apart = draw_pairs([(0.0, 0.0), (100.0, 100.0), (100.0, 0.0)], 60, 16)
    assert apart[-3].count("o") == 2, "the one off the line stands in the lower right corner"


def test_levels_are_drawn_where_they_belong() -> None:
    lines = draw_bland_altman([(10.0, 0.0), (0.0, 10.0)], [0.0], 60, 15)
    (level,) = [place for place, text in enumerate(lines) if text.count(".") > 20]
    places = [place for place, text in enumerate(lines) if "o" in text]
    assert len(places) == 2
    assert places[0] < level < places[1]
    assert abs((level - places[0]) - (places[1] - level)) <= 1, "half way, to the line"


def test_nothing_to_draw() -> None:
    assert draw_pairs([], 60, 15) == []
    assert draw_bland_altman([], [], 60, 15) == []


def test_a_single_point_and_equal_points_can_be_drawn() -> None:
    for pairs in ([(5.0, 5.0)], [(5.0, 5.0)] * 4):
        assert any("o" in text for text in draw_pairs(pairs, 60, 15))
        assert any("o" in text for text in draw_bland_altman(pairs, [0.0] * 3, 60, 15))


@given(st.floats(-1e6, 1e6), st.floats(0, 1e6), st.integers(3, 12))
def test_ticks_are_few_and_reach_around(least: float, span: float, number: int) -> None:
    ticks = even_ticks(least, least + span, number)
    assert 2 <= len(ticks) <= number
    assert ticks == sorted(set(ticks))
    assert ticks[0] <= least
    assert least + span <= ticks[-1]
