"""How a key is refused: once with a word, or so that the entry is held until Backspace."""

from __future__ import annotations

from dataclasses import replace

from .state import Bell, EntryState, Hold, Moment, Result

AT_ONCE_S = 1.0
"""A slip of the keys is put right sooner; who looks up and reads why nothing is taken is slower.
Common practice, no published source."""


def refused(state: EntryState, why: str) -> Result:
    """Refuse a key: the same state with a message, and the bell."""
    return replace(state, message=why), (Bell(why),)


def hold(state: EntryState, why: str, key: str, now: Moment, pending: str = "") -> Result:
    """Refuse a key and hold the entry until Backspace takes it away.

    Args:
        state: the entry.
        why: what is wrong, in words.
        key: the key refused; "" when all that was typed goes with it.
        now: time of the key.
        pending: the key to take when Enter comes next; "" when nothing can be accepted.
    """
    new = replace(state, hold=Hold(why, key, now.ticks), flags=(), pending=pending, message=why)
    return new, (Bell(why),)


def typed_on(state: EntryState, now: Moment) -> EntryState:
    """Keep in mind that a key was dropped while the entry was held, and when."""
    if state.hold is None:
        return state
    return replace(state, hold=replace(state.hold, next=False, dropped=now.ticks))


def free(state: EntryState) -> EntryState:
    """End the hold."""
    return replace(state, hold=None, flags=(), pending="")
