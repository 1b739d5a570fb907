"""Pasted text stays text, whatever is in it.

A terminal brackets what is pasted, so that a program can tell it from keys. Some terminals
leave escape characters in it, and Textual's parser then takes the rest for keys: commands that
nobody typed. Here they are replaced before the parser sees them, by a control character that
every field refuses.
"""

from __future__ import annotations

from collections.abc import Iterable

from textual.drivers import linux_driver
from textual.message import Message

from .textual_private import XTermParser

START, END = "\x1b[200~", "\x1b[201~"
SUBSTITUTE = "\x1a"
"""The control character of that name."""


class PasteFilter:
    """Takes escape characters out of pasted text; the text may come in any pieces."""

    def __init__(self) -> None:
        self._inside = False
        self._held = ""

    def through(self, data: str) -> str:
        """The next piece of what the terminal sends, as it may go on."""
        passed: list[str] = []
        for char in data:
            passed.append(self._in_paste(char) if self._inside else self._outside(char))
        return "".join(passed)

    def _outside(self, char: str) -> str:
        """Keys pass at once; only how much of a start they make is remembered."""
        self._held = _begun(START, self._held + char)
        if self._held == START:
            self._inside, self._held = True, ""
        return char

    def _in_paste(self, char: str) -> str:
        """Text passes once it is known not to be the end."""
        waiting = self._held + char
        self._held = _begun(END, waiting)
        if self._held == END:
            self._inside, self._held = False, ""
            return waiting[: -len(END)].replace("\x1b", SUBSTITUTE) + END
        return waiting[: len(waiting) - len(self._held)].replace("\x1b", SUBSTITUTE)


def _begun(mark: str, text: str) -> str:
    """The longest end of a text that a mark begins with."""
    for size in range(min(len(mark), len(text)), 0, -1):
        if text.endswith(mark[:size]):
            return mark[:size]
    return ""


class PasteParser(XTermParser):
    """Textual's parser behind the filter."""

    def __init__(self, debug: bool = False) -> None:
        super().__init__(debug)
        self._filter = PasteFilter()

    def feed(self, data: str) -> Iterable[Message]:
        """Take what the terminal sent; "" is the end of it."""
        passed = self._filter.through(data)
        # All of it may have to wait, and nothing at all would be taken for the end.
        return super().feed(passed) if passed or not data else ()


def keep_pastes_whole() -> None:
    """Let the driver use this parser, for the whole process."""
    setattr(linux_driver, "XTermParser", PasteParser)  # noqa: B010 - another class on purpose
