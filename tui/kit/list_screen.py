"""A screen that shows a list whose rows are also reached by letters of their names."""

from __future__ import annotations

from collections.abc import Sequence

from ...core.text import names
from .screen import PaintedScreen, T

_ENDS = ("enter", "tab", "escape", "ctrl+c")
_RUBS_OUT = ("backspace", "ctrl+h", "delete")


class ListScreen(PaintedScreen[T]):
    """A list; its key "goto" asks for letters, and each of them moves to the first row it means."""

    _letters: str | None = None

    def names(self) -> Sequence[str]:
        """Name every row, in the order shown."""
        raise NotImplementedError

    def go_to(self, index: int) -> None:
        """Select a row."""
        raise NotImplementedError

    def take(self, key: str, action: str) -> None:
        """Take letters while they are asked for; a key that moves ends that, and moves."""
        if self._letters is None and action == "goto":
            self._ask("")
        elif self._letters is None:
            self.press(key, action)
        elif len(key) == 1 and key.isprintable():
            self._type(self._letters, key)
        elif key in _RUBS_OUT and self._letters:
            self._ask(self._letters[:-1])
        else:
            self._letters = None
            if key in (*_ENDS, *_RUBS_OUT):
                self.say("")
            else:
                self.press(key, action)

    def _type(self, letters: str, key: str) -> None:
        typed = (letters + key).lstrip()
        found = (index for index, name in enumerate(self.names()) if names(name, typed))
        to = next(found, None)
        if to is None and typed:
            self._ask(letters, f"no row has a word that begins like {typed!r}")
            return
        if to is not None:
            self.go_to(to)
        self._ask(typed)

    def _ask(self, letters: str, why: str = "") -> None:
        self._letters = letters
        more = f"{why}: nothing was typed" if why else "letters of the name; Enter stays there"
        self.say(f"go to: {letters}_   {more}", ring=bool(why))
