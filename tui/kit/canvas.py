"""The one widget of every screen: rows of spans, repainted only where they changed."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from ..terminal.characters import to_ascii
from .paint import STYLES, Row, fit, harmless


class Canvas(Widget):
    """Draws rows given to show(); refreshes only those that changed.

    Attributes:
        anew: the terminal does not show what was written to it; all of it is to be written.
    """

    can_focus = True

    def __init__(self, ascii_only: bool) -> None:
        super().__init__()
        self._ascii_only = ascii_only
        self._shown: list[Row] = []
        self._shown_at = (0, 0)
        self.anew = False

    @property
    def painted(self) -> bool:
        """Whether anything was shown yet."""
        return bool(self._shown)

    def show(self, rows: Sequence[Row]) -> None:
        """Show rows, cut to the widget's size.

        This is the last point before the terminal, so every span passes the gate here, whether
        its painter thought of it or not.
        """
        width, height = self.size
        new = [fit(harmless(row), width) for row in rows[:height]]
        old, self._shown = self._shown, new
        if (width, height) != self._shown_at or len(old) != len(new):
            self._shown_at = (width, height)
            self.refresh()
            return
        for y, (before, after) in enumerate(zip(old, new, strict=True)):
            if before != after:
                self.refresh(Region(0, y, width, 1))

    def lost(self) -> None:
        """Others wrote to the terminal: everything is to be written anew."""
        self.anew = True
        self.refresh()

    def strips(self) -> list[Strip]:
        """Every line of the screen."""
        return [self.render_line(y) for y in range(self.size.height)]

    def render_line(self, y: int) -> Strip:
        """One line of the screen."""
        width = self.size.width
        if y >= len(self._shown):
            return Strip.blank(width)
        segments = [
            Segment(to_ascii(text) if self._ascii_only else text, STYLES[style])
            for text, style in self._shown[y]
        ]
        return Strip(segments).adjust_cell_length(width)
