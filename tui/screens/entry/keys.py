"""Which key of the reducer a pressed key means, in the mode that the entry is in."""

from __future__ import annotations

from ....core.entry.state import TEXT_MODES, EntryState, Mode
from ...keys.keymap import plain_key

TEXT_KEYS = ("enter", "tab", "backspace", "escape")
"""Keys that keep their meaning in a line of text, whatever they were bound to."""


def for_reducer(state: EntryState, key: str, action: str) -> str:
    """The key to take: where letters are text no command can hide behind them.

    Args:
        state: the entry as it is.
        key: as it was pressed.
        action: what it is bound to, "" when to nothing.
    """
    if state.mode not in TEXT_MODES and state.mode is not Mode.REASON:
        return action or key
    if state.flags and state.mode is not Mode.OVERRIDE and action == "o":
        return action
    plain = plain_key(key)
    return plain if len(key) == 1 or plain in TEXT_KEYS else action or key
