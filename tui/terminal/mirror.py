"""What the terminal shows, so that only what differs from it is written.

Textual writes whole screens at every change of screen, most of them blanks and cells that are
there already. Over a slow line that is what a recorder waits for. Every screen here is rows of
text on one canvas, so the rows are kept as they were written, and compared.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.style import Style
from textual.strip import Strip

Cell = tuple[str, Style | None]

NEAR = 10
"""Cells; to move the cursor over fewer takes as many bytes as to write them again."""

LEAST_ERASED = 4
"""Blank cells at the end of a row from which on erasing them takes fewer bytes."""

CLEAR, ERASE = "\x1b[2J", "\x1b[K"


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
        written: list[str] = []
        before = self._rows
        if before is None or len(before) != len(rows):
            written.append(CLEAR)
            before = [Strip.blank(width)] * len(rows)
        self._rows = list(rows)
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old is not new and old != new:
                written.append(_row(y, old, new, width, console))
        return "".join(written)


def _row(y: int, old: Strip, new: Strip, width: int, console: Console) -> str:
    """Write one row: the stretches that changed, and its blank end erased."""
    cells = _cells(new)
    if cells is None:  # none of its wide characters is ever cut
        return f"{_to(0, y)}{ERASE}{new.render(console)}"
    end = _end_of(cells)
    written: list[str] = []
    for start, stop in changed(_cells(old), cells, width):
        erased = stop > end and stop - max(start, end) >= LEAST_ERASED
        last = max(start, end) if erased else stop
        if start < last:
            written += [_to(start, y), new.crop(start, last).render(console)]
        if erased:
            written += [_to(last, y), ERASE]
            break  # what comes behind is blank as well
    return "".join(written)


def _to(x: int, y: int) -> str:
    return f"\x1b[{y + 1};{x + 1}H" if x else f"\x1b[{y + 1}H"


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
