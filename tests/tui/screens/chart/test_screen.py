"""The chart screen: trend, numbers and sessions of one patient."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.change.numbers import joint_rows, number_lines, reference_lines
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Session
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.flow import Flow
from limbscribe.tui.screens.chart.layout import paint_chart, patient_words
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.chart.session_view import moment_words
from limbscribe.tui.screens.chart.state import (
    MOVES,
    VIEWS,
    ChartData,
    ChartState,
    chart_data,
    clamped,
    first_state,
    moved,
)
from limbscribe.tui.terminal.typeahead import HOLD_S

from tests.support.app import OneScreen, burst, desk_on, fits, press, shown, text_of
from tests.support.records import MUSCLES, PATIENT, reading, session

LEFT, RIGHT = Side.LEFT, Side.RIGHT
GASTRO = ("gastrocnemius", LEFT)


def three() -> tuple[Session, ...]:
    """Three sessions; the second has no soleus, the third another position."""
    prone = "prone, foot over the edge"
    return (
        session("2026-01-02", reading(*GASTRO, -20, 5), reading("soleus", LEFT, None, 12)),
        session("2026-02-01", reading(*GASTRO, -10, 5)),
        session(
            "2026-04-02",
            reading(*GASTRO, 0, 10, posture=prone),
            reading("soleus", LEFT, 5, None, not_tested="pain"),
        ),
    )


def data_of(*sessions: Session, **more: Any) -> ChartData:
    """The data of a chart with sessions."""
    chart = Chart("x", PATIENT, sessions, (), (), ())
    return chart_data(replace(chart, **more), False, Basis(MUSCLES))


def painted(data: ChartData, width: int = 80, height: int = 24, **state: Any) -> list[str]:
    """A view as lines, checked to fit."""
    first = replace(first_state(data), **state)
    rows = paint_chart(first, data, "v", width, height)
    assert fits(rows, width, height)
    return text_of(rows)


def test_patient_in_words():
    """Code first, side in full, nothing made up where nothing is stated."""
    assert patient_words(PATIENT) == ("INV-07", "affected: Left", "born 1956", "after stroke")
    bare = replace(PATIENT, affected="", birth_year=None, diagnosis="")
    assert patient_words(bare) == ("INV-07", "birth year not stated", "diagnosis not stated")


def test_trend_view():
    """Joints beside the plot, dates on its axis, and every gap as a number."""
    lines = painted(data_of(*three()), joint=0)
    text = "\n".join(lines)
    assert lines[1].startswith("[trend] numbers  sessions  page  (v)   3 sessions")
    assert lines[2].startswith("> Gastroc  Left   Gastrocnemius, Left (1 of 2)")
    assert lines[3].startswith("  Soleus   Left   stretch angles in deg, up is more stretch")
    assert ["02", "Jan", "2026", "02", "Apr", "2026"] in [line.split() for line in lines]
    assert "> 02 Apr 2026: R1 0 (V3), quality 2, R2 10" in text
    assert "gap in deg: 02 Jan 2026: 25, 01 Feb 2026: 15, 02 Apr 2026: 10" in text
    assert "position differs from the standard one in 1 session" in text


def test_trend_of_no_catch_says_none():
    """An undefined gap is none and never 0."""
    text = "\n".join(painted(data_of(*three()), joint=1, session=0))
    assert "> 02 Jan 2026: R1 no catch (V3), quality 1, R2 12" in text
    assert "02 Jan 2026: none" in text


def test_number_view_as_typed():
    """The table has the typed angles, the position that differs, and the reference."""
    lines = painted(data_of(*three()), view="numbers", joint=0)
    rows = [line.split() for line in lines if " 2026 V3 " in line]
    assert [row[-7:] for row in rows] == [
        ["V3", "-20", "2", "5", "25", ".", "neutral-zero"],
        ["V3", "-10", "2", "5", "15", ".", "neutral-zero"],
        ["V3", "0", "2", "10", "10", ".", "neutral-zero"],
    ]
    assert rows[2][0] == ">"
    text = "\n".join(lines)
    assert "angles in deg, as typed in the scale named" in text
    assert "position: prone, foot over the edge" in text
    assert "shortfall: no reference for this age" in text


def test_numbers_name_the_reference_with_its_source():
    """A shortfall is worked out for the age of each session, and says from what."""
    child = replace(PATIENT, birth_year=2018)
    for muscle in MUSCLES.values():
        sessions = (session("2026-01-02", reading(muscle.id, LEFT, 0, 0)),)
        rows = joint_rows(sessions, (muscle.id, LEFT), MUSCLES, child)
        if rows[0].shortfall is None:
            continue
        text = " ".join(reference_lines(rows))
        reference = rows[0].reference
        assert not isinstance(reference, str)
        assert reference.source in text
        assert f"{round(reference.mean)} deg" in text
        assert rows[0].shortfall == round(reference.mean) - (rows[0].point.r2 or 0)
        return
    pytest.fail("no muscle group has a reference for this age")


def test_numbers_in_a_narrow_window_name_the_scale_on_a_line():
    """Where there is no room for the column the scale is told when it changes."""
    rows = joint_rows(three(), GASTRO, MUSCLES, PATIENT)
    texts = [text for _, text in number_lines(rows, 58)]
    assert sum(text == "    scale: neutral-zero" for text in texts) == 1
    assert all(len(text) <= 58 for text in texts if not text.startswith("    position"))


def test_session_view():
    """Who, what, and the readings of the chosen session."""
    lines = painted(data_of(*three()), view="sessions")
    assert lines[2].split()[:4] == ["date", "examiner", "recorder", "checklist"]
    assert lines[5].startswith("> 02 Apr 2026 AB       CD       Invented list     1          1")
    text = "\n".join(lines)
    assert "2 left open" in text
    assert ">*  Gastrocnemius        Left  V3      0       2   10   10" in text
    assert "position differs: prone" in text


def test_amendments_are_told():
    """Who changed what a session says, when and why."""
    amendment = Amendment("a", "id-2026-04-02", "EF", "wrong side", "2026-04-03T09:05:00+02:00", ())
    text = "\n".join(painted(data_of(*three(), amendments=(amendment,)), view="sessions"))
    assert "amended by EF on 03 Apr 2026 09:05: wrong side" in text
    earlier = painted(data_of(*three(), amendments=(amendment,)), view="sessions", session=0)
    assert "amended" not in "\n".join(earlier)


def test_damage_is_said_in_every_view():
    """Problems of the chart stand above whatever is shown."""
    problem = Problem("charts/x.json", "one session is damaged", "restore the file")
    for view in VIEWS:
        lines = painted(data_of(*three(), problems=(problem,)), view=view)
        assert lines[2] == "damaged: charts/x.json: one session is damaged (restore the file)"
    many = painted(data_of(*three(), problems=(problem,) * 9))
    assert many[4] == "and more damage: limbscribe verify lists all of it"


@pytest.mark.parametrize(("width", "height"), [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("view", ["trend", "numbers", "sessions"])
def test_every_window(width: int, height: int, view: str):
    """Nothing, one session, or two hundred: everything fits and is said."""
    empty = painted(data_of(), width, height, view=view)
    assert any("no reading yet" in line or "no session" in line for line in empty)
    many = [
        session(f"{2020 + i // 28}-02-{1 + i % 28:02d}", reading(*GASTRO, i % 9, 10))
        for i in range(200)
    ]
    data = data_of(*many)
    for index in (0, 100, 199):
        lines = painted(data, width, height, view=view, session=index)
        date = many[index].date_words
        assert any(line.lstrip().startswith(f"> {date}") or f"> {date}" in line for line in lines)
    assert any("(1 of 1)" in line for line in painted(data, width, height)), "heading"


def test_moving_between_joints_sessions_and_views():
    """Sessions without a reading of the joint are passed over in the joint's views."""
    data = data_of(*three())
    state = first_state(data, ("soleus", LEFT))
    assert (state.joint, state.session, state.view) == (1, 2, "trend")
    assert go(state, data, "before").session == 0
    assert go(state, data, "after") == state
    assert go(state, data, "down") == state
    assert go(state, data, "up").joint == 0
    assert go(go(state, data, "up"), data, "before").session == 1
    assert [go(state, data, key).joint for key in ("home", "end", "pageup")] == [0, 1, 0]
    assert [go(replace(state, view=view), data, "view").view for view in VIEWS] == [
        "numbers",
        "sessions",
        "page",
        "trend",
    ]
    assert "quit" not in MOVES


