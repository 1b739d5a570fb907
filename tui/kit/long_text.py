"""Lines of text under a title, scrolled: figures of a study, one muscle group of a caseload."""

from __future__ import annotations

from collections.abc import Sequence

from .context import Context
from .form_paint import title_row
from .list_screen import ListScreen
from .paint import Row, fit, line, wrap
from .scroll import clamped_top, moved, moving, scrolled


class OverviewScreen(ListScreen[None]):
    """A list; a row that is opened is a long text, and its neighbours are a key away.

    Attributes:
        around: rows of the body of the list that are none of the list's.
    """

    around = 0

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._at = self._top = 0
        self._open = False
        self.actions |= moving(self._move)
        self.actions |= {"before": lambda: self._step("up"), "after": lambda: self._step("down")}

    def rows(self, width: int) -> list[Row]:
        """Make the text of the chosen row."""
        raise NotImplementedError

    def go_to(self, index: int) -> None:
        """Choose a row; its text begins at the top."""
        self._at, self._top = index, 0

    def leave(self) -> None:
        """Go back to the list, and from there to the screen beneath."""
        if self._open:
            self._open = False
        else:
            super().leave()

    def _move(self, action: str) -> None:
        """Move in the list, or in the text that is open."""
        if self._open:
            count = len(self.rows(self.canvas.size.width))
            self._top = scrolled(self._top, action, count, self.room - 1)
        else:
            self._step(action, max(1, self.room - self.around))

    def _step(self, action: str, page: int = 1) -> None:
        self.go_to(moved(self._at, action, len(self.names()), page))


def paint_long(title: str, rows: Sequence[Row], top: int, width: int, height: int) -> list[Row]:
    """Paint rows under a title from a row on."""
    room = height - 1
    top = clamped_top(top, len(rows), room)
    seen = rows[top : top + room]
    where = f"{top + 1} to {top + len(seen)} of {len(rows)}" if len(rows) > room else ""
    name = fit(line(title), min(len(title), width - len(where) - 3))
    return [title_row("".join(text for text, _ in name), where, width), *seen]


def rows_of(lines: Sequence[str], width: int) -> list[Row]:
    """Lines as rows; those too long for the window go on below, indented."""
    rows: list[Row] = []
    for text in lines:
        if len(text) <= width:
            rows.append(line(text))
            continue
        indent = len(text) - len(text.lstrip()) + 2
        first, *rest = wrap(text, width - indent)
        rows += [first, *(((" " * indent, ""), *row) for row in rest)]
    return rows or [line("nothing to show")]
