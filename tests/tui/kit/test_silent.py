"""With the setting silent nothing rings: what was refused is seen in reverse video."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.config.settings import Settings
from limbscribe.core.entry.state import Mode
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.screen import PaintedScreen
from limbscribe.tui.screens.entry.layout import View, message_rows
from limbscribe.tui.screens.entry.screen import EntryScreen
from textual.app import App
from textual.pilot import Pilot

from tests.support.app import desk_on, press
from tests.support.records import session, state_of


@pytest.fixture
def rung(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What rang, once each."""
    bells: list[str] = []
    monkeypatch.setattr(App, "bell", lambda _: bells.append("bell"))
    return bells


def context_of(folder: Path, silent: bool) -> tuple[Context, str]:
    desk, chart_id = desk_on(folder)
    return replace(
        desk, catalogue=replace(desk.catalogue, settings=Settings(silent=silent))
    ), chart_id


def reversed_texts(pilot: Pilot[int]) -> list[str]:
    """The texts in reverse video, the top line apart."""
    screen = pilot.app.screen
    assert isinstance(screen, PaintedScreen)
    rows = [screen.canvas.render_line(y) for y in range(1, screen.canvas.size.height)]
    return [part.text for row in rows for part in row if part.style and part.style.reverse]


@pytest.mark.parametrize("silent", [True, False])
async def test_a_refused_key_in_a_list(tmp_path: Path, rung: list[str], silent: bool):
    desk, _ = context_of(tmp_path, silent)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        before = reversed_texts(pilot)
        await press(pilot, "%")
        found = [text for text in reversed_texts(pilot) if text not in before]
        assert any("does nothing here" in text for text in found) is silent
        assert bool(rung) is not silent
        await press(pilot, "w")
        await press(pilot, "?")
        await press(pilot, "q")
        assert not any("does nothing here" in text for text in reversed_texts(pilot))


async def test_a_bell_without_words_has_some_when_it_is_silent(tmp_path: Path, rung: list[str]):
    desk, _ = context_of(tmp_path, silent=True)
    async with LimbscribeApp(desk).run_test(size=(80, 24)) as pilot:
        await press(pilot, "<")
        assert any("this key does nothing here" in text for text in reversed_texts(pilot))
        assert rung == []


async def test_a_refused_key_in_a_form(tmp_path: Path, rung: list[str]):
    desk, _ = context_of(tmp_path, silent=True)
    async with LimbscribeApp(desk).run_test(size=(80, 24)) as pilot:
        await press(pilot, "n")
        before = reversed_texts(pilot)
        await pilot.press("f5")
        assert [text for text in reversed_texts(pilot) if text not in before] != []
        assert rung == []


async def test_a_refused_key_in_the_entry(tmp_path: Path, rung: list[str]):
    desk, chart_id = context_of(tmp_path, silent=True)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
        screen = EntryScreen(desk, desk.shelf.load(chart_id), opened)
        await app.push_screen(screen)
        await press(pilot, "z")
        assert any(screen.state.message in text for text in reversed_texts(pilot))
        await press(pilot, "5")
        assert not any("does nothing" in text for text in reversed_texts(pilot))
        assert rung == []


@pytest.mark.parametrize(("keys", "kept"), [("", -1), ("c", 0), ("260\n", -1), ("g", 0)])
def test_a_prompt_keeps_its_look_and_its_cursor(keys: str, kept: int):
    state = replace(state_of(keys), message="refused")
    assert (state.mode is Mode.FIELDS) is (kept == -1)
    plain = message_rows(View(state, (), (), 0.0, ()), 80)
    seen = message_rows(View(state, (), (), 0.0, (), refused=True), 80)
    for number, (before, after) in enumerate(zip(plain, seen, strict=True)):
        if number == kept or not before:
            assert after == before
        else:
            assert {style for _, style in after} == {"here"}