def go(state: ChartState, data: ChartData, action: str) -> ChartState:
    """The state after an action that must be one that moves."""
    return moved(state, data, action)


def test_sessions_view_keeps_the_joint():
    """The joint's row is chosen on the way in, and a row chosen there is the joint after."""
    data = data_of(*three())
    state = go(ChartState("numbers", joint=1, session=2), data, "view")
    assert state.row == 2  # gastrocnemius Left and Right come before it
    up = go(go(state, data, "up"), data, "up")
    assert (up.row, up.joint) == (0, 0)
    assert go(up, data, "up") == up
    assert go(up, data, "before").session == 1


def test_a_start_without_readings_is_shown_all_the_same():
    """The joint asked for is there, and said to have no reading."""
    start = ("hamstrings", RIGHT)
    data = chart_data(Chart("x", PATIENT, three(), (), (), ()), False, Basis(MUSCLES), start)
    state = first_state(data, start)
    rows = text_of(paint_chart(state, data, "v", 80, 24))
    assert any("Hamstrings, Right (1 of 3)" in line for line in rows)
    assert any("no reading yet" in line for line in rows)


def test_indices_follow_data_that_shrank():
    """A state of more sessions and joints is brought inside."""
    data = data_of(three()[0])
    assert clamped(ChartState(joint=9, session=9, row=99), data) == ChartState(
        joint=1, session=0, row=3
    )
    assert clamped(ChartState(joint=9, session=9, row=99), data_of()) == ChartState()


