"""The help of a screen, over it: keys, grades and words, to be scrolled."""

from __future__ import annotations

from collections.abc import Sequence

from .context import Context
from .help_text import TITLES, help_rows
from .paint import Row, fit, line
from .screen import PaintedScreen
from .scroll import clamped_top, moving, scrolled


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
        self._top = self._count = 0
        self.actions |= moving(self._scroll)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the title and the lines in sight."""
        rows = help_rows(self.context.keymap, self._about, self._intro, width)
        room = height - 1
        self._count = len(rows)
        self._top = clamped_top(self._top, len(rows), room)
        seen = rows[self._top : self._top + room]
        title = f" Help: {TITLES.get(self._about, self._about)}"
        if len(rows) > room:
            title += f"   lines {self._top + 1} to {self._top + len(seen)} of {len(rows)}"
        return [tuple((text, "bar") for text, _ in fit(line(title), width)), *seen]

    def _scroll(self, action: str) -> None:
        self._top = scrolled(self._top, action, self._count, self.room - 1)
