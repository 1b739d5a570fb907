"""The entry of a session as a pure reducer: step(state, key) -> state, effects.

Keys are the canonical ones of the key table: single characters, and "enter", "tab",
"backspace", "escape", "up", "down", "left", "right", "pageup", "pagedown", "home", "end".
The shell maps its own keys to these, performs the effects, and draws the state.

On the main path a station costs its digits, one digit of quality and one Enter for each
angle, and not a key more.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from ..problem import Problem
from ..tardieu.angles import parse_angle
from .prompts import open_override, open_prompt, override_key, prompt_key
from .read_back import open_read_back, read_back_key
from .state import (
    Bell,
    Cursor,
    Draft,
    EntryState,
    Field,
    Finished,
    Mode,
    Result,
    answered,
    cursor_at,
    flags_of,
    moved,
    record,
    redone,
    refused,
    stored,
    undone,
)

MAX_DIGITS = 3
DIGITS = "0123456789"
"""Only these are digits: Python also counts those of other scripts."""


@dataclass(frozen=True, slots=True)
class Moment:
    """When a key was pressed.

    Attributes:
        ticks: s on the monotonic clock, for durations.
        wall: ISO 8601 local time with offset, for the record.
    """

    ticks: float = 0.0
    wall: str = ""


def step(state: EntryState, key: str, now: Moment | None = None) -> Result:
    """Take one key.

    Args:
        state: the entry as it stands.
        key: a canonical key; unknown ones are refused with a Bell.
        now: when it was pressed.

    Returns:
        The next state, and what the shell has to do: save before anything else, then ring.
    """
    now = now or Moment()
    if state.mode is Mode.OVERRIDE:
        state, again = override_key(state, key)
        if again is None:
            return state, (Bell(state.message),) if state.message else ()
        key = again
    elif state.flags:
        if key == "o":
            return open_override(state)
        state, key = _answer_to_flags(state, key)
    return _take(replace(state, flags=(), message=""), key, now)


def _answer_to_flags(state: EntryState, key: str) -> tuple[EntryState, str]:
    """The same key again accepts what is unlikely; a digit starts the value anew."""
    accepts = key == state.pending or (key in ("enter", "tab") and state.pending != "f")
    if accepts and all(flag.level == "unlikely" for flag in state.flags):
        return replace(state, let=state.let + state.flags), state.pending
    if state.mode is Mode.FIELDS and key in DIGITS:
        cursor = state.cursor
        fresh = cursor_at(state, cursor.station, cursor.place, cursor.attempt)
        return replace(state, cursor=fresh), key
    if state.mode in (Mode.CLONUS, Mode.PAIN) and key in DIGITS:
        return replace(state, prompt=""), key
    return state, key


def _take(state: EntryState, key: str, now: Moment) -> Result:
    """One key in a state that no flag stops."""
    if state.mode is Mode.READ_BACK:
        return read_back_key(state, key, partial(propose, now=now))
    if state.mode is not Mode.FIELDS:
        return prompt_key(state, key, now.ticks, partial(propose, now=now))
    handler = _KEYS.get(key)
    if handler:
        return handler(state, now)
    if len(key) == 1 and key in DIGITS:
        return _digit(state, key, now)
    return refused(state, f"{key!r} does nothing here; {state.key('help')} lists the keys")


def propose(
    state: EntryState, key: str, draft: Draft, cursor: Cursor | None, label: str, now: Moment
) -> Result:
    """Accept a draft unless a flag stops it; a committed station opens the next one.

    Args:
        state: the entry before.
        key: the key that will accept an unlikely flag when pressed again.
        draft: the draft proposed for the current station.
        cursor: where to go next; None when the station may now be complete.
        label: what changed, for the message and the undo list.
        now: time of the key.
    """
    if cursor is None:
        if state.clonus_from is not None:
            return refused(state, state.stopwatch_runs)
        draft, missing = _committed(state, draft, now)
        if missing is not None:
            cursor = cursor_at(state, state.cursor.station, missing)
    flags = flags_of(state, draft)
    known = (*state.draft.heard, *state.let)
    new = tuple(flag for flag in flags if flag not in known)
    if new:
        text = new[0].text
        return replace(state, flags=new, pending=key, message=text), (Bell(text),)
    rules = {flag.rule for flag in flags}
    heard = tuple(flag for flag in known if flag in flags)
    reasons = (*draft.overrides, *state.reasons)
    overrides = tuple(reason for reason in reasons if reason.rule in rules)
    draft = replace(draft, heard=heard, overrides=overrides)
    if cursor is not None:
        return record(state, draft, cursor, label)
    if state.plan.read_back and state.mode is not Mode.READ_BACK and not draft.not_tested:
        return open_read_back(state, draft, label)
    onward = _next_open(state)
    target = cursor_at(state, state.cursor.station if onward is None else onward)
    new_state, effects = record(state, draft, target, label)
    if onward is None:
        review, leave = state.key("review"), state.key("quit")
        words = f"every station is done: {review} reviews the session, {leave} leaves"
        return replace(new_state, message=words), (*effects, Finished())
    return new_state, effects


def keep_speed(state: EntryState, speed_deg_s: int) -> Result:
    """Keep the timed speed of a stretch, deg/s, with the current station; undo takes it back.

    It has no part in the checks, so no flag can stop it; the cursor and digits not accepted
    yet stay where they are.
    """
    draft = replace(state.draft, speed_deg_s=speed_deg_s)
    label = f"speed {speed_deg_s} deg/s, {state.station.name}"
    return record(state, draft, state.cursor, label)


def _committed(state: EntryState, draft: Draft, now: Moment) -> tuple[Draft, int | None]:
    """The draft marked done, or with the place of the first field it still lacks."""
    lacking = [place for place, field in enumerate(state.fields) if not answered(draft, field)]
    if lacking and not draft.not_tested:
        return draft, lacking[0]
    if not lacking:
        draft = replace(draft, not_tested="", not_tested_note="")
    return replace(draft, done=True, entered=now.wall), None


def _next_open(state: EntryState) -> int | None:
    """The next station that is open, after the current one and round to the start."""
    here, open_ = state.cursor.station, state.open_stations
    later = [i for i in open_ if i > here]
    earlier = [i for i in open_ if i < here]
    return next(iter(later + earlier), None)


# Typing ---------------------------------------------------------------------------------


def _digit(state: EntryState, key: str, now: Moment) -> Result:
    cursor = state.cursor
    if state.field is Field.QUALITY:
        if int(key) > state.plan.quality_max:
            return refused(state, f"quality is 0 to {state.plan.quality_max}")
        return _accept(replace(state, cursor=replace(cursor, text=key)), now, key)
    text = key if cursor.fresh else (cursor.text or "") + key
    if len(text) > MAX_DIGITS:
        rub_out = f"{state.key('backspace')} rubs out"
        return refused(state, f"an angle has at most {MAX_DIGITS} digits; {rub_out}")
    return replace(state, cursor=replace(cursor, text=text, fresh=False)), ()


def _sign(state: EntryState, _: Moment) -> Result:
    if state.field is Field.QUALITY:
        return refused(state, "quality has no sign")
    fresh = state.cursor.fresh or (
        state.cursor.text is None
        and stored(state.draft, state.field, state.cursor.attempt) is not None
    )
    cursor = _touched(state)
    return replace(state, cursor=replace(cursor, negative=not cursor.negative, fresh=fresh)), ()


def _touched(state: EntryState) -> Cursor:
    """The cursor with the accepted value, if any, loaded for editing."""
    cursor = state.cursor
    if cursor.text is not None:
        return cursor
    value = stored(state.draft, state.field, cursor.attempt)
    if value is None:
        return replace(cursor, text="")
    negative = value < 0 or (value == 0 and cursor.negative)
    return replace(cursor, text=str(abs(value)), negative=negative)


def _backspace(state: EntryState, now: Moment) -> Result:
    cursor = _touched(state)
    if cursor.text:
        return replace(state, cursor=replace(cursor, text=cursor.text[:-1], fresh=False)), ()
    return _previous_field(state, now)


# Accepting ------------------------------------------------------------------------------


def _enter(state: EntryState, now: Moment) -> Result:
    return _accept(state, now, "enter")


def _more(state: EntryState, now: Moment) -> Result:
    """One more try of the same velocity: accept what is typed, then open another."""
    if state.field is Field.QUALITY:
        back = f"{state.key('left')} goes back to it"
        return refused(state, f"one more try belongs to an angle: {back}")
    return _accept(state, now, "m")


def _accept(state: EntryState, now: Moment, key: str) -> Result:
    cursor, draft, field = state.cursor, state.draft, state.field
    if cursor.text is None and answered(draft, field, cursor.attempt):
        value = stored(draft, field, cursor.attempt)
    else:
        value = _typed(state)
        if isinstance(value, Problem):
            return _empty_or_refused(state, value, now, key)
    draft = _with_value(draft, field, cursor.attempt, value)
    shown = "no catch" if value is None else str(value)
    words = {Field.R1: "R1", Field.R2: "R2", Field.QUALITY: "quality"}
    label = f"{words[field]} {shown}, {state.station.name}"
    return propose(state, key, draft, _after(state, draft, key), label, now)


def _empty_or_refused(state: EntryState, problem: Problem, now: Moment, key: str) -> Result:
    """An empty R2 after its first try ends the tries; any other problem is refused."""
    tried = state.field is Field.R2 and state.draft.r2 and not state.cursor.text
    if not tried or key == "m":
        return refused(state, problem.what)
    target = _after_field(state)
    return propose(state, key, state.draft, target, f"tries kept, {state.station.name}", now)


def _typed(state: EntryState) -> int | Problem | None:
    """The value in the field; None is "no catch"."""
    cursor, field = state.cursor, state.field
    if cursor.text:
        return parse_angle(("-" if cursor.negative else "") + cursor.text)
    untested = f"{state.key('n')}: not tested"
    if field is Field.QUALITY:
        return Problem("", f"quality is missing: 0 to {state.plan.quality_max}, or {untested}")
    if field is Field.R2:
        return Problem("", f"R2 is missing: type the slow range, or {untested}")
    if cursor.text == "" and cursor.negative != state.station.scale.presign:
        again = f"{state.key('-')} again for no catch"
        return Problem("", f"a sign without digits: type the angle, or {again}")
    return None


def _with_value(draft: Draft, field: Field, attempt: int, value: int | None) -> Draft:
    if field is Field.QUALITY:
        return replace(draft, quality=value)
    if field is Field.R1:
        return replace(draft, r1=(*draft.r1[:attempt], value, *draft.r1[attempt + 1 :]))
    assert value is not None
    return replace(draft, r2=(*draft.r2[:attempt], value, *draft.r2[attempt + 1 :]))


def _after(state: EntryState, draft: Draft, key: str) -> Cursor | None:
    """Where to go after a field: its next try, the next field, or None to commit."""
    cursor, field = state.cursor, state.field
    if field is not Field.QUALITY:
        tries = len(draft.r1 if field is Field.R1 else draft.r2)
        if key == "m":
            return cursor_at(state, cursor.station, cursor.place, tries)
        if cursor.attempt + 1 < max(tries, state.plan.tries):
            return cursor_at(state, cursor.station, cursor.place, cursor.attempt + 1)
    return _after_field(state)


def _after_field(state: EntryState) -> Cursor | None:
    cursor = state.cursor
    if cursor.place + 1 < len(state.fields):
        return cursor_at(state, cursor.station, cursor.place + 1)
    return None


# Moving ---------------------------------------------------------------------------------


def _previous_field(state: EntryState, _: Moment) -> Result:
    cursor = state.cursor
    if cursor.attempt:
        return moved(state, cursor_at(state, cursor.station, cursor.place, cursor.attempt - 1))
    if cursor.place:
        return moved(state, cursor_at(state, cursor.station, cursor.place - 1))
    return refused(state, f"this is the first field; {state.key('up')} goes to the station before")


def _next_field(state: EntryState, _: Moment) -> Result:
    target = _after_field(state)
    if target is None:
        accept, leave = state.key("enter"), state.key("down")
        return refused(state, f"this is the last field; {accept} accepts it, {leave} leaves it")
    return moved(state, target)


def _by(distance: int) -> Callable[[EntryState, Moment], Result]:
    def move(state: EntryState, _: Moment) -> Result:
        target = state.cursor.station + distance
        if not 0 <= target < len(state.drafts):
            return refused(state, "no station beyond this one")
        return moved(state, cursor_at(state, target))

    return move


def _by_muscle(distance: int) -> Callable[[EntryState, Moment], Result]:
    def move(state: EntryState, _: Moment) -> Result:
        here = state.station.muscle.id
        index = state.cursor.station
        while 0 <= index < len(state.drafts):
            if state.plan.stations[index].muscle.id != here:
                return moved(state, cursor_at(state, index))
            index += distance
        return refused(state, "no muscle group beyond this one")

    return move


def _open_end(which: int) -> Callable[[EntryState, Moment], Result]:
    def move(state: EntryState, _: Moment) -> Result:
        if not state.open_stations:
            return refused(state, f"no station is open: {state.key('review')} reviews the session")
        return moved(state, cursor_at(state, state.open_stations[which]))

    return move


# Commands -------------------------------------------------------------------------------


def _velocity(state: EntryState, now: Moment) -> Result:
    draft = state.draft
    draft = replace(draft, velocity="V3" if draft.velocity == "V2" else "V2")
    label = f"fast stretch was {draft.velocity}, {state.station.name}"
    return propose(state, "f", draft, state.cursor, label, now)


def _prompt(key: str) -> Callable[[EntryState, Moment], Result]:
    return lambda state, now: open_prompt(state, key, now.ticks, partial(propose, now=now))


_KEYS: dict[str, Callable[[EntryState, Moment], Result]] = {
    "enter": _enter,
    "tab": _enter,
    "backspace": _backspace,
    "-": _sign,
    "m": _more,
    "f": _velocity,
    "left": _previous_field,
    "right": _next_field,
    "up": _by(-1),
    "down": _by(1),
    "pageup": _by_muscle(-1),
    "pagedown": _by_muscle(1),
    "home": _open_end(0),
    "end": _open_end(-1),
    "u": lambda state, _: undone(state),
    "y": lambda state, _: redone(state),
    **{key: _prompt(key) for key in "npckwg"},
}
