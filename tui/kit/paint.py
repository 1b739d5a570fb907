"""What a screen is made of: rows of styled spans, built by plain functions.

Every screen paints itself as rows of text on one canvas. That keeps a key stroke to a few
changed cells on the wire, lets screens be tested without a terminal, and leaves no widget
of its own mind about characters or colours. State is carried by words, signs, reverse and
bold; colours of the terminal's own palette only repeat it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len, chop_cells, set_cell_size
from rich.style import Style

from ...core.text import visible

Span = tuple[str, str]
"""Text and the name of its style."""

Row = tuple[Span, ...]

STYLES: dict[str, Style] = {
    "": Style(),
    "dim": Style(dim=True),
    "bold": Style(bold=True),
    "title": Style(bold=True, underline=True),
    "bar": Style(reverse=True),
    "field": Style(underline=True),
    "here": Style(reverse=True, bold=True),
    "stop": Style(bold=True, reverse=True, color="red"),
    "ask": Style(bold=True, color="yellow"),
    "done": Style(color="green"),
    "key": Style(bold=True),
}

MOST_MESSAGE_ROWS = 6

CUT = "…"
"""Marks where text had no room. A tilde has other meanings here, and in a path it is a folder."""


def width_of(row: Row) -> int:
    """Width of a row in terminal cells."""
    return sum(cell_len(text) for text, _ in row)


def harmless(row: Row) -> Row:
    """The row through the gate of core.text; its width may grow, so this comes before fit()."""
    shown = [visible(text) for text, _ in row]
    if all(new is old for new, (old, _) in zip(shown, row, strict=True)):
        return row
    return tuple((new, style) for new, (_, style) in zip(shown, row, strict=True))


def tail(text: str, width: int) -> str:
    """The end of a text in at most ``width`` cells: what is being typed stays in sight."""
    text = visible(text)[-max(1, width) * 2 :]  # a mark apart, no character takes less than one
    while text and cell_len(text) > width:
        text = text[1:]
    return text


def fit(row: Row, width: int) -> Row:
    """The row cut or padded to a width in cells; a cut is marked by CUT."""
    missing = width - width_of(row)
    if missing >= 0:
        return (*row, (" " * missing, "")) if missing else row
    spans: list[Span] = []
    left = width - 1
    for text, style in row:
        size = cell_len(text)
        if size > left:
            spans.append((set_cell_size(text, left), style))
            break
        spans.append((text, style))
        left -= size
    return (*spans, (CUT, "dim"))


def beside(left: Sequence[Row], right: Sequence[Row], split: int, width: int) -> list[Row]:
    """Two blocks side by side: ``split`` cells for the left one, the rest for the right."""
    rows: list[Row] = []
    for index in range(max(len(left), len(right))):
        one = left[index] if index < len(left) else ()
        two = right[index] if index < len(right) else ()
        rows.append((*fit(one, split), *fit(two, width - split)))
    return rows


def labelled(label: str, rows: Sequence[Row], indent: int, style: str = "dim") -> list[Row]:
    """Put a word in a column of its own beside rows; a word too long goes above them."""
    above = [line(label, style)] if len(label) > indent else []
    heads = ["" if above else label, *[""] * len(rows)]
    cells = ((f"{head:<{indent}}", style) for head in heads)
    return [*above, *((cell, *row) for cell, row in zip(cells, rows, strict=False))]


def line(text: str, style: str = "") -> Row:
    """A row of one span; text from data is made harmless."""
    return ((visible(text), style),)


def wrap(text: str, width: int, style: str = "") -> list[Row]:
    """Text in as many rows as it needs, broken at spaces; words too long are cut apart."""
    rows: list[str] = []
    current = ""
    for word in visible(text).split():
        if cell_len(word) > width:
            *heads, word = chop_cells(word, max(2, width))
            rows += [current, *heads] if current else heads
            current = ""
        if current and cell_len(current) + 1 + cell_len(word) > width:
            rows.append(current)
            current = word
        else:
            current = f"{current} {word}".strip()
    return [((row, style),) for row in [*rows, current] if row]


def wrapped(texts: Iterable[str], width: int, style: str = "") -> list[Row]:
    """Texts one below the other, each beginning a row."""
    return [row for text in texts for row in wrap(text, width, style)]


def shortened(rows: Sequence[Row], room: int, more: str, style: str = "dim") -> list[Row]:
    """Rows cut to a height; the last then says in ``more`` how many {} were left out."""
    if len(rows) <= room:
        return list(rows)
    return [*rows[: room - 1], line(more.replace("{}", str(len(rows) - room + 1), 1), style)]


def filled(rows: Sequence[Row], height: int) -> list[Row]:
    """The rows cut to a height, or filled up to it with empty ones."""
    shown = list(rows[: max(0, height)])
    return [*shown, *([()] * (height - len(shown)))]


def message_rows(text: str, width: int, kept: int = 0, style: str = "ask") -> list[Row]:
    """The message of a screen, which is above its line of keys.

    Args:
        text: the message, "" for none.
        width: cells.
        kept: rows it takes whether or not there is a message; 0 for as many as it needs, up to
            MOST_MESSAGE_ROWS. What does not fit is cut off with a mark.
        style: of its words.
    """
    rows, room = wrap(text, width, style), kept or MOST_MESSAGE_ROWS
    if len(rows) > room:
        last = fit((("".join(words for words, _ in rows[room - 1]), style),), width - 2)
        rows = [*rows[: room - 1], (*last, (f" {CUT}", style))]
    return filled(rows, kept) if kept else rows


def keys_row(pairs: Iterable[tuple[str, str]], width: int) -> Row:
    """The line of keys: as many as fit whole, so that nothing is cut in the middle."""
    spans: list[Span] = []
    used = 0
    for key, does in pairs:
        size = cell_len(key) + 1 + cell_len(does) + (2 if spans else 0)
        if used + size > width:
            break
        spans += [("  ", "")] if spans else []
        spans += [(key, "key"), (f" {does}", "")]
        used += size
    return tuple(spans)


def head_row(parts: Sequence[str], width: int) -> Row:
    """The top line: as many of the parts as fit whole, the first always."""
    words = list(parts)
    while len(words) > 1 and sum(len(word) + 2 for word in words) > width:
        words.pop()
    return tuple((text, "bar") for text, _ in fit(line(" " + "  ".join(words)), width))
