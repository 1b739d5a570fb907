"""What all screens have in common: body, message, line of keys, and the table of actions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import MOST_MESSAGE_ROWS, Row, filled, line, message_rows, width_of
from limbscribe.tui.kit.screen import TOO_EARLY, PaintedScreen
from textual.geometry import Size

from tests.support.app import OneScreen, desk_on, press, shown, text_of


class Plain(PaintedScreen[None]):
    """A screen with one action of its own."""

    name_in_keymap = "report"

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.copied = 0
        self.actions |= {"copy": self.copy}

    def copy(self) -> None:
        """Count it."""
        self.copied += 1
        self.say("copied")

    def body(self, width: int, height: int) -> Sequence[Row]:
        """A row for each there is room for, and the room."""
        return [line(f"row {number} of {height}, {self.room}") for number in range(height)]

    def hint(self) -> str:
        """Say something else while there is no message."""
        return "the hint"


async def test_the_message_stands_between_body_and_keys(tmp_path: Path) -> None:
    context, _ = desk_on(tmp_path)
    screen = Plain(context)
    app = OneScreen(screen)
    async with app.run_test(size=(80, 24)) as pilot:
        assert shown(pilot)[-2] == "the hint"
        await press(pilot, "c")
        assert shown(pilot)[21:23] == ["row 21 of 22, 22", "copied"]
        assert shown(pilot)[-1].startswith("PgDn more  ? help")
        await press(pilot, "%")
        assert shown(pilot)[-2] == "'%' does nothing here; ? lists the keys"
        screen.say("word " * 300)
        rows = shown(pilot)
        assert rows[-1].startswith("PgDn more  ? help"), "no message hides the keys"
        assert rows[-2].endswith(" …")
        assert rows[0] == f"row 0 of {23 - MOST_MESSAGE_ROWS}, {23 - MOST_MESSAGE_ROWS}"
        await press(pilot, "q")
    assert (screen.copied, app.answers) == (1, [None])


async def test_nothing_is_taken_that_nobody_sees(tmp_path: Path) -> None:
    """A window that is too small refuses keys with the bell; only leaving is done."""
    context, _ = desk_on(tmp_path)
    screen = Plain(context)
    app = OneScreen(screen)
    async with app.run_test(size=(60, 19)) as pilot:
        await press(pilot, "c")
        assert screen.copied == 0
        assert shown(pilot)[:2] == [
            "window 60 x 19: at least 60 x 20 is needed",
            "Nothing typed is taken until then.",
        ]
        await pilot.resize_terminal(60, 20)
        assert screen.message == TOO_EARLY
        await press(pilot, "c")
        assert screen.copied == 1
        await pilot.resize_terminal(59, 24)
        await press(pilot, "q")
    assert app.answers == [None]


async def test_a_screen_that_is_not_laid_out_yet_is_not_too_small(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a busy machine a key may come before the first layout; it is meant and is taken."""
    context, _ = desk_on(tmp_path)
    screen = Plain(context)
    app = OneScreen(screen)
    async with app.run_test() as pilot:
        await press(pilot, "c")
        with monkeypatch.context() as patched:
            patched.setattr(type(screen.canvas), "size", Size(0, 0))
            assert not screen.too_small
            await press(pilot, "c")
    assert screen.copied == 2


@pytest.mark.parametrize("width", [60, 80, 120])
def test_a_message_takes_the_rows_it_needs_or_those_kept_for_it(width: int) -> None:
    assert message_rows("", width) == []
    assert message_rows("", width, kept=3) == [(), (), ()]
    assert text_of(message_rows("a word", width, kept=2)) == ["a word", ""]
    for kept in (0, 1, 3):
        rows = message_rows("word " * 300, width, kept)
        assert len(rows) == (kept or MOST_MESSAGE_ROWS)
        assert all(width_of(row) <= width for row in rows)
        assert text_of(rows)[-1].endswith(" …")


def test_rows_are_cut_or_filled_up() -> None:
    rows = [line("a"), line("b")]
    assert filled(rows, 1) == [line("a")]
    assert filled(rows, 3) == [line("a"), line("b"), ()]
    assert filled(rows, -1) == []
