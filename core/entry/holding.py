"""What keys do while an entry is held: something was refused, or a flag asks.

The recorder looks at the patient and types on. So whatever belongs to a value rings and does
nothing until Backspace has taken away what was refused; what cannot be meant for a field acts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .moving import MOVES
from .overriding import leave_override, open_override, set_aside
from .prompts import leave_prompt, open_prompt, press_stopwatch, stop_stopwatch
from .read_back import back_to_field
from .several import ask_rest
from .state import (
    ENTER,
    SLOW_ENOUGH_S,
    TEXT_MODES,
    VALUE_KEYS,
    Action,
    Bell,
    EntryState,
    Mode,
    Moment,
    Result,
    as_found,
    free,
)
from .undo import undone


def accepts(state: EntryState, key: str, now: Moment) -> bool:
    """Check whether a key accepts what is asked: Enter, or f where f is asked about."""
    slow = state.hold is not None and now.ticks - state.hold.since >= SLOW_ENOUGH_S
    right = key == "f" if state.pending == "f" else key in ENTER
    return state.can_accept and slow and right


def ends_hold(state: EntryState, key: str) -> bool:
    """Check whether a key goes on with a text: letters are no values."""
    text = state.mode in TEXT_MODES and len(key) == 1 and key not in VALUE_KEYS
    return text and not state.flags


def held_action(state: EntryState, key: str, now: Moment) -> Result:
    """Take a key while value keys do nothing."""
    if key == "backspace":
        return take_away(state), ()
    if key == "o" and any(flag.level == "impossible" for flag in state.flags):
        return open_override(state)
    action = _ACTS.get(state.mode, {}).get(key, _ring)
    if key == "k" and state.clonus_from is None:
        action = _to_prompt if state.mode is Mode.FIELDS else _ring
    return action(state, key, now)


def take_away(state: EntryState) -> EntryState:
    """Take away what was refused, and end the hold; the field is not left."""
    whole = state.hold is not None and state.hold.key == ""
    new = replace(free(state), message="")
    if not whole or state.pending == "f" or state.mode is Mode.READ_BACK:
        return new
    if state.mode is not Mode.FIELDS:
        return replace(new, prompt="")
    return replace(new, cursor=replace(as_found(state), touched=True))


def come_back(state: EntryState) -> EntryState:
    """Hold again what was held before a prompt that has been left, unless the field was."""
    while state.asides and state.hold is None and state.mode is state.asides[-1].mode:
        last, asides = state.asides[-1], state.asides[:-1]
        state = replace(state, asides=asides)
        if state.cursor == last.cursor:
            state = replace(state, hold=last.hold, flags=last.flags, pending=last.pending)
    return state


def interrupted(state: EntryState) -> EntryState:
    """Another screen was opened: what is asked can no longer be accepted by the next key."""
    return state if state.hold is None else replace(state, hold=replace(state.hold, next=False))


def _ring(state: EntryState, _key: str, _now: Moment) -> Result:
    words = f"nothing is taken: {state.key('backspace')} takes away what was refused"
    return interrupted(state), (Bell(words),)


def _to_prompt(state: EntryState, key: str, now: Moment) -> Result:
    waiting = set_aside(state)
    opened = {"k": press_stopwatch, "l": ask_rest}.get(key, open_prompt)
    new, effects = opened(waiting, key, now)
    return (state if new.mode is Mode.FIELDS else new), effects


def _stop_stopwatch(state: EntryState, key: str, now: Moment) -> Result:
    """Stop it; an Enter that was refused because it ran may then come again."""
    stop = press_stopwatch if state.mode is Mode.FIELDS else stop_stopwatch
    waiting = set_aside(state, next_=not state.flags) if state.mode is Mode.FIELDS else state
    return stop(waiting, key, now)


_TEXT: Mapping[str, Action] = {"escape": leave_prompt}
_ACTS: Mapping[Mode, Mapping[str, Action]] = {
    Mode.FIELDS: {
        **MOVES,
        "u": undone,
        "k": _stop_stopwatch,
        **dict.fromkeys("nlpcwg", _to_prompt),
    },
    Mode.READ_BACK: {"u": undone, "left": back_to_field, "escape": back_to_field},
    Mode.CLONUS: {**_TEXT, "k": _stop_stopwatch},
    **dict.fromkeys((Mode.REASON, Mode.NOTE, Mode.POSTURE, Mode.COMMENT, Mode.PAIN), _TEXT),
    Mode.GOTO: _TEXT,
    Mode.OVERRIDE: {"escape": leave_override},
}
"""What acts although the entry is held, by mode."""
