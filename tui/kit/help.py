"""The help of a screen, over it: keys, grades and words, to be scrolled."""

from __future__ import annotations

from collections.abc import Sequence

from .context import Context
from .help_text import TITLES, help_rows
from .paint import Row, fit, line
from .screen import PaintedScreen

_FRAME_ROWS = 2
"""Rows taken by the title and the line of keys."""


class HelpScreen(PaintedScreen[None]):
    """The help of one screen.

    Args:
        context: the context.
        screen_name: name of the screen in the keymap.
        intro: paragraphs shown before the keys.
    """

    name_in_keymap = "help"

    def __init__(self, context: Context, screen_name: str, intro: Sequence[str] = ()) -> None:
        super().__init__(context)
        self._about = screen_name
        self._intro = tuple(intro)
        self._top = 0

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the screen."""
        rows = help_rows(self.context.keymap, self._about, self._intro, width)
        room = height - _FRAME_ROWS
        self._top = scrolled(self._top, 0, len(rows), room)
        seen = rows[self._top : self._top + room]
        title = f" Help: {TITLES.get(self._about, self._about)}"
        if len(rows) > room:
            title += f"   lines {self._top + 1} to {self._top + len(seen)} of {len(rows)}"
        head = tuple((text, "bar") for text, _ in fit(line(title), width))
        return [head, *seen, *([()] * (room - len(seen))), self.foot(width)]

    def press(self, key: str, action: str) -> None:
        """Take a key."""
        page = max(1, self.canvas.size.height - _FRAME_ROWS - 1)
        steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page}
        if action in steps:
            self._top = max(0, self._top + steps[action])
            self.repaint()
        elif action == "quit":
            self.dismiss(None)
        else:
            self.owner.bell()


def scrolled(top: int, by: int, total: int, room: int) -> int:
    """The first line shown after scrolling, never past the ends."""
    return max(0, min(top + by, total - room))
