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

from .doubt import accepted, ask_whether_meant, followed, reads_as_no_catch
from .fields import (
    accept_field,
    add_try,
    end_tries,
    refuse_point,
    rub_out,
    toggle_velocity,
    type_digit,
    type_sign,
)
from .holding import PROMPTS, accepts, come_back, drop_if_void, ends_hold, held_action
from .moving import MOVES
from .overriding import accept_override, leave_override, rub_out_override
from .prompts import (
    accept_clonus,
    accept_comment,
    accept_goto,
    accept_note,
    accept_pain,
    accept_posture,
    accept_reason,
    choose_reason,
    leave_prompt,
    mark_not_tested,
    move_in_text,
    open_prompt,
    press_stopwatch,
    rub_out_typed,
    stop_stopwatch,
    this_station,
    type_number,
    type_text,
)
from .read_back import ask_again, back_to_field, confirm, refuse_prompt, refuse_value
from .several import ask_rest, to_other_side
from .state import (
    ALL_THE_SAME,
    DIGITS,
    ENTER,
    VALUE_KEYS,
    Action,
    Effect,
    EntryState,
    Field,
    Mode,
    Moment,
    Result,
    Rhythm,
    Save,
)
from .stopping import free, hold, refused
from .undo import redone, undone


def step(state: EntryState, key: str, now: Moment | None = None) -> Result:
    """Take one key.

    Args:
        state: the entry as it is.
        key: a canonical key; unknown ones are refused with a Bell.
        now: when it was pressed; without it, a second after the last key.

    Returns:
        The next state, and what the shell has to do: save before anything else, then ring.
    """
    now = now or Moment(state.rhythm.last + 1)
    quiet, accepting = replace(state, message=""), accepts(state, key, now)
    if reads_as_no_catch(state, key):
        new, effects = ask_whether_meant(quiet, now)
    elif _past_the_end(state, key):
        review = state.key("review")
        words = f"every station is done: {review} reviews, arrows go to one to correct"
        new, effects = hold(quiet, words, key, now)
    elif state.hold is None:
        new, effects = _take(quiet, key, now)
    elif accepting:
        allowed = replace(free(quiet), allowed=state.allowed + state.flags)
        new, effects = _take(allowed, state.pending, now)
    elif ends_hold(state, key):
        new, effects = _take(free(quiet), key, now)
    else:
        new, effects = held_action(quiet, key, now)
    new, effects = drop_if_void(state, new, effects)
    overridden = state.mode is Mode.OVERRIDE and key in ENTER and new.mode is not Mode.OVERRIDE
    if overridden:  # what the reason was typed for goes on
        new, effects = _take(new, state.asides[-1].pending, now)
    if accepting:
        new = accepted(state, key, new)
    else:
        new, effects = followed(state, key, new, effects, now)
    if (new.mode, new.target) != (state.mode, state.target):
        new = replace(new, behind=0)  # another line of text
    return replace(come_back(new), rhythm=_rhythm(state, key, now, effects)), effects


def _past_the_end(state: EntryState, key: str) -> bool:
    """Whether a value comes when the last open station is done: nobody said that one is wrong."""
    waits = state.hold is None and state.mode is Mode.FIELDS and key in VALUE_KEYS
    return waits and not state.open_stations and state.just_finished is not None


def _rhythm(before: EntryState, key: str, now: Moment, effects: tuple[Effect, ...]) -> Rhythm:
    graded = before.mode is Mode.FIELDS and before.field is Field.QUALITY and key in DIGITS
    entered = now.ticks if key in ENTER else before.rhythm.entered
    return Rhythm(now.ticks, entered, graded and any(isinstance(e, Save) for e in effects))


def _take(state: EntryState, key: str, now: Moment) -> Result:
    """Take a key that nothing holds: what it does in this mode is in the tables below."""
    actions = _ACTIONS[state.mode]
    return actions.get(key, actions[_ANY])(state, key, now)


def _unknown(state: EntryState, key: str, _now: Moment) -> Result:
    return refused(state, f"{key!r} does nothing here; {state.key('help')} lists the keys")


_ANY = ""
"""Stands in a table for every key that is not in it."""

_FIELDS: Mapping[str, Action] = {
    **dict.fromkeys(DIGITS, type_digit),
    **dict.fromkeys("-+", type_sign),
    **dict.fromkeys(".,", refuse_point),
    "backspace": rub_out,
    **dict.fromkeys(ENTER, accept_field),
    "m": add_try,
    "f": toggle_velocity,
    **MOVES,
    ALL_THE_SAME: end_tries,
    "u": undone,
    "y": redone,
    "k": press_stopwatch,
    **dict.fromkeys("npcwg", open_prompt),
    "l": ask_rest,
    "i": to_other_side,
    _ANY: _unknown,
}

_READ_BACK: Mapping[str, Action] = {
    **dict.fromkeys(VALUE_KEYS, refuse_value),
    **dict.fromkeys(PROMPTS, refuse_prompt),
    **dict.fromkeys(ENTER, confirm),
    **dict.fromkeys(("backspace", "left", "escape"), back_to_field),
    "u": undone,
    _ANY: ask_again,
}


def _line(
    accept: Action, type_: Action, rub_out: Action = rub_out_typed, leave: Action = leave_prompt
) -> dict[str, Action]:
    """Make the table of a prompt that takes one line."""
    ends = dict.fromkeys(ENTER, accept)
    return {**ends, "backspace": rub_out, "escape": leave, _ANY: type_}


def _text(
    accept: Action, rub_out: Action = rub_out_typed, leave: Action = leave_prompt
) -> dict[str, Action]:
    """Make the table of a prompt for words, in which the cursor moves."""
    moves = dict.fromkeys(("left", "right", "home", "end"), move_in_text)
    return {**_line(accept, type_text, rub_out, leave), **moves}


_ACTIONS: Mapping[Mode, Mapping[str, Action]] = {
    Mode.FIELDS: _FIELDS,
    Mode.READ_BACK: _READ_BACK,
    Mode.REASON: {
        **_line(accept_reason, choose_reason),
        ALL_THE_SAME: mark_not_tested,
    },
    Mode.NOTE: {**_text(accept_note), ALL_THE_SAME: mark_not_tested},
    Mode.POSTURE: _text(accept_posture),
    Mode.COMMENT: {**_text(accept_comment), "tab": this_station},
    Mode.GOTO: _text(accept_goto),
    Mode.PAIN: {**_line(accept_pain, type_number), "tab": this_station},
    Mode.CLONUS: {
        **_line(accept_clonus, type_number),
        "tab": this_station,
        "k": stop_stopwatch,
    },
    Mode.OVERRIDE: _text(accept_override, rub_out_override, leave_override),
}
"""What every key does in every mode."""
