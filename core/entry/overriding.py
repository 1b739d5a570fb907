"""What keys do while a flag stops an entry: accept it, type anew, or give a reason against it."""

from __future__ import annotations

from dataclasses import replace

from ..tardieu.reading import Override
from .keys import TEXT_BACKSPACE
from .prompts import rub_out_typed
from .state import DIGITS, EntryState, Mode, Moment, Result, cursor_at, refused


def answer_flags(state: EntryState, key: str) -> tuple[EntryState, str]:
    """Allow unlikely flags when the same key comes again; start the value anew at a digit.

    Returns:
        The state, and the key that is to be taken in it.
    """
    accepts = key == state.pending or (key in ("enter", "tab") and state.pending != "f")
    if accepts and all(flag.level == "unlikely" for flag in state.flags):
        return replace(state, allowed=state.allowed + state.flags), state.pending
    if state.mode is Mode.FIELDS and key in DIGITS:
        cursor = state.cursor
        fresh = cursor_at(state, cursor.station, cursor.place, cursor.attempt)
        return replace(state, cursor=fresh), key
    if state.mode in (Mode.CLONUS, Mode.PAIN) and key in DIGITS:
        return replace(state, prompt=""), key
    return state, key


def open_override(state: EntryState) -> Result:
    """Ask for the reason to override impossible flags."""
    if all(flag.level == "unlikely" for flag in state.flags):
        return refused(state, "unlikely only: the same key again accepts it")
    back, kept = state.mode, state.prompt
    return replace(state, mode=Mode.OVERRIDE, back=back, kept=kept, prompt="", message=""), ()


def accept_override(state: EntryState, _key: str, _now: Moment) -> Result:
    """Override the flags for the reason typed; they stay set, and their key is to be taken."""
    reason = state.prompt.strip()
    if not reason:
        ask = f"type the reason to override it, or {TEXT_BACKSPACE} to leave"
        return refused(state, ask)
    overridden = tuple(
        Override(flag.rule, reason) for flag in state.flags if flag.level == "impossible"
    )
    new = replace(
        state,
        mode=state.back,
        prompt=state.kept,
        allowed=state.allowed + state.flags,
        reasons=state.reasons + overridden,
    )
    return new, ()


def leave_override(state: EntryState, _key: str, _now: Moment) -> Result:
    """Go back to what the flags had stopped; the value is there to be typed anew."""
    return replace(state, mode=state.back, prompt=state.kept, flags=()), ()


def rub_out_override(state: EntryState, key: str, now: Moment) -> Result:
    """Take the last character of the reason away; leave an empty one."""
    return (rub_out_typed if state.prompt else leave_override)(state, key, now)
