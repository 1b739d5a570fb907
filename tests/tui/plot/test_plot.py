"""The trend as lines of text: marks, ticks, dates, and the cases that have broken plots."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date, timedelta

import pytest
from limbscribe.core.change.trend import Point, Series
from limbscribe.core.language import day_words
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.cli.trend_text import trend_lines
from limbscribe.tui.plot import Drawn, degree_ticks, even_ticks, legend_lines

from tests import ROOT
from tests.support.records import MUSCLES, PATIENT, reading, session
from tests.support.series import draw_trend

SCALE = AngleScale("neutral-zero", 1, 0)
FIRST = date(2026, 1, 2)


def series(*rows: tuple[int, int | None, int | None]) -> Series:
    """A series of (days after FIRST, R1, R2)."""
    points: list[Point] = []
    for days, r1, r2 in rows:
        day = FIRST + timedelta(days=days)
        taken = Reading("m", Side.LEFT, "", SCALE, r1=r1, r2=r2)
        points.append(Point(day, day_words(day), r1, r2, 2, taken))
    return Series("m", Side.LEFT, tuple(points))


def marks(lines: list[str]) -> str:
    """Every mark inside the frame, line by line from above."""
    inside = [line.split("┤")[-1].split("│")[-2 if line.count("│") > 1 else 0] for line in lines]
    return "".join(char for text in inside[1:-1] for char in text if char in "ox*")


def test_three_sessions_exactly():
    """Real distances of dates, whole ticks, R2 above R1, dots and gaps between."""
    assert draw_trend(series((0, -20, 5), (30, -10, 5), (90, 0, 10)), 40, 12) == [
        "   ┌───────────────────────────────────┐",
        " 10┤                            o      │",
        "   │      o......o..............:      │",
        "   │      :      :              :      │",
        "  0┤      :      :              x      │",
        "   │      :      :       .......       │",
        "-10┤      :      x.......              │",
        "   │      :    ..                      │",
        "   │      :  ..                        │",
        "-20┤      x..                          │",
        "   └──────┬─────────────────────┬──────┘",
        "     02 Jan 2026         02 Apr 2026",
    ]


def test_both_at_one_place_and_a_line_that_breaks():
    """R1 on R2 is a star; where there was no catch the line of R1 is broken."""
    lines = draw_trend(series((0, 5, 5), (10, None, 7), (20, 5, 6), (40, -4, 7)), 44, 9)
    assert lines == [
        "   ┌───────────────────────────────────────┐",
        " 10┤                                       │",
        "   │      *......o.....*............o      │",
        "  0┤                    ......      :      │",
        "   │                          ......x      │",
        "   │                                       │",
        "-10┤                                       │",
        "   └──────┬─────────────────────────┬──────┘",
        "     02 Jan 2026             11 Feb 2026",
    ]


def test_one_point():
    """One session has its date in the middle and both marks."""
    lines = draw_trend(series((0, -20, 5)), 40, 12)
    assert marks(lines) == "ox"
    assert lines[-1].strip() == "02 Jan 2026"


def test_never_a_catch():
    """R1 that is never there draws R2 alone."""
    lines = draw_trend(series((0, None, 5), (10, None, 5)), 40, 12)
    assert marks(lines) == "oo"


def test_never_a_slow_range():
    """R2 that is never there draws R1 alone."""
    assert marks(draw_trend(series((0, 5, None), (10, 7, None)), 40, 12)) == "xx"


def test_two_sessions_on_one_day():
    """Both values of the day stand above each other."""
    lines = draw_trend(series((0, -30, 0), (0, -10, 20)), 40, 14)
    assert marks(lines) == "ooxx"
    assert "".join(lines).count("2026") == 1


def test_nothing_to_draw():
    """No angle, no plot."""
    assert draw_trend(series((0, None, None)), 40, 12) == []
    assert draw_trend(series(), 40, 12) == []


@pytest.mark.parametrize("width", [20, 24, 42, 58, 100])
@pytest.mark.parametrize("height", [4, 6, 7, 12, 30])
def test_every_size_is_kept(width: int, height: int):
    """However many sessions: the lines are as many and as long as asked for."""
    many = series(*((i * 9, -20 + i % 7, i % 11) for i in range(200)))
    for one in (many, series((0, -100, 30)), series((0, 5, 5), (400, None, 5))):
        lines = draw_trend(one, width, height)
        assert len(lines) == height
        assert max(len(line) for line in lines) <= width
        assert any(mark in "".join(lines) for mark in "ox*")


def test_many_sessions_keep_first_and_last_date():
    """The ends of the axis are always dated when there is room for two dates."""
    lines = draw_trend(series(*((i * 9, -20, i % 11) for i in range(60))), 60, 15)
    words = lines[-1].split()
    assert words[:3] == ["02", "Jan", "2026"]
    assert words[-3:] == ["17", "Jun", "2027"]
    assert len(words) == 9


def test_dates_stand_the_same_every_time():
    """The drawing does not depend on the order in which a set hands out its members."""
    script = (
        "import sys; sys.path.insert(0, '.')\n"
        "from tests.tui.plot.test_plot import draw_trend, series\n"
        "many = series(*((i * 9, -20, i % 11) for i in range(60)))\n"
        "print([draw_trend(many, width, 15) for width in range(40, 121, 7)])"
    )
    drawn = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={**os.environ, "PYTHONHASHSEED": str(seed), "PYTHONIOENCODING": "utf-8"},
            cwd=ROOT,
            capture_output=True,
            check=True,
            encoding="utf-8",
        ).stdout
        for seed in range(4)
    }
    assert len(drawn) == 1


@pytest.mark.parametrize(
    ("values", "rows", "ticks"),
    [
        ([-20, 10], 9, [-20, -10, 0, 10]),
        ([5], 9, [-5, 0, 5, 10, 15]),
        ([5, 5], 3, [0, 20]),
        ([-100, 30], 2, [-100, 30]),
        ([0, 100], 9, [0, 30, 60, 90, 120]),
        ([7, 8], 20, [0, 5, 10, 15, 20]),
    ],
)
def test_ticks(values: list[int], rows: int, ticks: list[int]):
    """Multiples of a usual step, at least 20 deg apart at the ends, not too many."""
    assert degree_ticks(values, rows) == ticks


def test_even_ticks_of_the_smallest_difference():
    """Two values as close as floats can be do not stop the drawing."""
    ticks = even_ticks(0.0, 5e-324, 3)
    assert ticks[0] <= 0.0
    assert ticks[-1] >= 5e-324


def test_legend_is_never_cut_in_a_part():
    """Each part of the legend stays whole on its line."""
    drawn = Drawn((), frozenset("ox*"))
    assert legend_lines(62, drawn) == [
        "o R2, end of the slow range   x R1, catch at the fast stretch",
        "* R1 and R2 in one place",
    ]
    assert len(legend_lines(100, drawn)) == 1
    assert len(legend_lines(40, drawn)) == 3


def test_trend_in_a_plain_shell():
    """Heading, plot, legend, numbers as typed, and where the shortfall comes from."""
    left = Side.LEFT
    sessions = [
        session("2026-01-02", reading("hamstrings", left, 60, 40)),
        session("2026-04-02", reading("hamstrings", left, None, 30, not_tested="pain")),
    ]
    lines = trend_lines(sessions, ("hamstrings", left), MUSCLES, PATIENT, ascii_only=True)
    text = "\n".join(lines)
    assert lines[0] == "INV-07  Hamstrings, Left"
    assert text.isascii()
    assert max(len(line) for line in lines) <= 78
    numbers = [line.split() for line in lines if line.startswith(("02 Jan", "02 Apr"))]
    assert [row[:7] for row in numbers] == [
        ["02", "Jan", "2026", "V3", "60", "2", "40"],
        ["02", "Apr", "2026", "V3", "none", "1", "30"],
    ]
    assert "    not tested: pain" in lines
    assert any(line.startswith("shortfall: ") for line in lines)


def test_trend_without_readings():
    """A joint that was never read is said to be so."""
    lines = trend_lines([], ("soleus", Side.RIGHT), MUSCLES, PATIENT)
    assert lines == ["INV-07  Soleus, Right", "no reading yet"]
