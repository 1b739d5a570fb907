"""Type into the fields of a station, and accept what is typed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..problem import Problem
from ..tardieu.angles import parse_angle
from .accept import accept_draft
from .moving import after_field, previous_field
from .state import (
    Cursor,
    Draft,
    EntryState,
    Field,
    Moment,
    Result,
    answered,
    cursor_at,
    refused,
    stored,
    tries_of,
)

MAX_DIGITS = 3

_NAMES = {Field.R1: "R1", Field.R2: "R2", Field.QUALITY: "quality"}


def type_digit(state: EntryState, key: str, now: Moment) -> Result:
    """Add a digit to an angle; a digit of the quality is accepted at once."""
    cursor = state.cursor
    if state.field is Field.QUALITY:
        if int(key) > state.plan.quality_max:
            return refused(state, f"quality is 0 to {state.plan.quality_max}")
        return _accept(replace(state, cursor=replace(cursor, text=key)), key, now)
    text = key if cursor.fresh else (cursor.text or "") + key
    if len(text) > MAX_DIGITS:
        rub_out = f"{state.key('backspace')} rubs out"
        return refused(state, f"an angle has at most {MAX_DIGITS} digits; {rub_out}")
    return replace(state, cursor=replace(cursor, text=text, fresh=False)), ()


def flip_sign(state: EntryState, _key: str, _now: Moment) -> Result:
    """Flip the sign of an angle; the next digit replaces an accepted one."""
    if state.field is Field.QUALITY:
        return refused(state, "quality has no sign")
    fresh = state.cursor.fresh or (
        state.cursor.text is None
        and stored(state.draft, state.field, state.cursor.attempt) is not None
    )
    cursor = _touched(state)
    return replace(state, cursor=replace(cursor, negative=not cursor.negative, fresh=fresh)), ()


def rub_out(state: EntryState, key: str, now: Moment) -> Result:
    """Take the last digit away; in an empty field go back one."""
    cursor = _touched(state)
    if cursor.text:
        return replace(state, cursor=replace(cursor, text=cursor.text[:-1], fresh=False)), ()
    return previous_field(state, key, now)


def accept_field(state: EntryState, _key: str, now: Moment) -> Result:
    """Accept what is in the field, and go on."""
    return _accept(state, "enter", now)


def add_try(state: EntryState, _key: str, now: Moment) -> Result:
    """Accept what is typed, then open one more try of the same velocity."""
    if state.field is Field.QUALITY:
        back = f"{state.key('left')} goes back to it"
        return refused(state, f"one more try belongs to an angle: {back}")
    return _accept(state, "m", now)


def toggle_velocity(state: EntryState, key: str, now: Moment) -> Result:
    """Say that the fast stretch was V2 instead of V3, and back."""
    draft = replace(state.draft, velocity="V3" if state.draft.velocity == "V2" else "V2")
    label = f"fast stretch was {draft.velocity}, {state.station.name}"
    return accept_draft(state, key, draft, state.cursor, label, now)


def _touched(state: EntryState) -> Cursor:
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
    cursor, draft, field = state.cursor, state.draft, state.field
    if cursor.text is None and answered(draft, field, cursor.attempt):
        value = stored(draft, field, cursor.attempt)
    else:
        value = _typed_value(state)
        if isinstance(value, Problem):
            return _empty_or_refused(state, value, key, now)
    draft = _with_value(draft, field, cursor.attempt, value)
    shown = "no catch" if value is None else str(value)
    label = f"{_NAMES[field]} {shown}, {state.station.name}"
    return accept_draft(state, key, draft, _after(state, draft, key), label, now)


def _empty_or_refused(state: EntryState, problem: Problem, key: str, now: Moment) -> Result:
    """End the tries at an empty R2 after its first try; refuse any other problem."""
    tried = state.field is Field.R2 and state.draft.r2 and not state.cursor.text
    if not tried or key == "m":
        return refused(state, problem.what)
    label = f"tries kept, {state.station.name}"
    return accept_draft(state, key, state.draft, after_field(state), label, now)


def _typed_value(state: EntryState) -> int | Problem | None:
    """Read the value in the field; None is "no catch"."""
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
    tries = tries_of(draft, field)
    changed: dict[str, Any] = {field.value: (*tries[:attempt], value, *tries[attempt + 1 :])}
    return replace(draft, **changed)


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
