"""Type into the fields of a station, and accept what is typed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..problem import Problem
from ..tardieu.angles import parse_angle
from .accept import accept_draft
from .moving import after_field, as_found, previous_field
from .readings import counted
from .state import (
    ALL_THE_SAME,
    SLOW_ENOUGH_S,
    Cursor,
    Draft,
    EntryState,
    Field,
    Moment,
    Result,
    answered,
    cursor_at,
    stored,
    tries_of,
)
from .stopping import hold, refused

MAX_DIGITS = 3

_NAMES = {Field.R1: "R1", Field.R2: "R2", Field.QUALITY: "quality"}


def type_digit(state: EntryState, key: str, now: Moment) -> Result:
    """Add a digit to an angle; a digit of the quality is accepted at once."""
    cursor = state.cursor
    if state.field is Field.QUALITY:
        return _type_quality(state, key, now)
    text = cursor.text or ""
    if cursor.fresh:  # the value that stands there goes, with its sign unless one was typed
        text = ""
        if not cursor.signed:
            cursor = replace(cursor, negative=as_found(state).negative)
    if text == "0":
        return hold(state, f"no digit goes behind a leading 0: {key} was refused", key, now)
    if len(text) == MAX_DIGITS:
        words = f"an angle has at most {MAX_DIGITS} digits: {key} was refused"
        return hold(state, words, key, now)
    cursor = replace(cursor, text=text + key, fresh=False, touched=True)
    return replace(state, cursor=cursor), ()


def _type_quality(state: EntryState, key: str, now: Moment) -> Result:
    """Accept a grade; after "no catch" in slow-first order only Enter does, as it ends a station.

    There the digit may as well be the angle of a catch whose Enter came too early.
    """
    if int(key) > state.plan.quality_max or (quality_waits(state) and state.cursor.text):
        return hold(state, f"quality is 0 to {state.plan.quality_max}", key, now)
    typed = replace(state, cursor=replace(state.cursor, text=key, touched=True))
    return (typed, ()) if quality_waits(state) else _accept(typed, key, now)


def quality_waits(state: EntryState) -> bool:
    """Whether a digit of quality waits for Enter."""
    last = state.fields[-1] is Field.QUALITY and state.field is Field.QUALITY
    return last and counted(state.draft.r1, state.plan.counts, state.station.scale.slope) is None


def type_sign(state: EntryState, key: str, now: Moment) -> Result:
    """Set the sign of an angle: the first "-" means minus, further ones flip, "+" means plus."""
    if state.field is Field.QUALITY:
        return hold(state, "quality has no sign", key, now)
    cursor = _loaded(state)
    negative = key == "-" and not (cursor.signed and cursor.negative)
    # The next digit replaces a value that stands there.
    fresh = cursor.fresh or (state.cursor.text is None and cursor.text != "")
    cursor = replace(cursor, negative=negative, signed=True, touched=True, fresh=fresh)
    return replace(state, cursor=cursor), ()


def refuse_point(state: EntryState, key: str, now: Moment) -> Result:
    """Hold at a decimal point: angles are whole degrees."""
    return hold(state, f"angles are whole degrees: {key} was refused", key, now)


def rub_out(state: EntryState, key: str, now: Moment) -> Result:
    """Take the last digit or the sign away; leave a field only where nothing was typed."""
    cursor = _loaded(state)
    if cursor.text:
        cursor = replace(cursor, text=cursor.text[:-1], fresh=False, touched=True)
        return replace(state, cursor=cursor), ()
    if cursor.signed or cursor.negative != as_found(state).negative:
        empty = replace(as_found(state), text=cursor.text, touched=True)
        return replace(state, cursor=empty), ()
    if cursor.touched:
        return refused(state, f"the field is empty: {state.key('left')} leaves it")
    return previous_field(state, key, now)


def accept_field(state: EntryState, key: str, now: Moment) -> Result:
    """Accept what is in the field, and go on."""
    if state.rhythm.graded:
        return replace(state, message=f"a quality needs no {state.key('enter')}"), ()
    if state.cursor.text or _is_stored(state):
        return _accept(state, "enter", now)
    return _accept_empty(state, key, now)


def add_try(state: EntryState, _key: str, now: Moment) -> Result:
    """Accept what is typed, then open one more try of the same velocity."""
    if state.field is Field.QUALITY:
        back = f"{state.key('left')} goes back to it"
        return refused(state, f"one more try belongs to an angle: {back}")
    if not state.cursor.text and not _is_stored(state):
        return refused(state, "type this try first, then one more")
    return _accept(state, "m", now)


def toggle_velocity(state: EntryState, key: str, now: Moment) -> Result:
    """Say that the fast stretch was V2 instead of V3, and back."""
    own = state.draft.velocity == state.station.velocity  # older data may have one station twice
    if own and state.plan.other_velocity(state.cursor.station) is not None:
        return refused(state, "the other velocity of this muscle group is a station of its own")
    draft = replace(state.draft, velocity="V3" if state.draft.velocity == "V2" else "V2")
    label = f"fast stretch was {draft.velocity}, {state.station.name}"
    return accept_draft(state, key, draft, state.cursor, label, now)


def _is_stored(state: EntryState) -> bool:
    """Whether the field shows an accepted value that nothing was typed over."""
    there = answered(state.draft, state.field, state.cursor.attempt)
    return there and state.cursor.text is None


def _loaded(state: EntryState) -> Cursor:
    """Load the accepted value, if any, into the cursor for editing."""
    cursor = state.cursor
    if cursor.text is not None:
        return cursor
    value = stored(state.draft, state.field, cursor.attempt)
    if value is None:
        return replace(cursor, text="")
    negative = value < 0 or (value == 0 and cursor.negative)
    return replace(cursor, text=str(abs(value)), negative=negative)


def _accept(state: EntryState, key: str, now: Moment) -> Result:
    """Accept the value typed, or the one that stands there."""
    cursor, field = state.cursor, state.field
    if cursor.text:
        value = parse_angle(("-" if cursor.negative else "") + cursor.text)
        if isinstance(value, Problem):
            return hold(state, value.what, "", now)
    else:
        value = stored(state.draft, field, cursor.attempt)
    return _with_value(state, value, key, now)


def _accept_empty(state: EntryState, key: str, now: Moment) -> Result:
    """Take Enter in an empty field: no catch, the end of the tries, or refused."""
    cursor, field, draft = state.cursor, state.field, state.draft
    untested = f"{state.key('n')}: not tested"
    if field is Field.QUALITY and _one_enter_a_try(state):
        return replace(state, message="no catch at any try: type the quality"), ()
    if field is Field.QUALITY:
        words = f"quality is missing: 0 to {state.plan.quality_max}, or {untested}"
    elif cursor.signed or cursor.negative != as_found(state).negative:
        words = f"a sign without digits: {state.key('backspace')} twice removes it"
    elif cursor.attempt and answered(draft, field, cursor.attempt):
        words = f"try {cursor.attempt + 1} was rubbed out: type it, or {state.key('u')} undoes"
    elif cursor.attempt and cursor.touched:
        words = f"try {cursor.attempt + 1} was taken away: go on without it?"
        return hold(state, words, key, now, pending=ALL_THE_SAME)
    elif field is Field.R2 and not cursor.attempt:
        words = f"R2 is missing: type the slow range, or {untested}"
    elif field is Field.R1 and not cursor.attempt and draft.not_tested:
        words = "this station is marked not tested: type the angle, or go on to another station"
    else:
        return _no_catch_or_enough(state, key, now)
    return hold(state, words, key, now)


def _one_enter_a_try(state: EntryState) -> bool:
    """Whether Enter goes on saying "no catch" for each planned try; the second ended the tries."""
    again = state.rhythm.entered == state.rhythm.last
    return again and state.plan.tries > 2 and state.draft.r1 == (None,)


def _no_catch_or_enough(state: EntryState, key: str, now: Moment) -> Result:
    """Accept "no catch" in the first try, end the tries later; not by a key that bounced."""
    last = state.cursor.attempt > 0
    entered = state.rhythm.entered
    if entered is not None and now.ticks - entered < SLOW_ENOUGH_S:
        what = "no more tries" if last else "no catch"
        words = f"{state.key('enter')} twice at once: once more for {what}"
        return hold(state, words, key, now, pending="enter")
    return end_tries(state, key, now) if last else _with_value(state, None, "enter", now)


def end_tries(state: EntryState, _key: str, now: Moment) -> Result:
    """Keep the tries there are."""
    label = f"tries kept, {state.station.name}"
    return accept_draft(state, "enter", state.draft, after_field(state), label, now)


def _with_value(state: EntryState, value: int | None, key: str, now: Moment) -> Result:
    cursor, field = state.cursor, state.field
    if field is Field.QUALITY:
        draft = replace(state.draft, quality=value)
    else:
        tries = tries_of(state.draft, field)
        changed: dict[str, Any] = {
            field.value: (*tries[: cursor.attempt], value, *tries[cursor.attempt + 1 :])
        }
        draft = replace(state.draft, **changed)
    shown = "no catch" if value is None else str(value)
    label = f"{_NAMES[field]} {shown}, {state.station.name}"
    return accept_draft(state, key, draft, _after(state, draft, key), label, now)


def _after(state: EntryState, draft: Draft, key: str) -> Cursor | None:
    """Choose where to go after a field: its next try, the next field, or None to commit."""
    cursor, field = state.cursor, state.field
    if field is not Field.QUALITY:
        tries = len(tries_of(draft, field))
        if key == "m":
            return cursor_at(state, cursor.station, cursor.place, tries)
        if cursor.attempt + 1 < max(tries, state.plan.tries):
            return cursor_at(state, cursor.station, cursor.place, cursor.attempt + 1)
    return after_field(state)
