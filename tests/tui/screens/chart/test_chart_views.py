"""The trend, its numbers and the page on the chart screen."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.change.numbers import NO_SESSION, joint_rows, number_lines
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.plot.signs import event_lines
from limbscribe.tui.screens.chart.joint_view import DATES_THERE, ONE_SIDE, SEE_NUMBERS
from limbscribe.tui.screens.chart.layout import paint_chart
from limbscribe.tui.screens.chart.page_view import page_size
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.chart.state import ChartData, chart_data, first_state, moved

from tests.support.app import OneScreen, desk_on, fits, press, shown, text_of
from tests.support.records import MUSCLES, PATIENT, reading, session
from tests.support.series import event, marks

LEFT, RIGHT = Side.LEFT, Side.RIGHT
EVENTS = (
    event(-30, "surgery", "", "left", "tendon"),
    event(18, "botulinum-toxin", "soleus", "left", "product A"),
    event(40, "cast-on", "soleus", "right"),
    event(200, "medication-changed"),
)


def soleus(*sides: Side) -> tuple[Any, ...]:
    """Two sessions of the soleus."""
    return (
        session("2026-01-02", *(reading("soleus", side, -20, 5) for side in sides)),
        session("2026-04-02", *(reading("soleus", side, -10, 10) for side in sides)),
    )


def data_of(*sessions: Any, events: tuple[Event, ...] = EVENTS) -> ChartData:
    """The data of a chart."""
    return chart_data(Chart("x", PATIENT, sessions, (), events, ()), False, Basis(MUSCLES))


def painted(data: ChartData, width: int = 80, height: int = 24, **state: Any) -> list[str]:
    """A view as lines, checked to fit."""
    rows = paint_chart(replace(first_state(data), **state), data, "v", width, height)
    assert fits(rows, width, height)
    return text_of(rows)


def test_events_of_this_side_stand_below_the_axis():
    """At 80x24 the letters are there with their words, the other side's cast is not."""
    lines = painted(data_of(*soleus(LEFT)))
    (axis,) = [n for n, text in enumerate(lines) if "└" in text]
    assert lines[axis + 1].split() == ["<S", "T", "m>"]
    text = " ".join(" ".join(lines).split())
    assert "T botulinum toxin" in text
    assert "S surgery" in text
    assert "< earlier than the axis" in text
    assert "several at one place" not in text
    assert "cast on" not in text


def test_a_large_window_tells_dates_and_sources():
    """With room there are the dates of every event and the source of each figure."""
    text = " ".join(" ".join(painted(data_of(*soleus(LEFT)), 120, 40)).split())
    assert "T botulinum toxin: 20 Jan 2026" in text
    assert "first R1 and R2 +- " in text
    assert "shown against" in text
    assert DATES_THERE not in text


def test_a_low_window_sends_to_the_numbers():
    """Where no letter could be explained none is drawn."""
    lines = painted(data_of(*soleus(LEFT)), 60, 16)
    assert SEE_NUMBERS in "\n".join(lines)
    assert not any(text.split() == ["<S", "T", "m>"] for text in lines)


def test_both_sides_and_back():
    """The key shows both, from any view; which sides, which gaps, and no bands of two."""
    data = data_of(*soleus(LEFT, RIGHT))
    state = moved(replace(first_state(data), view="numbers"), data, "sides")
    assert state is not None
    assert (state.view, state.both) == ("trend", True)
    lines = text_of(paint_chart(state, data, "v", 100, 40))
    text = "\n".join(lines)
    assert "Soleus, Left and Right (1 of 2)" in text
    assert "> Left: 02 Apr 2026: R1 -10 (V3), quality 2, R2 10" in text
    assert "Right: gap in deg: 02 Jan 2026: 25, 02 Apr 2026: 20" in text
    assert "C cast on: 11 Feb 2026" in text
    assert ONE_SIDE in text
    again = moved(state, data, "sides")
    assert again is not None
    assert not again.both


def test_both_where_there_is_one():
    """A side without a reading is said to have none, and the other is drawn."""
    text = "\n".join(painted(data_of(*soleus(LEFT)), both=True))
    assert "no reading of the Right side" in text
    assert "Soleus, Left (1 of 1)" in text


