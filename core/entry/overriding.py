"""The reason for which an impossible reading is kept all the same."""

from __future__ import annotations

from dataclasses import replace

from ..tardieu.reading import Override
from .keys import TEXT_BACKSPACE
from .prompts import rub_out_typed
from .state import Aside, EntryState, Mode, Moment, Result
from .stopping import free, hold


def set_aside(state: EntryState, next_: bool = False) -> EntryState:
    """Let the hold wait while a prompt is open; ``next_``: the key after it may still accept."""
    if state.hold is None:
        return state
    hold = replace(state.hold, next=next_ and state.hold.next)
    aside = Aside(state.mode, state.cursor, hold, state.flags, state.pending)
    return replace(free(state), asides=(*state.asides, aside))


def open_override(state: EntryState) -> Result:
    """Ask for the reason to override impossible flags; their hold waits."""
    waiting = set_aside(state)
    back, kept = state.mode, state.prompt
    return replace(waiting, mode=Mode.OVERRIDE, back=back, kept=kept, prompt="", message=""), ()


def accept_override(state: EntryState, key: str, now: Moment) -> Result:
    """Override the flags for the reason typed; then the key that they held is to be taken."""
    reason = state.prompt.strip()
    if not reason:
        ask = f"type the reason to override it, or {TEXT_BACKSPACE} to leave"
        return hold(state, ask, key, now)
    flags = state.asides[-1].flags
    overridden = tuple(Override(flag.rule, reason) for flag in flags if flag.level == "impossible")
    new = replace(
        state,
        mode=state.back,
        prompt=state.kept,
        asides=state.asides[:-1],
        allowed=state.allowed + flags,
        reasons=state.reasons + overridden,
    )
    return new, ()


def leave_override(state: EntryState, _key: str, _now: Moment) -> Result:
    """Go back to what the flags hold."""
    return replace(free(state), mode=state.back, prompt=state.kept), ()


def rub_out_override(state: EntryState, key: str, now: Moment) -> Result:
    """Take the last character of the reason away; leave an empty one."""
    return (rub_out_typed if state.prompt else leave_override)(state, key, now)
