"""The entry of a session as a pure reducer: step(state, key) -> state, effects.

Keys are the canonical ones of the key table: single characters, and "enter", "tab",
"backspace", "escape", "up", "down", "left", "right", "pageup", "pagedown", "home", "end".
The shell maps its own keys to these, performs the effects, and draws the state.

On the main path a station costs its digits, one digit of quality and one Enter for each
angle, and not a key more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .fields import accept_field, add_try, flip_sign, rub_out, toggle_velocity, type_digit
from .moving import by_muscle, by_station, next_field, previous_field, to_open_station
from .overriding import (
    accept_override,
    answer_flags,
    leave_override,
    open_override,
    rub_out_override,
)
from .prompts import (
    accept_clonus,
    accept_comment,
    accept_goto,
    accept_note,
    accept_pain,
    accept_posture,
    choose_reason,
    leave_prompt,
    open_prompt,
    press_stopwatch,
    rub_out_typed,
    stop_stopwatch,
    type_number,
    type_text,
)
from .read_back import ask_again, back_to_field, confirm
from .state import DIGITS, Action, EntryState, Mode, Moment, Result, refused
from .undo import redone, undone


def step(state: EntryState, key: str, now: Moment | None = None) -> Result:
    """Take one key.

    Args:
        state: the entry as it is.
        key: a canonical key; unknown ones are refused with a Bell.
        now: when it was pressed.

    Returns:
        The next state, and what the shell has to do: save before anything else, then ring.
    """
    now = now or Moment()
    if state.mode is Mode.OVERRIDE:
        state, effects = _take(replace(state, message=""), key, now)
        if state.mode is Mode.OVERRIDE or not state.flags:
            return state, effects
        key = state.pending  # the reason is complete: what it was typed for goes on
    elif state.flags:
        if key == "o":
            return open_override(state)
        state, key = answer_flags(state, key)
    return _take(replace(state, flags=(), message=""), key, now)


def _take(state: EntryState, key: str, now: Moment) -> Result:
    """Take a key that no flag stops: what it does in this mode is in the tables below."""
    actions = _ACTIONS[state.mode]
    return actions.get(key, actions[_ANY])(state, key, now)


def _unknown(state: EntryState, key: str, _now: Moment) -> Result:
    return refused(state, f"{key!r} does nothing here; {state.key('help')} lists the keys")


_ANY = ""
"""Stands in a table for every key that is not in it."""

_FIELDS: Mapping[str, Action] = {
    **dict.fromkeys(DIGITS, type_digit),
    "-": flip_sign,
    "backspace": rub_out,
    **dict.fromkeys(("enter", "tab"), accept_field),
    "m": add_try,
    "f": toggle_velocity,
    "left": previous_field,
    "right": next_field,
    "up": by_station(-1),
    "down": by_station(1),
    "pageup": by_muscle(-1),
    "pagedown": by_muscle(1),
    "home": to_open_station(0),
    "end": to_open_station(-1),
    "u": undone,
    "y": redone,
    "k": press_stopwatch,
    **dict.fromkeys("npcwg", open_prompt),
    _ANY: _unknown,
}

_READ_BACK: Mapping[str, Action] = {
    **dict.fromkeys(("enter", "tab"), confirm),
    **dict.fromkeys(("backspace", "left", "escape"), back_to_field),
    "u": undone,
    _ANY: ask_again,
}


def _line(
    accept: Action, type_: Action, rub_out: Action = rub_out_typed, leave: Action = leave_prompt
) -> dict[str, Action]:
    """Make the table of a prompt that takes one line."""
    ends = dict.fromkeys(("enter", "tab"), accept)
    return {**ends, "backspace": rub_out, "escape": leave, _ANY: type_}


_ACTIONS: Mapping[Mode, Mapping[str, Action]] = {
    Mode.FIELDS: _FIELDS,
    Mode.READ_BACK: _READ_BACK,
    Mode.REASON: _line(choose_reason, choose_reason),
    Mode.NOTE: _line(accept_note, type_text),
    Mode.POSTURE: _line(accept_posture, type_text),
    Mode.COMMENT: _line(accept_comment, type_text),
    Mode.GOTO: _line(accept_goto, type_text),
    Mode.PAIN: _line(accept_pain, type_number),
    Mode.CLONUS: {**_line(accept_clonus, type_number), "k": stop_stopwatch},
    Mode.OVERRIDE: _line(accept_override, type_text, rub_out_override, leave_override),
}
"""What every key does in every mode."""
