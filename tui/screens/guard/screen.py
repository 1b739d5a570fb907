"""The screens that guard: which patient this is, and the lock of an idle screen."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil

from ....core.errors import ShelfError
from ....core.shelf import OpenSession
from ...kit.context import Context
from ...kit.line_edit import Prompt, prompted, typed
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .lock import LONGEST, WRONG, LockedView, paint_locked, pause_after
from .who import Who, paint_resume, paint_who, step


class WhoScreen(PaintedScreen[bool | None]):
    """Ends with True when the ending of the code was typed, None when it was left."""

    name_in_keymap = "patient"

    def __init__(self, context: Context, who: Who) -> None:
        super().__init__(context)
        self.who = who
        self.answer = Prompt()

    def press(self, key: str, action: str) -> None:
        """Type."""
        self.answer = step(self.answer, self.who.code, key, action)
        if self.answer.outcome:
            self.dismiss(True if self.answer.outcome == "accepted" else None)
            return
        self.say(self.answer.message, ring=bool(self.answer.message))

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the question; pasting is refused, as it needs no look at the code."""
        return paint_who(self.who, self.answer, width)


class ResumeScreen(PaintedScreen[bool | None]):
    """Ends with True to go on with a session left open on another day, None when it was left."""

    name_in_keymap = "resume"

    def __init__(self, context: Context, code: str, opened: OpenSession) -> None:
        super().__init__(context)
        self._code, self._opened = code, opened
        self.actions = {"confirm": self._confirm, "leave": self.leave}

    def press(self, key: str, action: str) -> None:
        """Go on or leave; any other key rings."""
        self.actions.get(action, self.ring)()
        self.repaint()

    def _confirm(self) -> None:
        self.dismiss(True)

    def leave(self) -> None:
        """Leave the session open, for anybody to go on with."""
        self._opened.leave()
        self.dismiss(None)

    def put_away(self) -> str:
        """Nothing was typed; the session stays open."""
        self._opened.leave()
        return ""

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint whose session it is and what becomes of what is typed now."""
        keys = [self.context.keymap.name(f"resume.{key}") for key in ("confirm", "leave")]
        today, session = self.context.clock().date(), self._opened.session
        return paint_resume(self._code, session, today, keys, width)


class LockedScreen(PaintedScreen[None]):
    """Nothing about any patient, until a key is pressed, or the passphrase was typed."""

    name_in_keymap = "locked"

    def __init__(self, context: Context, view: LockedView) -> None:
        super().__init__(context)
        self._view = view
        self.prompt = Prompt()
        self._outcomes = {"accepted": self._try, "left": lambda: self.owner.exit(0)}
        self._wrong = 0
        self._next_try = 0.0

    def press(self, key: str, action: str) -> None:
        """Any key goes back to the list of patients; of an encrypted shelf the passphrase."""
        if not self._view.asks:
            self.dismiss(None)
            return
        prompt = prompted(self.prompt, key, action, LONGEST)
        if prompt.outcome:
            self._outcomes[prompt.outcome]()
        else:
            self._take(prompt)

    def pasted(self, text: str) -> None:
        """A passphrase may be pasted; a line break at its end is no part of it."""
        if self._view.asks:
            self._take(typed(self.prompt, text.rstrip("\r\n"), LONGEST))

    def forget(self) -> None:
        """Drop what was typed and not taken: nobody is there."""
        self._take(Prompt())

    def _take(self, prompt: Prompt) -> None:
        self.prompt = prompt
        self.say(prompt.message, ring=bool(prompt.message))

    def _try(self) -> None:
        """Go back when it opens the shelf, else say why not and ask again."""
        passphrase = self.prompt.line.text
        if not passphrase:
            self.refuse("Nothing was typed yet.")
            return
        wait = self._next_try - self.context.ticks()
        if wait > 0:
            self.refuse(f"{self._wrong} passphrases were wrong: wait {ceil(wait)} s, then again.")
            return
        try:
            right = self.context.shelf.opens_with(passphrase)
        except ShelfError as error:
            self._take(Prompt(message=str(error)))
            return
        if right:
            self.dismiss(None)
        else:
            self._wrong += 1
            self._next_try = self.context.ticks() + pause_after(self._wrong)
            self._take(Prompt(message=f"{WRONG} Type it again."))

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint that it is locked, and what became of what was open."""
        return paint_locked(self._view, self.context.clock(), width, self.prompt.line)

    def foot(self, width: int) -> Row:
        """The line of keys; where any key will do there is none."""
        return super().foot(width) if self._view.asks else ()
