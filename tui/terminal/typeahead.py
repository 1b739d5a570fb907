"""Keys typed ahead of a screen that comes or goes: held between reading screens, else dropped.

A burst of keys is dealt out to the screen in front before that screen has taken the first of
them. When that key opens or closes a screen, the rest would reach one that nobody sees.

Between reading screens the rest is held, and given to the screen that stays. Into and out of a
screen where a key says who somebody is, becomes a reading, fills in a form, changes a checklist
or adopts a figure, it is dropped with a bell: until the first frame of the new screen is written
and the terminal has nothing more to read.
"""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.app import App

from .after import after

HOLD_S = 0.05
"""s; long enough for a screen to come up, short enough not to be felt."""

LOOK_S = 0.02
"""s between two looks at whether the terminal is at rest; keys held down repeat more slowly
than that by half, so that both looks must find rest before anything is taken."""

GUARDED = frozenset(
    {"patient", "resume", "locked", "cautions", "sign", "entry", "adopt", "form", "checklist"}
)
"""Names in the keymap of the screens, and pages of screens, that nothing is typed ahead of."""

_LOOKS = 2
"""Looks in a row that must find rest."""


def key_of(event: events.Key) -> str:
    """The character of a key that has one, else its name."""
    return event.character if event.character and event.is_printable else event.key


class TypeAhead:
    """The keys that are held at the moment, and whether keys are dropped at the moment.

    Attributes:
        at_rest: whether everything is written to the terminal, and nothing waits to be read.
    """

    def __init__(self) -> None:
        self.at_rest: Callable[[], bool] = lambda: True
        self._held: list[events.Key] = []
        self._front: tuple[object, str] = (None, "")
        self._dropping = False
        self._dropped: set[str] = set()
        self._shown = False
        self._rests = 0

    @property
    def waiting(self) -> bool:
        """Whether any key is held, or would be dropped."""
        return bool(self._held) or self._dropping

    def hold(self, owner: App[int], screen: object, event: events.Key) -> bool:
        """Keep or drop a key that is not for this screen, or that others wait before."""
        if self.dropped(owner, key_of(event)):
            return True
        if owner.screen is screen and not self._held:
            return False
        if not self._held:
            after(owner, HOLD_S, lambda: self._deal_out(owner))
        self._held.append(event)
        return True

    def dropped(self, owner: App[int], key: str = "paste") -> bool:
        """Drop what was typed just now, if what it was typed for is not on the screen yet."""
        self.watch(owner)
        if self._dropping:
            self._dropped.add(key)
            self._rests = 0
        return self._dropping

    def watch(self, owner: App[int]) -> None:
        """See which screen is in front, and which page of it; begin to drop where that changed.

        For every screen that comes to the front, and after every key.
        """
        screen = owner.screen
        front = (screen, str(getattr(screen, "name_in_keymap", "")))
        if front == self._front:
            return
        before, self._front = self._front, front
        if self._dropping or GUARDED & {before[1], front[1]}:
            self.drop_until_seen(owner)

    def drop_until_seen(self, owner: App[int]) -> None:
        """Drop what was typed for what was there before, until what is there now is seen."""
        self._shown, self._rests = False, 0
        self._dropped |= {key_of(event) for event in self._held}
        self._held = []
        if not self._dropping:
            self._dropping = True
            after(owner, LOOK_S, lambda: self._look(owner))

    def drop(self) -> None:
        """Forget what is held: the screens it was meant for are gone."""
        self._held = []

    def _look(self, owner: App[int]) -> None:
        """Take keys again once the frame is written and the terminal was at rest for a while."""
        if not owner.screen_stack:
            return  # the program is ending
        self.watch(owner)
        rests = self._shown and self.at_rest()
        self._rests = self._rests + 1 if rests else 0
        if self._rests < _LOOKS:
            if not self._shown and getattr(owner.screen, "painted", True):
                owner.call_after_refresh(self._seen, self._front)
            after(owner, LOOK_S, lambda: self._look(owner))
            return
        dropped, self._dropping, self._dropped = self._dropped, False, set()
        too_early = getattr(owner.screen, "too_early", None)
        if dropped and too_early:
            too_early(dropped)
        elif dropped:
            owner.bell()

    def _seen(self, front: tuple[object, str]) -> None:
        """The screen has handed its frame on."""
        self._shown = self._shown or front == self._front

    def _deal_out(self, owner: App[int]) -> None:
        """Give the keys to the screen in front, in their order."""
        held, self._held = self._held, []
        for event in held:
            owner.screen.post_message(events.Key(event.key, event.character))
