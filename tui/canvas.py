"""The one widget of every screen: rows of spans, repainted only where they changed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from rich.cells import cell_len
from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from .paint import STYLES, Row, fit, harmless, to_ascii


class Canvas(Widget):
    """Draws rows given to show(); refreshes the smallest stretch of each changed row."""

    can_focus = True

    def __init__(self, ascii_only: bool) -> None:
        super().__init__()
        self._ascii_only = ascii_only
        self._shown: list[Row] = []
        self._shown_at = (0, 0)

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
                start, end = changed(before, after, width)
                self.refresh(Region(start, y, end - start, 1))

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


def changed(before: Row, after: Row, width: int) -> tuple[int, int]:
    """The first and one past the last cell in which two rows of one width differ."""
    start = _common(before, after)
    end = width - _common(_mirrored(before), _mirrored(after))
    return start, max(start + 1, end)


def _common(one: Row, two: Row) -> int:
    """Cells at the start that are the same in both rows."""
    count = 0
    for (a, style_a), (b, style_b) in zip(one, two, strict=False):
        if (a, style_a) == (b, style_b):
            count += cell_len(a)
            continue
        return count + (_alike(a, b) if style_a == style_b else 0)
    return count


def _alike(a: str, b: str) -> int:
    """Cells at the start of two texts that are the same, marks on the last of them included."""
    count = last = 0
    for x, y in zip_longest(a, b, fillvalue=""):
        if x != y:
            # A mark that is there in one text only changes the cell before it.
            return count if cell_len(x) and cell_len(y) else count - last
        size = cell_len(x)
        count, last = count + size, size or last
    return count


def _mirrored(row: Row) -> Row:
    return tuple((text[::-1], style) for text, style in reversed(row))
