"""The drill's one screen: keys to the entry's reducer, its saves to nowhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from ....core.entry.plan import Plan
from ....core.entry.state import Mode
from ...kit.context import Context
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moved, moving
from ..entry.keys import for_reducer
from .paint import is_empty, paint_drill, paint_result
from .state import Drill, Result, new_drill, pressed, result_of, together

_INTRO = (
    "The top line is what a colleague would read out. Type it as in a session, field by field. "
    "All values are invented, and nothing is stored.",
    "A reading is one station. Keys are counted against the fewest that could have typed the "
    "same values; a slip is a value that differs from what was read out when its "
    "session ends. Time runs from the first key of a session to its last.",
)
_ELSEWHERE = ("trend", "pace", "gaps", "review")
"""Actions of the entry that have nothing to show in a drill."""


SLIPS = 10
"""Slips passed over by a page key: about what a window of 24 rows shows."""


class DrillScreen(ListScreen[None]):
    """Sessions one after the other, each with its result."""

    name_in_keymap = "entry"
    about = _INTRO

    def __init__(self, context: Context, plan: Plan, sessions: int, chance: Random) -> None:
        super().__init__(context)
        plan = replace(plan, keys=context.keymap.names("entry"))
        self._plan, self._sessions, self._chance = plan, sessions, chance
        self.drill: Drill = new_drill(plan, chance)
        self.results: tuple[Result, ...] = ()
        self._first_slip = 0
        self._stopped = False
        self.actions |= {**moving(self._scroll), "next": self._next}

    def press(self, key: str, action: str) -> None:
        """The entry's keys while typing, those of the result after it."""
        in_fields = self.drill.entry.mode is Mode.FIELDS
        if self.drill.over:
            super().press(key, action)
        elif in_fields and action == "help":
            self.show_help()
        elif action == "quit" and (in_fields or len(key) > 1):
            self._stop()
        elif in_fields and action in _ELSEWHERE:
            self.refuse("not in a drill: its values are invented and go into no chart")
        else:
            self._fill_in(key, action)
        self.repaint()

    def _fill_in(self, key: str, action: str) -> None:
        name = for_reducer(self.drill.entry, key, action)
        self.drill, ring = pressed(self.drill, name, self.context.moment())
        if ring:
            self.ring()
        if self.drill.over:
            self._show_result()

    def _stop(self) -> None:
        """End the drill: with what was done so far, or at once when that is nothing."""
        if is_empty(self.drill.entry) and not self.results:
            self.leave()
            return
        self._stopped = True
        self.drill = replace(self.drill, over=True)
        self._show_result()

    def _show_result(self) -> None:
        """Turn to the result; a session nobody typed in adds nothing to it."""
        if not is_empty(self.drill.entry):
            self.results = (*self.results, result_of(self.drill))
        self.name_in_keymap = "drill"

    def _next(self) -> None:
        """The next session, or the way out after the last."""
        if not self._left:
            self.leave()
            return
        self.name_in_keymap = "entry"
        self.drill = new_drill(self._plan, self._chance)
        self._first_slip = 0

    def _scroll(self, action: str) -> None:
        self._first_slip = moved(self._first_slip, action, len(self.names()), SLIPS)

    def names(self) -> Sequence[str]:
        """Name the station of every slip."""
        return [slip.station for slip in together(self.results).slips]

    def go_to(self, index: int) -> None:
        """Show the slips from one on."""
        self._first_slip = index

    def leave(self) -> None:
        """Leave the program."""
        self.owner.exit(0)

    @property
    def _left(self) -> int:
        """Sessions still to come."""
        return 0 if self._stopped else self._sessions - len(self.results)

    def say(self, text: str, ring: bool = False) -> None:
        """Show a sentence, in the entry where it has its message."""
        if self.drill.over:
            super().say(text, ring)
            return
        self.drill = replace(self.drill, entry=replace(self.drill.entry, message=text))
        super().say("", ring)

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """Paint the entry, or the result of every session so far."""
        if self.drill.over:
            return super().paint(width, height)
        number, ticks = len(self.results) + 1, self.context.ticks()
        foot = self.foot(width)
        size, seen = (width, height), self.seen_bell
        return paint_drill(self.drill, number, self._sessions, ticks, foot, size, seen)

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the result."""
        total, names = together(self.results), self.context.keymap.names("drill")
        return paint_result(total, self._left, self._first_slip, (width, height), names)