def test_moments_in_words():
    """A time as screens write it; what is none is shown as it was stored."""
    assert moment_words("2026-11-25T14:05:00+01:00") == "25 Nov 2026 14:05"
    assert moment_words("yesterday") == "yesterday"


async def test_on_a_shelf(tmp_path: Path):
    """Loaded from the shelf: closed by whom, views, joints, and back."""
    desk, chart_id = desk_on(tmp_path, *three())
    app = OneScreen(ChartScreen(desk, chart_id, ("soleus", LEFT)))
    async with app.run_test() as pilot:
        assert any("Soleus, Left (2 of 2)" in line for line in shown(pilot))
        await press(pilot, "<")
        assert any("Gastrocnemius, Left (1 of 2)" in line for line in shown(pilot))
        await press(pilot, "vv")
        assert any("closed by CD on 25 Nov 2026 12:00" in line for line in shown(pilot))
        await press(pilot, "z")
        assert "'z' does nothing here; ? lists the keys" in shown(pilot)[-2]
        await press(pilot, "?")
        assert shown(pilot)[0].startswith(" Help: Chart")
        await press(pilot, "q")
        await press(pilot, "q")
    assert app.answers == [None]


async def test_a_chart_that_cannot_be_read(tmp_path: Path):
    """The shelf's sentence is shown, and the screen can be left."""
    desk, _ = desk_on(tmp_path)
    app = OneScreen(ChartScreen(desk, "0" * 32))
    async with app.run_test() as pilot:
        lines = shown(pilot)
        assert lines[0] == "This chart cannot be shown"
        assert len(lines[1]) > 20
        await press(pilot, "vs?")
        await press(pilot, "q")
        assert app.answers == []
        await press(pilot, "q")
    assert app.answers == [None]


async def test_keys_typed_ahead_reach_the_screen_that_is_then_in_front(tmp_path: Path):
    """A burst is dealt out before its first key is taken: no key is lost, none hits twice."""
    desk, chart_id = desk_on(tmp_path, *three()[:1])
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test() as pilot:
        await burst(pilot, "v?q")
        await pilot.pause(2 * HOLD_S)
        assert app.answers == []
        assert isinstance(app.screen, ChartScreen)
        await burst(pilot, "?qqq")
        await pilot.pause(4 * HOLD_S)
    assert app.answers == [None]


async def test_a_session_is_begun_through_the_flow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """The session key hands over to the flow; afterwards the chart is read again."""
    desk, chart_id = desk_on(tmp_path, *three()[:1])
    begun: list[str] = []

    def begin(_: Flow, screen: ChartScreen, id_: str, on_done: Any) -> None:
        begun.append(id_)
        desk.shelf.add_closed(id_, three()[1:], "CD", "2026-11-25T12:00:00+01:00")
        screen.say("a word on the way")
        on_done(None)

    monkeypatch.setattr(Flow, "begin_session", begin)
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test() as pilot:
        assert any("1 session" in line for line in shown(pilot))
        await press(pilot, "s")
        assert begun == [chart_id]
        assert any("3 sessions" in line for line in shown(pilot))
        assert "a word on the way" in shown(pilot)[-2]
        assert any("> 02 Apr 2026" in line for line in shown(pilot))
