"""Keys typed ahead of a screen that comes or goes: held, and given to the one that stays.

A burst of keys is dealt out to the screen in front before that screen has taken the first of
them. When that key opens or closes a screen, the rest would reach one that nobody sees.
"""

from __future__ import annotations

from textual import events
from textual.app import App

HOLD_S = 0.05
"""s; long enough for a screen to come up, short enough not to be felt."""


class TypeAhead:
    """The keys that are held at the moment."""

    def __init__(self) -> None:
        self._held: list[events.Key] = []

    @property
    def waiting(self) -> bool:
        """Whether any key is held."""
        return bool(self._held)

    def hold(self, owner: App[int], screen: object, event: events.Key) -> bool:
        """Keep a key that is not for this screen, or that others wait before; whether kept."""
        if owner.screen is screen and not self._held:
            return False
        if not self._held:
            owner.set_timer(HOLD_S, lambda: self._deal_out(owner))
        self._held.append(event)
        return True

    def drop(self) -> None:
        """Forget what is held: the screens it was meant for are gone."""
        self._held = []

    def _deal_out(self, owner: App[int]) -> None:
        """Give the keys to the screen in front, in their order."""
        held, self._held = self._held, []
        for event in held:
            owner.screen.post_message(events.Key(event.key, event.character))
