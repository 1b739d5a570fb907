"""Move the cursor to another field, station or muscle group; nothing is accepted by it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from .state import Action, Cursor, EntryState, Mode, Moment, Result, Save, answered, cursor_at
from .stopping import free, refused


def stopwatch_runs(state: EntryState) -> str:
    """Say why a station cannot be left while the clonus stopwatch is running."""
    return f"the clonus stopwatch is running: {state.key('k')} stops it"


def moved(state: EntryState, cursor: Cursor) -> Result:
    """Go elsewhere without a change; digits that were not accepted are dropped."""
    if state.clonus_from is not None and cursor.station != state.cursor.station:
        return refused(state, stopwatch_runs(state))
    new = replace(free(state), cursor=cursor, mode=Mode.FIELDS, prompt="", allowed=(), reasons=())
    new = replace(new, asides=(), finished=None, target=None)
    return new, (Save("move", cursor=cursor),)


def as_found(state: EntryState) -> Cursor:
    """Make the cursor that the current field had when it was reached."""
    cursor = state.cursor
    return cursor_at(state, cursor.station, cursor.place, cursor.attempt)


def cursor_to(state: EntryState, station: int) -> Cursor:
    """Make a cursor for a station that was chosen: where one is begun, in the field it lacks."""
    draft, fields = state.drafts[station], list(enumerate(state.fields))
    lacking = [place for place, field in fields if not answered(draft, field)]
    begun = 0 < len(lacking) < len(fields) and not (draft.done or draft.not_tested)
    return cursor_at(state, station, lacking[0] if begun else 0)


def after_field(state: EntryState) -> Cursor | None:
    """Make a cursor in the field after the current one, None after the last."""
    cursor = state.cursor
    if cursor.place + 1 < len(state.fields):
        return cursor_at(state, cursor.station, cursor.place + 1)
    return None


def previous_field(state: EntryState, _key: str, _now: Moment) -> Result:
    """Go back to the try or the field before, be it the last one of a station just finished."""
    cursor = state.cursor
    if cursor.attempt:
        return moved(state, cursor_at(state, cursor.station, cursor.place, cursor.attempt - 1))
    if cursor.place:
        return moved(state, cursor_at(state, cursor.station, cursor.place - 1))
    if state.just_finished is not None:
        return moved(state, cursor_at(state, state.just_finished, len(state.fields) - 1))
    return refused(state, f"this is the first field; {state.key('up')} goes to the station before")


def next_field(state: EntryState, _key: str, _now: Moment) -> Result:
    """Go on to the next field of the station."""
    target = after_field(state)
    if target is None:
        accept, leave = state.key("enter"), state.key("down")
        return refused(state, f"this is the last field; {accept} accepts it, {leave} leaves it")
    return moved(state, target)


def by_station(distance: int) -> Action:
    """Make the action that goes so many stations on."""

    def move(state: EntryState, _key: str, _now: Moment) -> Result:
        target = state.cursor.station + distance
        if not 0 <= target < len(state.drafts):
            return refused(state, "no station beyond this one")
        return moved(state, cursor_to(state, target))

    return move


def by_muscle(distance: int) -> Action:
    """Make the action that goes to another muscle group, 1 for the next, -1 for the one before."""

    def move(state: EntryState, _key: str, _now: Moment) -> Result:
        here = state.station.muscle.id
        index = state.cursor.station
        while 0 <= index < len(state.drafts):
            if state.plan.stations[index].muscle.id != here:
                return moved(state, cursor_to(state, index))
            index += distance
        return refused(state, "no muscle group beyond this one")

    return move


def to_open_station(which: int) -> Action:
    """Make the action that goes to an open station: 0 for the first, -1 for the last."""

    def move(state: EntryState, _key: str, _now: Moment) -> Result:
        if not state.open_stations:
            return refused(state, f"no station is open: {state.key('review')} reviews the session")
        return moved(state, cursor_to(state, state.open_stations[which]))

    return move


MOVES: Mapping[str, Action] = {
    "left": previous_field,
    "right": next_field,
    "up": by_station(-1),
    "down": by_station(1),
    "pageup": by_muscle(-1),
    "pagedown": by_muscle(1),
    "home": to_open_station(0),
    "end": to_open_station(-1),
}
"""The keys that only move."""
