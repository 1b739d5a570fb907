"""The screens that guard: which patient this is, and the lock of an idle screen."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .lock import WRONG, LockedView, Passphrase, paint_locked, pasting, typing
from .who import Answer, Who, paint_who, step


class WhoScreen(PaintedScreen[bool | None]):
    """Ends with True when the ending of the code was typed, None when it was left."""

    name_in_keymap = "patient"

    def __init__(self, context: Context, who: Who) -> None:
        super().__init__(context)
        self.who = who
        self.answer = Answer()

    def press(self, key: str, action: str) -> None:
        """Type."""
        self.answer = step(self.answer, self.who.code, key, action)
        if self.answer.outcome:
            self.dismiss(True if self.answer.outcome == "sure" else None)
            return
        self.say(self.answer.message, ring=self.answer.refused)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the question; pasting is refused, as it needs no look at the code."""
        return paint_who(self.who, self.answer, width)


class LockedScreen(PaintedScreen[None]):
    """Nothing about any patient, until a key is pressed, or the passphrase was typed."""

    name_in_keymap = "locked"

    def __init__(self, context: Context, view: LockedView) -> None:
        super().__init__(context)
        self._view = view
        self.typed = Passphrase()

    def press(self, key: str, action: str) -> None:
        """Any key goes back to the list of patients; of an encrypted shelf the passphrase."""
        if not self._view.asks:
            self.dismiss(None)
            return
        self._take(typing(self.typed, key, action))

    def pasted(self, text: str) -> None:
        """A passphrase may be pasted; a line break at its end is no part of it."""
        if self._view.asks:
            self._take(pasting(self.typed, text.rstrip("\r\n")))

    def forget(self) -> None:
        """Drop what was typed and not taken: nobody is there."""
        self._take(Passphrase())

    def _take(self, typed: Passphrase) -> None:
        if typed.outcome == "left":
            self.owner.exit(0)
            return
        if typed.outcome == "try":
            typed = self._tried(typed.typed.text)
            if not typed.message:
                self.dismiss(None)
                return
        self.typed = typed
        self.say(typed.message, ring=bool(typed.message))

    def _tried(self, passphrase: str) -> Passphrase:
        """Empty when it opens the shelf, else with the reason why not."""
        try:
            right = self.context.shelf.opens_with(passphrase)
        except ShelfError as error:
            return Passphrase(message=str(error))
        return Passphrase(message="" if right else f"{WRONG} Type it again.")

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint that it is locked, and what became of what was open."""
        return paint_locked(self._view, self.context.clock(), width, self.typed.typed)

    def foot(self, width: int) -> Row:
        """The line of keys; where any key will do there is none."""
        return super().foot(width) if self._view.asks else ()
