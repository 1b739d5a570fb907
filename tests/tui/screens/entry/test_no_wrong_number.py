"""The slips of tests/support/blind.py typed into the real screen, key by key."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from limbscribe.core.entry.doubt import asks_whether_meant
from limbscribe.core.entry.state import begin
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import key_name
from limbscribe.tui.screens.entry.screen import EntryScreen
from textual import events

from tests.support.app import desk, press, rest
from tests.support.blind import KEYMAPS, at, blindly, case, shown, wrong
from tests.support.records import earlier, patient
from tests.support.sizes import size

SESSIONS = size(4, 30, 100)


@pytest.mark.deep
async def test_the_screen_stores_no_number_that_was_not_meant(tmp_path: Path):
    """What it shows as done is what its journal holds; the checks are those of the reducer."""
    chance, held = Random(12), 0
    for number in range(SESSIONS):
        one, now = case(chance), [0.0]
        made = desk(tmp_path / str(number))
        made = replace(made, keymap=KEYMAPS[one.profile], ticks=lambda now=now: now[0])
        chart_id = made.shelf.create(patient())
        opened = made.shelf.start(chart_id, earlier("b2", "2026-11-25T09:41:00+01:00"), "AB")
        async with LimbscribeApp(made).run_test(size=(80, 24)) as pilot:
            screen = EntryScreen(made, made.shelf.load(chart_id), opened)
            await pilot.app.push_screen(screen)
            await press(pilot, "")  # until the screen takes keys
            screen.state = at(begin(one.plan), one.at)
            now[0] = screen.state.rhythm.last
            for key, apart in blindly(one, chance):
                now[0] += apart
                screen.post_message(events.Key(key, key if len(key) == 1 else None))
                await rest(pilot)
            state = screen.state
            text = "\n".join(line.text for line in screen.canvas.render_lines(screen.canvas.region))
        found = [(index, state.drafts[index]) for index, why in wrong(one, state) if not why]
        assert not found, shown([(one, index, draft) for index, draft in found])
        if state.hold:
            held += 1
            way = "it was meant" if asks_whether_meant(state) else "takes it away"
            assert f"{key_name(one_key(one.profile))} {way}" in text
    assert held > SESSIONS / 3


def one_key(profile: str) -> str:
    """The first key of Backspace in a profile."""
    return next(key.keys[0] for key in KEYMAPS[profile].of("entry") if key.id == "entry.backspace")
