"""What keys do while an entry is held: something was refused, or a flag asks.

The recorder looks at the patient and types on. So whatever belongs to a value rings and does
nothing until Backspace has taken away what was refused; what cannot be meant for a field acts. Once
something was dropped in this way, what is said of a station may be meant for a later one, and
rings too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .moving import MOVES, as_found
from .overriding import leave_override, open_override, set_aside
from .prompts import leave_prompt, open_prompt, press_stopwatch, stop_stopwatch
from .read_back import back_to_field
from .several import ask_rest
from .state import (
    ALL_THE_SAME,
    ENTER,
    SLOW_ENOUGH_S,
    TEXT_MODES,
    VALUE_KEYS,
    Action,
    Bell,
    Effect,
    EntryState,
    Mode,
    Moment,
    Result,
)
from .stopping import AT_ONCE_S, free, typed_on
from .undo import undone

DROPPED = "what was typed since then was not taken: go on from here"


def accepts(state: EntryState, key: str, now: Moment) -> bool:
    """Check whether a key accepts what is asked."""
    slow = state.hold is not None and now.ticks - state.hold.since >= SLOW_ENOUGH_S
    right = key in ENTER if state.accepting in ENTER else key == state.accepting
    return state.can_accept and slow and right


def ends_hold(state: EntryState, key: str) -> bool:
    """Check whether a key goes on with a text: letters are no values."""
    text = state.mode in TEXT_MODES and len(key) == 1 and key not in VALUE_KEYS
    return text and not state.flags


def held_action(state: EntryState, key: str, now: Moment) -> Result:
    """Take a key while value keys do nothing."""
    if key in _CORRECTING and _corrects(state, now):
        return replace(state, message=nothing_is_taken(state)), (Bell(nothing_is_taken(state)),)
    more = state.more_dropped
    # In the read-back a u is a letter of a comment once more was typed.
    if key == "backspace" or (key == "u" and state.mode is Mode.READ_BACK and not more):
        return take_away(state), ()
    # Of a text that is no field's and no prompt's, an o would be a letter.
    if key == "o" and state.impossible and (state.mode is Mode.FIELDS or not more):
        return open_override(state)
    action = _ACTS.get(state.mode, {}).get(key, _ring)
    if more:
        action = _AFTER_MORE.get((state.mode, key), action)
    if key == "k" and state.clonus_from is None:
        action = _to_prompt if state.mode is Mode.FIELDS and not more else _ring
    return action(state, key, now)


def take_away(state: EntryState) -> EntryState:
    """Take away what was refused, and end the hold; the field is not left."""
    whole = state.hold is not None and state.hold.key == ""
    new = free(state)
    if state.more_dropped:  # what was finished is long ago
        new = replace(new, message=DROPPED, finished=None)
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


def takes_commands(state: EntryState) -> bool:
    """Whether a key may open another screen, and is no letter of a text that nobody asked for."""
    read_back = state.mode is Mode.READ_BACK and not state.more_dropped
    return state.mode is Mode.FIELDS or read_back


def interrupted(state: EntryState) -> EntryState:
    """Another screen was opened: what is asked can no longer be accepted by the next key."""
    return state if state.hold is None else replace(state, hold=replace(state.hold, next=False))


def drop_if_void(before: EntryState, new: EntryState, effects: tuple[Effect, ...]) -> Result:
    """Drop what a void prompt has taken, see _to_void()."""
    waiting = before.asides[-1].hold if before.asides else None
    void = waiting is not None and waiting.dropped is not None and before.mode in _VOID
    if not void or (new.mode in _VOID and new.pending != ALL_THE_SAME):
        return new, effects
    return leave_prompt(before, "escape", Moment())[0], (Bell(nothing_is_taken(before)),)


def _corrects(state: EntryState, now: Moment) -> bool:
    """Whether a key comes so soon behind one that was dropped that it is meant for that one."""
    dropped = state.hold.dropped if state.hold else None
    return dropped is not None and now.ticks - dropped < AT_ONCE_S


def _ring(state: EntryState, _key: str, now: Moment) -> Result:
    return typed_on(state, now), (Bell(nothing_is_taken(state)),)


def nothing_is_taken(state: EntryState) -> str:
    """Say what ends a hold."""
    return f"nothing is taken: {state.key('backspace')} takes away what was refused"


def _to_void(state: EntryState, key: str, now: Moment) -> Result:
    """Open a prompt for a text that may be meant for a later station, only to drop it.

    Its letters would else be commands.
    """
    new, _ = _to_prompt(state, key, now)
    return replace(new, message=nothing_is_taken(state)), (Bell(nothing_is_taken(state)),)


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


_CORRECTING = ("backspace", "u", *MOVES)
"""Keys that put right what was typed just before."""

PROMPTS = "nlpcwgk"
"""Keys that open a prompt."""

_TEXT: Mapping[str, Action] = {"escape": leave_prompt}
_ACTS: Mapping[Mode, Mapping[str, Action]] = {
    Mode.FIELDS: {
        **MOVES,
        "u": undone,
        **dict.fromkeys(PROMPTS, _to_prompt),
        "k": _stop_stopwatch,
    },
    Mode.READ_BACK: {"left": back_to_field, "escape": back_to_field},
    Mode.CLONUS: {**_TEXT, "k": _stop_stopwatch},
    **dict.fromkeys((Mode.REASON, Mode.NOTE, Mode.POSTURE, Mode.COMMENT, Mode.PAIN), _TEXT),
    Mode.GOTO: _TEXT,
    Mode.OVERRIDE: {"escape": leave_override},
}
"""What acts although the entry is held, by mode."""

_VOID = (Mode.REASON, Mode.NOTE, Mode.POSTURE, Mode.COMMENT)
_AFTER_MORE: Mapping[tuple[Mode, str], Action] = {
    **{(Mode.FIELDS, key): _to_void for key in "nlpc"},
    (Mode.FIELDS, "w"): _ring,
}
"""What acts otherwise once more was typed and dropped; go to names its station and acts."""
