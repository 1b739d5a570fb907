"""Sessions typed later or rated blind: the chart says so, and a correction may see what was."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.session import Conditions
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.screens.amend.screen import AmendScreen
from limbscribe.tui.screens.chart.screen import ChartScreen

from tests.support.app import OneScreen, desk_on, press, shown
from tests.support.records import reading, session

MARKS = Conditions(typed_later="2026-04-05T08:15:00+02:00", blind=True)
BEFORE = session("2026-01-02", reading("gastrocnemius", Side.LEFT, -20, 5))
AFTER = session("2026-04-02", reading("gastrocnemius", Side.LEFT, -10, 10))


@pytest.mark.parametrize("marked", [False, True])
async def test_the_chart_says_how_a_session_was_typed(tmp_path: Path, marked: bool):
    now = replace(AFTER, conditions=MARKS) if marked else AFTER
    desk, chart_id = desk_on(tmp_path, BEFORE, now)
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test() as pilot:
        await press(pilot, "vv")
        text = " ".join(" ".join(shown(pilot)).split())
        assert "02 Apr 2026" in text
        assert ("typed later, on 05 Apr 2026 08:15; blind rating" in text) is marked


async def test_the_amendment_of_a_blind_rating_hides_nothing(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path, BEFORE, replace(AFTER, conditions=MARKS))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        assert isinstance(app.screen, AmendScreen)
        text = "\n".join(shown(pilot))
        assert "AMENDING the session of  02 Apr 2026" in text
        assert "on 02 Jan 2026" in text
        assert "hidden" not in text
