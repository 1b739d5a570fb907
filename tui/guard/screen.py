"""The screens that guard: which patient this is, and the lock of an idle screen."""

from __future__ import annotations

from collections.abc import Sequence

from ..desk import Desk
from ..paint import Row
from ..screen import PaintedScreen
from .lock import LockedView, paint_locked
from .who import Answer, Who, paint_who, step


class WhoScreen(PaintedScreen[bool | None]):
    """Ends with True when the ending of the code was typed, None when it was left."""

    name_in_keymap = "patient"

    def __init__(self, desk: Desk, who: Who) -> None:
        super().__init__(desk)
        self.who = who
        self.answer = Answer()

    def press(self, key: str, action: str) -> None:
        """Type."""
        self.answer = step(self.answer, self.who.code, key, action)
        if self.answer.refused:
            self.owner.bell()
        if self.answer.outcome:
            self.dismiss(True if self.answer.outcome == "sure" else None)
            return
        self.repaint()

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The patient and the question; pasting is refused, as it needs no look at the code."""
        return paint_who(self.who, self.answer, self.foot(width), width, height)


class LockedScreen(PaintedScreen[None]):
    """Nothing about any patient, until a key is pressed."""

    name_in_keymap = "locked"

    def __init__(self, desk: Desk, view: LockedView) -> None:
        super().__init__(desk)
        self._view = view

    def press(self, key: str, action: str) -> None:
        """Any key goes back to the list of patients."""
        self.dismiss(None)

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """That it is locked, and what became of what was open."""
        return paint_locked(self._view, self.desk.clock(), width, height)
