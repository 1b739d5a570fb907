"""The large trend, line by line."""

from __future__ import annotations

import random

import pytest
from limbscribe.core.change.baseline import BaselineBand
from limbscribe.tui.plot import (
    coloured_spans,
    draw_trends,
    event_lines,
    legend_lines,
    possible_signs,
)
from limbscribe.tui.plot.frame import Axis, PlotFrame, Stroke
from limbscribe.tui.plot.trend import event_row

from tests.support.series import LEFT, RIGHT, day, draw_trend, event, marks, series

THREE = series((0, -20, 5), (30, -10, 5), (90, 0, 10))


def test_cells_are_where_plotext_puts_its_marks():
    """What is laid over a plot stands on the right cell, whatever the size and the ends."""
    chance = random.Random(7)
    seen = 0
    for _ in range(40):
        low, high = chance.uniform(-90, 0), chance.uniform(1, 90)
        boxed = chance.random() < 0.7
        ticks = ((low, f"{low:.0f}"), (high, f"{high:.0f}"))
        dates = ((3.0, "02 Jan 2026"),) if boxed and chance.random() < 0.5 else ()
        size = chance.randint(20, 110), chance.randint(6, 40)
        frame = PlotFrame(*size, Axis(-2.5, 9.25, dates), Axis(low, high, ticks), boxed)
        x, y = chance.uniform(-2.5, 9.25), chance.uniform(low, high)
        cells = frame.drawn([Stroke("o", [x], [y])])
        assert len(cells) == frame.height
        found = [(r, c) for r, row in enumerate(cells) for c, sign in enumerate(row) if sign == "o"]
        column, row = frame.column(x), frame.row(y)
        assert column is not None
        assert row is not None
        assert found == [(frame.top + row, frame.left + column)]
        seen += 1
    assert seen == 40


def test_a_catch_at_v2_has_its_own_mark_and_is_not_joined():
    """The line of R1 breaks where another velocity was used; R2 goes on."""
    drawn = draw_trends(
        [series((0, -20, 5), (30, -10, 5), (60, -15, 5), (90, 0, 10), v2=(2,))], 40, 12
    )
    assert list(drawn.lines) == [
        "   ┌───────────────────────────────────┐",
        " 10┤                            o      │",
        "   │      o......o.......o......:      │",
        "   │      :      :       :      :      │",
        "  0┤      :      :       :      x      │",
        "   │      :      :       :             │",
        "-10┤      :      x       :             │",
        "   │      :    ..        :             │",
        "   │      :  ..          v             │",
        "-20┤      x..                          │",
        "   └──────┬─────────────────────┬──────┘",
        "     02 Jan 2026         02 Apr 2026",
    ]
    assert legend_lines(62, drawn) == [
        "o R2, end of the slow range   x R1, catch at V3",
        "v R1, catch at V2   : gap",
    ]


def test_both_velocities_in_one_session():
    """Each velocity has its line; R2, measured once, is not broken by the other reading."""
    one = series((0, -20, 5), (0, -10, None), (60, -12, 5), (60, -4, None), v2=(1, 3))
    assert draw_trend(one, 40, 12)[1:10] == [
        " 10┤                                   │",
        "   │      o.....................o      │",
        "   │      :                     :      │",
        "  0┤      :                     :      │",
        "   │      :                     v      │",
        "-10┤      v.....................:      │",
        "   │      :                     x      │",
        "   │      :          ...........       │",
        "-20┤      x..........                  │",
    ]


def test_both_sides():
    """Left in small letters, Right in capitals, shared cells with signs of their own."""
    right = series((0, -10, 10), (60, -10, 0), side=RIGHT)
    drawn = draw_trends([series((0, -20, 5), (60, -10, 5)), right], 40, 13)
    assert list(drawn.lines) == [
        "   ┌───────────────────────────────────┐",
        " 10┤      O                            │",
        "   │      o,,,,,,,..............o      │",
        "   │      !       ,,,,,,,       :      │",
        "  0┤      !              ,,,,,,,O      │",
        "   │      !                     !      │",
        "   │      !                     !      │",
        "-10┤      X,,,,,,,,,,,,,,,,,,,,,*      │",
        "   │      :              .......       │",
        "   │      :       .......              │",
        "-20┤      x.......                     │",
        "   └──────┬─────────────────────┬──────┘",
        "     02 Jan 2026         03 Mar 2026",
    ]
    assert legend_lines(62, drawn) == [
        "o Left R2   x Left R1   : Left gap   O Right R2   X Right R1",
        "! both gaps   * several in one place",
    ]
    alone = draw_trends([right], 40, 13)
    assert {"O", "X"}.isdisjoint(alone.signs), "one side alone has the small letters"