def test_events_are_rows_between_the_sessions():
    """Before the first, between, and after the last; with where and what was noted."""
    rows = joint_rows(soleus(LEFT), ("soleus", LEFT), MUSCLES, PATIENT)
    lines = number_lines(rows, 78, marks(*EVENTS))
    assert [(index, text[:30].rstrip()) for index, text in lines] == [
        (NO_SESSION, "03 Dec 2025 S surgery, Left, n"),
        (0, "02 Jan 2026 V3    -20       2"),
        (NO_SESSION, "20 Jan 2026 T botulinum toxin,"),
        (1, "02 Apr 2026 V3    -10       2"),
        (NO_SESSION, "21 Jul 2026 m medication chang"),
    ]
    assert lines[2][1] == "20 Jan 2026 T botulinum toxin, this muscle, Left: product A"
    same_day = number_lines(rows, 78, marks(event(0, "pump")))
    assert [index for index, _ in same_day] == [0, NO_SESSION, 1]


def test_a_long_note_is_broken_not_cut():
    """Every word of a note is in the table, none beyond its width."""
    rows = joint_rows(soleus(LEFT), ("soleus", LEFT), MUSCLES, PATIENT)
    note = " ".join(f"word{n}" for n in range(70))
    told = [
        text
        for index, text in number_lines(rows, 58, marks(event(5, "pump", note=note)))
        if index < 0
    ]
    assert max(map(len, told)) <= 58
    assert " ".join(" ".join(told).split()).endswith(note)


def test_numbers_name_the_bands_source():
    """Who cannot see the bands reads the figure and its source."""
    text = " ".join(" ".join(painted(data_of(*soleus(LEFT)), 100, 40, view="numbers")).split())
    assert "first R1 and R2 +- " in text
    assert "20 Jan 2026 T botulinum toxin, this muscle, Left: product A" in text


def many() -> ChartData:
    """A chart of every muscle group on both sides."""
    readings = [reading(muscle, side, 0, 5) for muscle in MUSCLES for side in Side]
    return data_of(session("2026-01-02", *readings))


@pytest.mark.parametrize(("width", "height"), [(60, 20), (80, 24), (120, 40)])
def test_every_joint_is_on_a_page(width: int, height: int):
    """Whichever joint is chosen, its page shows it by name; every title is there in full."""
    data = many()
    for index, joint in enumerate(data.joints):
        lines = painted(data, width, height, view="page", joint=index)
        muscle = MUSCLES[joint[0]]
        names = [f">{name}, {joint[1].word}" for name in (muscle.name, muscle.abbreviation)]
        assert any(name in line for line in lines for name in names), joint


def test_a_page_at_80x24_has_nine():
    """Three across and three down; page keys go on by as many and stop at the ends."""
    assert page_size(80, 22) == 9
    data = many()
    lines = painted(data, view="page")
    assert sum(text.count(", Left") + text.count(", Right") for text in lines[3:]) == 9
    assert lines[2].startswith("page 1 of 7 by change; o R2, x R1, v at V2, n gone; ")
    state = replace(first_state(data), view="page")
    on = moved(state, data, "pagedown", 9)
    assert on is not None
    assert (on.joint, on.view) == (data.changed[9], "page")
    assert painted(data, view="page", joint=on.joint)[2].startswith("page 2 of 7")
    back = moved(state, data, "pageup", 9)
    assert back is not None
    assert back.joint == data.changed[0]


def test_an_empty_page():
    """Nothing read yet is said."""
    assert "no reading yet" in "\n".join(painted(data_of(), view="page"))


def test_a_hostile_event_is_harmless_on_the_screen():
    """A kind and a note that would steer a terminal are shown as text."""
    evil = event(18, "\x1b]52;c;UFdO\x07", "soleus", "left", "\x1b[2J")
    data = data_of(*soleus(LEFT), events=(evil,))
    for view in ("trend", "numbers", "page"):
        text = "".join(painted(data, 120, 40, view=view))
        assert "\x1b" not in text
        assert "\x07" not in text
    assert event_lines(marks(evil), (), 60)


async def test_keys_on_a_shelf(tmp_path: Path):
    """The bound keys reach the views."""
    desk, chart_id = desk_on(tmp_path, *soleus(LEFT, RIGHT))
    desk.shelf.add_event(chart_id, EVENTS[1])
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(100, 40)) as pilot:
        assert any("T botulinum toxin: 20 Jan 2026" in line for line in shown(pilot))
        await press(pilot, "b")
        assert any("Soleus, Left and Right" in line for line in shown(pilot))
        await press(pilot, "vvv")
        assert any("page 1 of 1" in line for line in shown(pilot))
        assert any(">Soleus, Left" in line for line in shown(pilot))
