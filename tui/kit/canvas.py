"""The one widget of every screen: rows of spans, repainted only where they changed."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.segment import Segment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from ..terminal.characters import to_ascii
from .paint import STYLES, Row, fit, harmless

_NEAR = 10
"""Cells; to move the cursor over fewer takes as many bytes as to write them again."""


class Canvas(Widget):
    """Draws rows given to show(); refreshes only the stretches of each row that changed."""

    can_focus = True

    def __init__(self, ascii_only: bool) -> None:
        super().__init__()
        self._ascii_only = ascii_only
        self._shown: list[Row] = []
        self._shown_at = (0, 0)

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
                stretches = changed(before, after, width)
                self.refresh(*(Region(start, y, end - start, 1) for start, end in stretches))

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


def changed(before: Row, after: Row, width: int) -> list[tuple[int, int]]:
    """The stretches of cells in which two rows of one width differ, near ones as one.

    Returns:
        The first and one past the last cell of each, from left to right. A row with characters
        of no or two cells is one stretch, so that none of them is ever cut.
    """
    old, new = _cells(before), _cells(after)
    if old is None or new is None:
        return [(0, width)]
    stretches: list[tuple[int, int]] = []
    for x, (one, two) in enumerate(zip(old, new, strict=True)):
        if one == two:
            continue
        if stretches and x - stretches[-1][1] < _NEAR:
            stretches[-1] = (stretches[-1][0], x + 1)
        else:
            stretches.append((x, x + 1))
    return stretches


def _cells(row: Row) -> list[tuple[str, str]] | None:
    """Character and style of every cell; None when not every character takes one cell."""
    text = "".join(text for text, _ in row)
    if not text.isascii() and any(cell_len(each) != 1 for each in set(text)):
        return None
    return [(each, style) for text, style in row for each in text]