def test_a_side_without_an_angle_is_left_out():
    """Two series of which one is empty are drawn as one."""
    empty = series((0, None, None), side=RIGHT)
    assert draw_trends([THREE, empty], 40, 12) == draw_trends([THREE], 40, 12)
    assert draw_trends([empty], 40, 12).lines == ()


def test_events_below_the_axis():
    """True dates, several at one place, and what lies beyond the ends with an arrow."""
    done = marks(
        event(-300, "pump"),
        event(-2, "surgery"),
        event(0, "cast-on"),
        event(12, "botulinum-toxin"),
        event(30, "cast-off"),
        event(60, "orthosis"),
        event(60, "programme"),
        event(400, "of-a-later-version"),
        event(50, "next-date"),
    )
    drawn = draw_trends([THREE], 40, 13, done)
    assert list(drawn.lines) == [
        *draw_trend(THREE, 40, 12)[:11],
        "    <P    +  T   c       +           e>",
        "     02 Jan 2026         02 Apr 2026",
    ]
    assert event_lines(done, drawn.signs, 62) == [
        "P pump: 08 Mar 2025   S surgery: 31 Dec 2025",
        "C cast on: 02 Jan 2026   T botulinum toxin: 14 Jan 2026",
        "c cast off: 01 Feb 2026   O orthosis: 03 Mar 2026",
        "G programme: 03 Mar 2026   e of-a-later-version: 06 Feb 2027",
        "+ several at one place   < earlier than the axis",
        "> later than the axis",
    ]


def test_events_of_one_kind_beyond_the_axis():
    """Two of one kind share their letter; two kinds become the sign for several."""
    frame = PlotFrame(20, 8, Axis(day(0).toordinal(), day(9).toordinal()), Axis(0, 9))
    same = marks(event(-9, "botulinum-toxin"), event(-5, "botulinum-toxin"))
    assert "".join(event_row(frame, same)).rstrip() == "<T"
    mixed = marks(event(-9, "pump"), event(-5, "botulinum-toxin"), event(99, "pump"))
    assert "".join(event_row(frame, mixed)) == "<+" + " " * (frame.columns - 4) + "P>"


def test_many_dates_of_one_kind_are_broken_after_a_comma():
    """No date of a legend is lost, and no line is wider than asked for."""
    done = marks(*(event(90 * n, "botulinum-toxin") for n in range(12)))
    lines = event_lines(done, (), 60)
    assert max(map(len, lines)) <= 60
    assert (
        sum(line.count(" 2026") + line.count(" 2027") + line.count(" 2028") for line in lines) == 12
    )
    assert event_lines(done, (), 60, "dates: see the numbers") == [
        "T botulinum toxin   dates: see the numbers"
    ]


def test_too_low_for_events():
    """Where the row would leave nothing for the angles it is left out."""
    assert draw_trends([THREE], 40, 7, marks(event(0, "pump"))) == draw_trends([THREE], 40, 7)


def test_the_baseline():
    """Broken lines at first +- MDC, only where nothing else stands; the axis holds them."""
    bands = [BaselineBand("R1", -20, 7.2), BaselineBand("R2", 5, 3.0)]
    drawn = draw_trends([series((0, -20, 5), (90, 0, 10))], 40, 16, (), bands)
    assert list(drawn.lines) == [
        "   ┌───────────────────────────────────┐",
        " 10┤                            o      │",
        "   │ -   -o.....................:-   - │",
        "   │ -   -:  -   -   -   -   -  :-   - │",
        "  0┤      :                     x      │",
        "   │      :                  ...       │",
        "   │      :              ....          │",
        "-10┤      :          ....              │",
        "   │=   = : =   = ...   =   =   =   =  │",
        "   │      :   ....                     │",
        "-20┤      x...                         │",
        "   │                                   │",
        "   │=   =   =   =   =   =   =   =   =  │",
        "-30┤                                   │",
        "   └──────┬─────────────────────┬──────┘",
        "     02 Jan 2026         02 Apr 2026",
    ]
    assert "= first R1 +- MDC" in "\n".join(legend_lines(62, drawn))


