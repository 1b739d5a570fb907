"""Text of a report in cells: how wide letters are, and lines folded to a width.

Text keeps every letter. Only where a terminal or file cannot hold them (``ascii_only``) are
those beyond ASCII written as escapes; what could act on a terminal is an escape everywhere.
"""

from __future__ import annotations

from unicodedata import combining, east_asian_width

from ..text import visible


def shown(text: str, ascii_only: bool = False) -> str:
    """Write a text so that it can act on nothing, in ASCII alone if that is wanted."""
    safe = visible(text)
    return safe.encode("ascii", "backslashreplace").decode("ascii") if ascii_only else safe


def width_of(text: str) -> int:
    """Count the cells of a text; wide letters of eastern scripts take two, marks none."""
    if text.isascii():
        return len(text)
    return sum(_cells(char) for char in text)


def _cells(char: str) -> int:
    if combining(char):
        return 0
    return 2 if east_asian_width(char) in "WF" else 1


def padded(text: str, width: int, right: bool = False) -> str:
    """Fill a text with blanks to a width in cells."""
    blanks = " " * (width - width_of(text))
    return blanks + text if right else text + blanks


def folded(text: str, width: int, first: str = "", after: str = "") -> list[str]:
    """Fold a text at its blanks to lines of so many cells; a word longer than a line is cut.

    Args:
        text: already shown().
        width: cells.
        first: what the first line begins with.
        after: what later lines begin with.
    """
    lines: list[str] = []
    line, empty = first, True
    for word in text.split():
        for piece in _pieces(word, width - max(len(first), len(after))):
            joined = f"{line}{piece}" if empty else f"{line} {piece}"
            if width_of(joined) > width and not empty:
                lines.append(line)
                joined = f"{after}{piece}"
            line, empty = joined, False
    return [*lines, line]


def _pieces(word: str, room: int) -> list[str]:
    """Cut a word so that no piece is wider than the room."""
    if width_of(word) <= room:
        return [word]
    pieces: list[str] = []
    piece = ""
    for char in word:
        if width_of(piece + char) > room:
            pieces.append(piece)
            piece = ""
        piece += char
    return [*pieces, piece]
