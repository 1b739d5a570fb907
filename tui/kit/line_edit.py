"""One line of text being typed, with a cursor in it: what the keys make of it, and how it looks.

Pure: every prompt and every field of text keeps a LineEdit, or a text and how much of it is
behind the cursor, and asks here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from rich.cells import cell_len, set_cell_size

from ...core.text import visible
from .paint import CUT, Span, tail

DIGITS = "0123456789"
NOTHING_HERE = "this key does nothing here"


@dataclass(frozen=True, slots=True)
class LineEdit:
    """A line of text; the cursor is between its two parts.

    Attributes:
        before: text before the cursor.
        after: text behind it, the character under the cursor first.
    """

    before: str = ""
    after: str = ""

    @property
    def text(self) -> str:
        """The whole text."""
        return self.before + self.after


EMPTY = LineEdit()


def line_at(text: str, behind: int) -> LineEdit:
    """A text with so many of its characters behind the cursor."""
    cut = max(0, len(text) - behind)
    return LineEdit(text[:cut], text[cut:])


def inserted(
    line: LineEdit, text: str, longest: int, accepts: str = "", into: str = "this line"
) -> LineEdit | str:
    """Insert typed or pasted text at the cursor.

    Args:
        line: the line before.
        text: one character or more.
        longest: characters that the whole line may have.
        accepts: the only characters taken, "" for any that can be printed.
        into: what the line is called where a text is refused.

    Returns:
        The new line, or why the text was refused.
    """
    if not text.isprintable() or (accepts and not set(text) <= set(accepts)):
        wanted = "digits" if accepts == DIGITS else accepts
        return f"only {wanted} go into {into}" if accepts else "this cannot be typed here"
    if len(line.text) + len(text) > longest:
        return f"{into} takes at most {longest} characters"
    return LineEdit(line.before + text, line.after)


def edited(line: LineEdit, action: str) -> LineEdit:
    """Move the cursor or remove text, by an action of EDITS; the same line at its ends."""
    return EDITS[action](line)


def _left(line: LineEdit) -> LineEdit:
    cut = len(line.before) - 1
    while cut > 0 and not cell_len(line.before[cut]):
        cut -= 1
    cut = max(0, cut)
    return LineEdit(line.before[:cut], line.before[cut:] + line.after)


def _right(line: LineEdit) -> LineEdit:
    cut = _under(line)
    return LineEdit(line.before + line.after[:cut], line.after[cut:])


def _under(line: LineEdit) -> int:
    """Characters under the cursor: one, and the marks that are drawn over it."""
    cut = 1
    while cut < len(line.after) and not cell_len(line.after[cut]):
        cut += 1
    return cut


def _delete(line: LineEdit) -> LineEdit:
    # Some terminals send Delete for the Backspace key: behind the last character it acts as such.
    return LineEdit(line.before, line.after[_under(line) :]) if line.after else _backspace(line)


def _backspace(line: LineEdit) -> LineEdit:
    return LineEdit(line.before[:-1], line.after)


EDITS: dict[str, Callable[[LineEdit], LineEdit]] = {
    "left": _left,
    "right": _right,
    "home": lambda line: LineEdit("", line.text),
    "end": lambda line: LineEdit(line.text),
    "backspace": _backspace,
    "delete": _delete,
    "clear": lambda _: EMPTY,
}
"""What the editing keys do, by their actions in the keymap."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """A line that is asked for.

    Attributes:
        line: what was typed so far; kept out of what a traceback may show.
        message: why the last key did nothing, "" when it did something.
        outcome: "accepted" or "left" when it is over.
    """

    line: LineEdit = field(default=EMPTY, repr=False)
    message: str = ""
    outcome: Literal["", "accepted", "left"] = ""


def prompted(now: Prompt, key: str, action: str, longest: int) -> Prompt:
    """The prompt after a key.

    Args:
        now: before it.
        key: the key's character or name.
        action: what the keymap says it does here, "" for nothing.
        longest: characters that are taken.
    """
    if len(key) == 1 and key.isprintable():
        return typed(now, key, longest)
    if action in ("accept", "leave"):
        return Prompt(now.line, outcome="accepted" if action == "accept" else "left")
    line = edited(now.line, action) if action in EDITS else now.line
    refused = line == now.line and action not in ("left", "right", "home", "end")
    return Prompt(line, NOTHING_HERE if refused else "")


def typed(now: Prompt, text: str, longest: int) -> Prompt:
    """The prompt after text was typed or pasted."""
    line = inserted(now.line, text, longest)
    return Prompt(now.line, line) if isinstance(line, str) else Prompt(line)


def line_spans(line: LineEdit, width: int, style: str = "") -> tuple[Span, ...]:
    """Paint a line in at most ``width`` cells so that the cursor is in sight.

    The cursor is reversed; in a reversed line it is underlined and not reversed. Behind the
    last character it is an underscore. Dots mark text that has no room: a tilde would read as
    the home folder in a path.
    """
    under = line.after[: _under(line)]
    head, cell, rest = (visible(part) for part in (line.before, under, line.after[len(under) :]))
    cell = cell or "_"
    room = width - cell_len(cell)
    if cell_len(head) + cell_len(rest) > room:
        for_rest = max(min(cell_len(rest), room // 3), room - cell_len(head))
        if cell_len(head) > room - for_rest:
            head = CUT + tail(head, room - for_rest - 1)
        if cell_len(rest) > for_rest:
            rest = set_cell_size(rest, for_rest - 1) + CUT if for_rest else ""
    cursor = "field" if style == "here" and under else "here"
    spans = ((head, style), (cell, cursor), (rest, style))
    return tuple(span for span in spans if span[0])
