"""What the terminal shows, so that only what differs from it is written.

Textual writes whole screens at every change of screen, most of them blanks and cells that are
there already. Over a slow line that is what a recorder waits for. Every screen here is rows of
text on one canvas, so the rows are kept as they were written, and compared.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

Cell = tuple[str, Style | None]

NEAR = 5
"""Cells; to move the cursor over fewer takes as many bytes as to write them again."""

LEAST_ERASED = 4
"""Blank cells at the end of a row from which on erasing them takes fewer bytes."""

CLEAR, ERASE = "\x1b[2J", "\x1b[K"

_CODES = re.compile("\x1b\\[([0-9;]*)mx")


class Mirror:
    """The rows that were written to the terminal last."""

    def __init__(self) -> None:
        self._rows: list[Strip] | None = None

    def lost(self) -> None:
        """Forget them: somebody else has written to the terminal, or it was resized."""
        self._rows = None

    def update(self, rows: Sequence[Strip], width: int, console: Console) -> str:
        """Write what is needed for the terminal to show rows; "" where it does already.

        Args:
            rows: of the whole screen, each of ``width`` cells.
            width: cells.
            console: says which colours there are.
        """
        pen = _Pen(width, console)
        before = self._rows
        if before is None or len(before) != len(rows):
            pen.written.append(CLEAR)
            before = [Strip.blank(width)] * len(rows)
        self._rows = list(rows)
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old is not new and old != new:
                _row(y, old, new, pen)
        pen.put("")
        return "".join(pen.written)


class _Pen:
    """Writes cells, with no more moves and changes of style than are needed.

    Attributes:
        width: cells of a row.
        written: pieces.
    """

    def __init__(self, width: int, console: Console) -> None:
        self.width = width
        self.written: list[str] = []
        self._console = console
        self._at: tuple[int, int] | None = None
        self._codes: str = ""
        self._plain = True
        self._known: dict[Style | None, str] = {None: ""}

    def move(self, x: int, y: int) -> None:
        """Put the cursor on a cell."""
        if self._at == (x, y):
            return
        if self._at and self._at[1] == y and x > self._at[0]:
            count = x - self._at[0]
            self.written.append(f"\x1b[{count}C" if count > 1 else "\x1b[C")
        elif self._at and self._at[0] == x and y > self._at[1]:
            count = y - self._at[1]
            self.written.append(f"\x1b[{count}B" if count > 1 else "\x1b[B")
        else:
            self.written.append(f"\x1b[{y + 1};{x + 1}H" if x else f"\x1b[{y + 1}H")
        self._at = (x, y)

    def cells(self, cells: Sequence[Cell]) -> None:
        """Write cells where the cursor is."""
        for each, style in cells:
            # A blank looks alike in every style that only shapes letters.
            if not (each == " " and style is None and self._plain):
                self.put(self._of(style), _is_plain(style))
            self.written.append(each)
        assert self._at, "the cursor was put somewhere"
        x, y = self._at[0] + len(cells), self._at[1]
        self._at = (x, y) if x < self.width else None  # at the end it may be on either row

    def put(self, codes: str, plain: bool = True) -> None:
        """Change the style; "" is none."""
        if codes != self._codes:
            both = f"0;{codes}" if self._codes and codes else codes
            self.written.append(f"\x1b[{both}m")
        self._codes, self._plain = codes, plain

    def erase(self) -> None:
        """Make the rest of the row blank."""
        self.put("")
        self.written.append(ERASE)

    def whole(self, strip: Strip, y: int) -> None:
        """Write a whole row as it comes."""
        self.put("")
        self.written.append(f"\x1b[{y + 1}H{ERASE}{strip.render(self._console)}")
        self._at = None

    def _of(self, style: Style | None) -> str:
        """Find the codes of a style."""
        if style not in self._known:
            found = _CODES.search(Strip([Segment("x", style)]).render(self._console))
            codes: str = found[1] if found else ""
            self._known[style] = codes
        return self._known[style]


def _row(y: int, old: Strip, new: Strip, pen: _Pen) -> None:
    """Write one row: the stretches that changed, and its blank end erased."""
    cells = _cells(new)
    if cells is None:  # none of its wide characters is ever cut
        pen.whole(new, y)
        return
    end = _end_of(cells)
    for start, stop in changed(_cells(old), cells, pen.width):
        erased = stop > end and stop - max(start, end) >= LEAST_ERASED
        last = max(start, end) if erased else stop
        if start < last:
            pen.move(start, y)
            pen.cells(cells[start:last])
        if erased:
            pen.move(last, y)
            pen.erase()
            break  # what comes behind is blank as well


def _end_of(cells: Sequence[Cell]) -> int:
    """The cell behind the last one that is not blank."""
    end = len(cells)
    while end and cells[end - 1][0] == " " and _is_plain(cells[end - 1][1]):
        end -= 1
    return end


def _is_plain(style: Style | None) -> bool:
    """Whether a blank of this style looks like one that was erased."""
    return style is None or not (style.reverse or style.underline or style.bgcolor)


def changed(old: Sequence[Cell] | None, new: Sequence[Cell], width: int) -> list[tuple[int, int]]:
    """The stretches of cells in which two rows of one width differ, near ones as one.

    Returns:
        The first and one past the last cell of each, from left to right; all of the row where
        the old one has characters of no or two cells (None).
    """
    if old is None:
        return [(0, width)]
    stretches: list[tuple[int, int]] = []
    for x, (one, two) in enumerate(zip(old, new, strict=True)):
        if one == two:
            continue
        if stretches and x - stretches[-1][1] < NEAR:
            stretches[-1] = (stretches[-1][0], x + 1)
        else:
            stretches.append((x, x + 1))
    return stretches


def _cells(row: Strip) -> list[Cell] | None:
    """Character and style of every cell; None when not every character takes one cell."""
    text = row.text
    if not text.isascii() and any(cell_len(each) != 1 for each in set(text)):
        return None
    cells: list[Cell] = []
    for segment in row:
        style = segment.style or None
        blank = None if _is_plain(style) else style  # a bold blank looks like any other
        cells += [(each, blank if each == " " else style) for each in segment.text]
    return cells
