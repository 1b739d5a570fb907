"""The form that withdraws or moves a session: opened from the chart, checked, done, refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import PROFILES, clashes, profile_keys
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.withdraw.screen import (
    WithdrawForm,
    withdraw_form,
    withdraw_problems,
)

from tests.support.app import OneScreen, desk_on, shown, type_keys
from tests.support.records import session

TO_SESSIONS = ("v", "v")


@pytest.mark.parametrize("profile", PROFILES)
def test_its_key_is_free_in_every_profile(profile: str) -> None:
    changes = profile_keys(profile)
    assert Keymap(changes).action("chart", "w") == "withdraw"
    assert clashes(changes) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [("to", "a b"), ("reason", ""), ("reason", "a\u202eb"), ("author", ""), ("author", "Jo Doe")],
)
def test_what_is_wrong_is_said_at_its_field(name: str, text: str) -> None:
    good = withdraw_form().values | {"reason": "training", "author": "jt"}
    assert withdraw_problems(good) == {}
    problems = withdraw_problems(good | {name: text})
    assert list(problems) == [name]
    assert problems[name].mend


async def test_a_session_is_withdrawn_and_the_chart_says_so(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"), session("2026-02-05", id="s2"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "w")
        assert isinstance(app.screen, ChartScreen)
        assert "goes to the sessions, choose one" in app.screen.message
        await type_keys(pilot, *TO_SESSIONS, "left", "w")
        assert isinstance(app.screen, WithdrawForm)
        assert "The session of 05 Jan 2026" in " ".join(shown(pilot))
        await type_keys(pilot, "enter", "'training", "enter", "'jt", "enter")
        assert isinstance(app.screen, ChartScreen)
        text = "\n".join(shown(pilot))
        assert "05 Jan 2026 withdrawn by JT: training" in text
        assert "no longer counts here; it stays in limbscribe history" in " ".join(text.split())
        assert "1 session" in text
    chart = desk.shelf.load(chart_id)
    assert [one.id for one in chart.by_date] == ["s2"]


async def test_a_session_is_moved_and_both_charts_say_so(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    other = desk.shelf.create(Patient("ZZ-40"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, *TO_SESSIONS, "w", "'zz-40", "enter", "'mixed up", "enter")
        await type_keys(pilot, "'jt", "enter")
        assert isinstance(app.screen, ChartScreen)
        assert "05 Jan 2026 moved to another chart by JT: mixed up" in "\n".join(shown(pilot))
        assert "was moved to ZZ-40" in app.screen.message
    assert desk.shelf.load(chart_id).by_date == ()
    app = OneScreen(ChartScreen(desk, other))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, *TO_SESSIONS)
        text = " ".join(" ".join(shown(pilot)).split())
        assert "moved here from another chart by JT: mixed up" in text


async def test_what_cannot_be_done_stays_in_the_form(tmp_path: Path) -> None:
    desk, chart_id = desk_on(tmp_path, session("2026-01-05"))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, *TO_SESSIONS, "w", "'zz-41", "enter", "'mixed up", "enter")
        await type_keys(pilot, "'jt", "enter")
        assert isinstance(app.screen, WithdrawForm)
        assert "ZZ-41 has no chart on this shelf: nothing was changed" in app.screen.message
        assert app.screen.form.values["reason"] == "mixed up"
        await type_keys(pilot, "escape", "escape")  # a form that was touched asks once
        assert isinstance(app.screen, ChartScreen)
    assert desk.shelf.load(chart_id).transfers == ()
