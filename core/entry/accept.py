"""Accept what was entered at a station: the checks, the commit, and what opens next.

Every draft that a key proposes comes through accept_draft(). Fields, prompts and the read-back
call it; it calls none of them.
"""

from __future__ import annotations

from dataclasses import replace

from ..tardieu.reading import Flag
from .moving import as_found, stopwatch_runs
from .readings import flags_of, read_back_words
from .state import (
    Change,
    Cursor,
    Draft,
    EntryState,
    Finished,
    Mode,
    Moment,
    Result,
    answered,
    cursor_at,
)
from .stopping import hold
from .undo import record


def accept_draft(
    state: EntryState,
    key: str,
    draft: Draft,
    cursor: Cursor | None,
    label: str,
    now: Moment,
    station: int | None = None,
    also: tuple[Change, ...] = (),
) -> Result:
    """Accept a draft unless a flag holds it; a committed station opens the next one.

    Args:
        state: the entry before.
        key: the key that is taken when an unlikely flag is accepted.
        draft: the draft proposed.
        cursor: where to go next; None when the station may now be complete.
        label: what changed, for the message and the undo list.
        now: time of the key.
        station: whose draft it is, None for the current station.
        also: other stations that change in the same step, made in the drafts already.
    """
    index = state.cursor.station if station is None else station
    if cursor is None:
        if state.clonus_from is not None:
            return hold(state, stopwatch_runs(state), "enter", now, pending="enter")
        draft, missing = _committed(state, draft, now)
        if missing is not None:
            cursor = cursor_at(state, state.cursor.station, missing)
    flags = flags_of(state, draft, index)
    known = (*state.drafts[index].heard, *state.allowed)
    new = tuple(flag for flag in flags if flag not in known)
    if new:
        asked, effects = hold(state, new[0].text, "", now, pending=key)
        return replace(asked, flags=new), effects
    draft = _with_flags(state, draft, flags, known)
    if cursor is not None:
        return record(state, draft, cursor, label, index, also)
    if state.plan.read_back and state.mode is not Mode.READ_BACK and not draft.not_tested:
        return _opened_read_back(state, draft, label)
    return _closed_station(state, draft, label)


def keep_speed(state: EntryState, speed_deg_s: int) -> Result:
    """Keep the timed speed of a stretch, deg/s, with the current station; undo takes it back.

    It has no part in the checks, so no flag can stop it; the cursor, digits not accepted yet
    and a hold stay as they are.
    """
    draft = replace(state.draft, speed_deg_s=speed_deg_s)
    label = f"speed {speed_deg_s} deg/s, {state.station.name}"
    new, effects = record(state, draft, state.cursor, label)
    return replace(new, hold=state.hold, flags=state.flags, pending=state.pending), effects


def _committed(state: EntryState, draft: Draft, now: Moment) -> tuple[Draft, int | None]:
    """Mark the draft done, or name the place of the first field it still lacks."""
    lacking = [place for place, field in enumerate(state.fields) if not answered(draft, field)]
    if lacking and not draft.not_tested:
        return draft, lacking[0]
    if not lacking:
        draft = replace(draft, not_tested="", not_tested_note="")
    return replace(draft, done=True, entered=now.wall), None


def _with_flags(
    state: EntryState, draft: Draft, flags: tuple[Flag, ...], known: tuple[Flag, ...]
) -> Draft:
    """Keep the flags that were allowed and the reasons for them, while they hold."""
    rules = {flag.rule for flag in flags}
    reasons = (*draft.overrides, *state.reasons)
    return replace(
        draft,
        heard=tuple(flag for flag in known if flag in flags),
        overrides=tuple(reason for reason in reasons if reason.rule in rules),
    )


def _opened_read_back(state: EntryState, draft: Draft, label: str) -> Result:
    """Accept the last field, and read the station back before it is committed."""
    old = state.draft
    draft = replace(draft, done=old.done, entered=old.entered)
    new, effects = record(state, draft, as_found(state), label)
    return replace(new, mode=Mode.READ_BACK, message=read_back_words(new)), effects


def _closed_station(state: EntryState, draft: Draft, label: str) -> Result:
    """Record a committed station and open the next one; say when there is none."""
    onward = next_open(state)
    target = cursor_at(state, state.cursor.station if onward is None else onward)
    new, effects = record(state, draft, target, label)
    new = replace(new, finished=state.cursor.station)
    if onward is None:
        review, leave = state.key("review"), state.key("quit")
        words = f"every station is done: {review} reviews the session, {leave} leaves"
        return replace(new, message=words), (*effects, Finished())
    return new, effects


def next_open(state: EntryState) -> int | None:
    """Find the next station that is open, after the current one and round to the start."""
    here = state.cursor.station
    others = (index for index in state.open_stations if index != here)
    return min(others, key=lambda index: (index < here, index), default=None)
