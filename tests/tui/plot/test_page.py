"""Pages of small trends."""

from __future__ import annotations

from limbscribe.tui.plot.page import days_of, draw_page, draw_small, grid_of

from tests.support.series import RIGHT, day, series


def test_three_across_at_80_columns():
    """Three of 26 cells beside each other; narrower windows have fewer, wider ones more."""
    assert [grid_of(width, 19).across for width in (26, 60, 80, 120)] == [1, 2, 3, 4]
    grid = grid_of(80, 19)
    assert (grid.width, grid.height, grid.down, grid.each) == (26, 6, 3, 9)
    for width in range(26, 140):
        found = grid_of(width, 19)
        assert found.across * (found.width + 1) - 1 <= width


def test_one_small_trend():
    """Angles on the left, no dates, marks and gaps as in the large one."""
    assert draw_small(series((0, -20, 5), (90, 0, 10)), day(0), day(90), 26, 5) == (
        " 20┤",
        "   │ o..................o",
        "  0┤ :                  x",
        "   │ :         .........",
        "-20┤ x.........",
    )


def test_a_page():
    """Titles above, the same days for all, and a word where there is nothing to draw."""
    trends = [
        series((0, -20, 5), (90, 0, 10)),
        series((30, None, 5), side=RIGHT),
        series((0, None, None)),
        series((0, 5, 5)),
    ]
    days = days_of(trends)
    assert days == (day(0), day(90))
    rows = draw_page(trends, ["A, Left", "B, Right", "C", "D"], grid_of(80), days)
    assert ["|".join(row) for row in rows] == [
        "A, Left                   |B, Right                  |C                         ",
        " 20┤                      |20┤                       |no angle to draw          ",
        "   │ o..................o |  │                       |                          ",
        "  0┤ :                  x |10┤                       |                          ",
        "   │ :         .........  |  │        o              |                          ",
        "-20┤ x.........           | 0┤                       |                          ",
        "D                         ",
        "20┤                       ",
        "  │                       ",
        "10┤                       ",
        "  │ *                     ",
        " 0┤                       ",
    ]


def test_no_session_no_days():
    """Without a session there is no axis to share."""
    assert days_of([series()]) is None