def test_a_low_plot_keeps_its_lines_for_the_angles():
    """With few lines the axis is that of the angles, and edges beyond it are not drawn."""
    flat = series((0, 0, 15), (90, 5, 15))
    bands = [BaselineBand("R1", 0, 60.0)]
    low, high = draw_trends([flat], 40, 10, (), bands), draw_trends([flat], 40, 16, (), bands)
    assert low.lines == draw_trends([flat], 40, 10).lines
    assert "=" not in low.signs
    assert "=" in high.signs


def test_one_point():
    """One session: its date in the middle, its gap, and an event of that very day below it."""
    drawn = draw_trends([series((0, -20, 5))], 30, 10, marks(event(0, "surgery")))
    assert list(drawn.lines) == [
        "   ┌─────────────────────────┐",
        " 20┤                         │",
        "   │                         │",
        "  0┤            o            │",
        "   │            :            │",
        "   │            :            │",
        "-20┤            x            │",
        "   └────────────┬────────────┘",
        "                S",
        "           02 Jan 2026",
    ]


def test_equal_values():
    """R1 on R2 twice: stars, a scale of 20 deg all the same, and no gap sign."""
    drawn = draw_trends([series((0, 5, 5), (9, 5, 5))], 30, 10)
    assert list(drawn.lines) == [
        "  ┌──────────────────────────┐",
        "20┤                          │",
        "  │                          │",
        "  │                          │",
        "10┤                          │",
        "  │       *..........*       │",
        "  │                          │",
        " 0┤                          │",
        "  └──────────────────┬───────┘",
        "              11 Jan 2026",
    ]
    assert drawn.signs == {"*"}


@pytest.mark.parametrize(("width", "height"), [(20, 4), (30, 8), (62, 12), (118, 34)])
def test_any_size_with_everything(width: int, height: int):
    """Many sessions, both sides, events and bands: the size is kept, no sign is unexpected."""
    done = marks(*(event(n, "pump") for n in range(-50, 2000, 77)), event(9, "surgery"))
    left = series(*((i * 9, -20 + i % 7, i % 11) for i in range(200)), v2=(3, 70))
    right = series((5, -90, 40), (1500, None, 10), side=RIGHT)
    bands = [BaselineBand("R1", -20, 13.9), BaselineBand("R2", 0, 13.9)]
    for trends, edges in (([left], bands), ([left, right], []), ([right], bands)):
        drawn = draw_trends(trends, width, height, done, edges)
        assert len(drawn.lines) == height
        assert max(map(len, drawn.lines)) <= width
        assert drawn.signs <= possible_signs(trends, done, edges)


def test_up_is_more_stretch_for_every_scale():
    """A series is of stretch angles already: a larger R2 never stands lower."""
    lines = draw_trend(series((0, None, -30), (90, None, 10)), 40, 12)
    rows = [
        next(n for n, text in enumerate(lines) if text.rfind("o", *cut) >= 0)
        for cut in ((0, 15), (15, 40))
    ]
    assert rows[1] < rows[0]


def test_colours_touch_the_marks_only():
    """Words left of the axis and dates below keep the terminal's colour."""
    assert coloured_spans("-10┤  x..o O v  │") == [
        ("-10┤  ", ""),
        ("x", "R1"),
        ("..", ""),
        ("o", "R2"),
        (" ", ""),
        ("O", "R2"),
        (" ", ""),
        ("v", "R1"),
        ("  │", ""),
    ]
    for text in ("   └──┬──┘", "     02 Nov 2026", "fox"):
        assert coloured_spans(text) == [(text, "")]
    whole = [coloured_spans(line) for line in draw_trend(THREE, 40, 12)]
    assert [text for spans in whole for text, what in spans if what == "R1"] == ["x", "x", "x"]
    assert [text for spans in whole for text, what in spans if what == "R2"] == ["o", "o", "o"]


def test_left_before_right_whichever_comes_first():
    """Signs go with the side and not with the order."""
    left, right = series((0, 0, 9), side=LEFT), series((3, 0, 9), side=RIGHT)
    assert draw_trends([left, right], 40, 12).signs == draw_trends([right, left], 40, 12).signs
    assert draw_trends([right, left], 40, 12).signs == {"o", "x", ":", "O", "X", "|"}
