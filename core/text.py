"""Text from people and files made safe to print, and things found by letters of their names.

visible() is the one gate of the program: nothing that comes out of it can act on the terminal.
It stands at the way out: what was typed or imported is stored as it is, and shown through it.
The canvas of the screens and the output of the commands call it last of all, whatever others
did before. How wide a text is, and what is filled, cut or folded to a width, is counted in the
cells of a terminal: a wide letter takes two.
"""

from __future__ import annotations

import re
from functools import lru_cache
from unicodedata import category, east_asian_width

_NAMED = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}
_LINE_BREAKS = re.compile(r"[\n\t\r]")

_PLAIN = re.compile("[ -~\u00a1-\u00ac\u00ae-\u02ff\u2500-\u259f\u2022\u2026]*")
"""Text that needs no closer look; most of what is shown is of this kind."""

_CHANGES_OTHERS = re.compile(
    "[\u034f\u115f-\u11ff\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\ud7b0-\ud7ff"
    "\U0001f1e6-\U0001f1ff\U0001f3fb-\U0001f3ff\U000e0100-\U000e01ef]"
)
"""Letters and marks that have no width of their own or join their neighbours: fillers, joining
syllable parts, variation selectors, flag letters, skin tones. Terminals disagree on the width
of what they join, so a row with one of them may not end where it should."""

_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe63\uff0d"), "-")

MOST_MARKS = 4
"""Combining marks shown on one character: more than any spelling needs, too few to pile up.
Common practice, no published source."""


def how_to_install(extra: str) -> str:
    """Say how an extra of the program is installed: from its checkout, never from an index."""
    return f"in the checkout: .venv/bin/pip install '.[{extra}]'"


def visible(text: str) -> str:
    r"""The text with every character that a terminal could act on written as an escape.

    Control characters (C0, C1, DEL), direction overrides, zero-width and other format
    characters, line separators, lone surrogates, private and unassigned code points become
    ``\u001b``-like escapes; line breaks and tabs become ``\n``, ``\r``, ``\t``. So do
    characters that change the width of others, combining marks with nothing to stand on, and
    those beyond MOST_MARKS.

    What comes back is printable, and going through the gate again leaves it as it is.
    """
    if _PLAIN.fullmatch(text):
        return text
    shown: list[str] = []
    room = 0  # marks that the character before still takes; none at the start
    for char in text:
        kind = _kind(char)
        if kind == "mark":
            shown.append(char if room else _escape(char))
            room = max(0, room - 1)
            continue
        shown.append(_escape(char) if kind == "acts" else char)
        room = MOST_MARKS
    return "".join(shown)


def shown(text: str, ascii_only: bool = False) -> str:
    """Write a text so that it can act on nothing, in ASCII alone if that is wanted."""
    safe = visible(text)
    return safe.encode("ascii", "backslashreplace").decode("ascii") if ascii_only else safe


def width_of(text: str) -> int:
    """Count the cells of a text; wide letters of eastern scripts take two, marks none."""
    return len(text) if text.isascii() else sum(_cells(char) for char in text)


def padded(text: str, width: int, right: bool = False) -> str:
    """Fill a text with blanks to a width in cells."""
    blanks = " " * (width - width_of(text))
    return blanks + text if right else text + blanks


def cut(text: str, width: int) -> str:
    """As much of the beginning of a text as goes into so many cells."""
    return _pieces(text, width)[0]


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


def counted(count: int, what: str) -> str:
    """A number of things in words: "1 table", "2 tables", "1,000 tables"."""
    return f"{count:,} {what}" if count == 1 else f"{count:,} {what}s"


def names(words: str, letters: str) -> bool:
    """Whether every word of the letters begins a word of a name, large or small; never for none.

    Args:
        words: the name, with an abbreviation and an id as far as there are any.
        letters: what was typed.
    """
    wanted, there = (text.casefold().replace("-", " ").split() for text in (letters, words))
    return bool(wanted) and all(any(word.startswith(one) for word in there) for one in wanted)


def plain_dashes(text: str) -> str:
    """The text with every dash and minus sign, such as word processors put in, as ``-``."""
    return text if text.isascii() else text.translate(_DASHES)


def hidden_character(text: str) -> str:
    """The first character that nobody can see, written as visible() writes it; "" if none.

    Line breaks and tabs are passed over: a comment may well have several lines.
    """
    if text.isascii() and text.isprintable():  # as nearly always
        return ""
    found = next((char for char in _LINE_BREAKS.sub("", text) if _hidden(char)), "")
    return _escape(found) if found else ""


def _cells(char: str) -> int:
    if category(char).startswith("M"):
        return 0
    return 2 if east_asian_width(char) in "WF" else 1


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


@lru_cache(4096)
def _kind(char: str) -> str:
    """What a character is to a terminal: "acts", "mark", or "" for one that just stands."""
    if _hidden(char) or _CHANGES_OTHERS.match(char):
        return "acts"
    return "mark" if category(char) in ("Mn", "Me") else ""


def _hidden(char: str) -> bool:
    kind = category(char)
    return kind.startswith("C") or kind in ("Zl", "Zp")


def _escape(char: str) -> str:
    code = ord(char)
    return _NAMED.get(char) or (f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}")
