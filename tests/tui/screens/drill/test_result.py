"""The result of a drill: its slips are a list like any other."""

from __future__ import annotations

from pathlib import Path
from random import Random

from limbscribe.core.entry.deck import drill_plan
from limbscribe.tui.screens.drill.screen import DrillScreen

from tests.support.app import OneScreen, desk, press, shown, type_keys
from tests.support.records import CHECKLISTS, MUSCLES


async def test_slips_are_reached_by_letters_pages_and_ends(tmp_path: Path):
    """Every station not tested is three slips; letters that mean nothing are not typed."""
    plan = drill_plan(CHECKLISTS, MUSCLES, 2026)
    screen = DrillScreen(desk(tmp_path), plan, 2, Random(1))
    async with OneScreen(screen).run_test(size=(80, 24)) as pilot:
        await press(pilot, "np" * 24)
        assert screen.names()[0] == "Hip flexors, Left"
        assert shown(pilot)[6].startswith("Hip flexors, Left: R1 read")
        await press(pilot, "gsol r")
        assert shown(pilot)[6].startswith("Soleus, Right: R1 read")
        await press(pilot, "x")
        assert "no row has a word that begins like 'sol rx': nothing was typed" in shown(pilot)[-2]
        await type_keys(pilot, "enter", "home")
        assert shown(pilot)[6].startswith("Hip flexors, Left: R1 read")
        await type_keys(pilot, "end")
        assert shown(pilot)[6].startswith(f"{screen.names()[-1]}: R2 read")
        await type_keys(pilot, "enter")
        assert "drill 2 of 2" in shown(pilot)[0]
