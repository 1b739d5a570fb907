"""What is held on the screen stays so, whatever screen is looked at meanwhile."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests.support.app import desk_on, press, shown, type_keys
from tests.support.records import session

UNLIKELY = "10\n28\n"
"""R1 2 deg beyond R2, which is asked about once."""


async def entered(app: LimbscribeApp, chart_id: str) -> EntryScreen:
    """The entry of a session in front."""
    desk = app.context
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    screen = EntryScreen(desk, desk.shelf.load(chart_id), opened)
    await app.push_screen(screen)
    return screen


@pytest.mark.parametrize(
    "way",
    [("r", "q"), ("r", "escape"), ("?", "q"), ("d", "q"), ("v", "q"), ("q",), ("c", "escape")],
    ids=lambda way: " ".join(way),
)
async def test_a_hold_is_there_again_and_enter_accepts_no_more(tmp_path: Path, way: tuple[str]):
    desk, chart_id = desk_on(tmp_path, session("2026-01-02"))
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entered(app, chart_id)
        await press(pilot, UNLIKELY)
        asked = screen.state
        assert asked.can_accept
        for key in way:
            await type_keys(pilot, key)
        assert app.screen is screen
        await press(pilot, "45\n")
        assert (screen.state.drafts, screen.state.cursor) == (asked.drafts, asked.cursor)
        assert screen.state.flags == asked.flags
        assert "Backspace takes it away" in shown(pilot)[23]
        await type_keys(pilot, "backspace")
        await press(pilot, "20\n")
        assert screen.state.drafts[0].r2 == (20,)


async def test_without_a_key_between_enter_accepts(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entered(app, chart_id)
        await press(pilot, UNLIKELY + "\n")
        assert screen.state.drafts[0].r2 == (8,)
        assert screen.state.drafts[0].done
