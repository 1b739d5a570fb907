"""Commands that change more than one station, each one step to undo."""

from __future__ import annotations

from dataclasses import replace

from ..text import counted
from .accept import accept_draft
from .moving import stopwatch_runs
from .readings import flags_of
from .state import Change, Draft, EntryState, Mode, Moment, Result, cursor_at
from .stopping import refused
from .undo import record

SWAPPED = "left and right exchanged"


def rest_of(state: EntryState) -> tuple[int, ...]:
    """List the open stations at which nothing was entered."""
    return tuple(index for index in state.open_stations if not state.drafts[index].has_content)


def ask_rest(state: EntryState, _key: str, _now: Moment) -> Result:
    """Ask why the rest is not tested."""
    if state.clonus_from is not None:
        return refused(state, stopwatch_runs(state))
    if not rest_of(state):
        return refused(state, "no station is open without a value")
    return replace(state, mode=Mode.REASON, prompt="", rest=True), ()


def mark_rest(state: EntryState, reason: str, note: str, words: str, now: Moment) -> Result:
    """Mark every open station without a value not tested; half-typed ones stay open.

    Args:
        state: the entry.
        reason: key of reading.NOT_TESTED.
        note: words for "other".
        words: the reason in words.
        now: time of the key.
    """
    done = {"not_tested": reason, "not_tested_note": note, "done": True, "entered": now.wall}
    changes = [
        Change(index, state.drafts[index], replace(state.drafts[index], **done))
        for index in rest_of(state)
    ]
    first, also = changes[0], tuple(changes[1:])
    left = [index for index in state.open_stations if index not in {c.station for c in changes}]
    target = cursor_at(state, left[0] if left else state.cursor.station)
    label = f"{counted(len(changes), 'station')} not tested: {words}"
    new, effects = record(state, first.after, target, label, first.station, also)
    stays = f"; {len(left)} half-typed stay open" if left else ""
    ended = None if left else state.cursor.station
    return replace(new, message=f"{label}{stays}", finished=ended), effects


def to_other_side(state: EntryState, key: str, now: Moment) -> Result:
    """Move what was entered at a station to the other side, which must be empty.

    It is the station shown, or the one just finished while the new one is untouched.
    """
    here = state.cursor.station if state.draft.has_content else state.just_finished
    if here is None or not state.drafts[here].has_content:
        return refused(state, "nothing was entered here that could be moved")
    if state.clonus_from is not None:
        return refused(state, stopwatch_runs(state))
    other = state.plan.other_side(here)
    station = state.plan.stations[here]
    if other is None:
        return refused(state, f"the other side of {station.name} is not on this list")
    there = state.plan.stations[other]
    if state.drafts[other].has_content:
        return refused(state, f"{there.name} holds values already: nothing was moved")
    if there.scale != station.scale:
        return refused(state, f"{there.name} is read on another scale: nothing was moved")
    before = state.drafts[here]
    empty = Change(here, before, Draft(station.posture, station.velocity))
    drafts = (*state.drafts[:here], empty.after, *state.drafts[here + 1 :])
    label = f"moved from {station.name} to {there.name}"
    # What was asked about these values is not asked again; what the other side makes of them is.
    moving = replace(state, drafts=drafts, allowed=state.allowed + before.heard)
    new, effects = accept_draft(
        moving, key, before, cursor_at(state, here), label, now, other, (empty,)
    )
    held = replace(new, drafts=state.drafts, allowed=state.allowed)
    return (held if new.hold else new), effects


def swap_sides(state: EntryState, start: EntryState) -> Result:
    """Exchange all that the two sides hold, at every station, in one step.

    The checks are run anew: what they find unlikely is kept with the values and said, what
    they newly find impossible is refused.

    Args:
        state: the entry of a closed session's readings.
        start: as it was begun; a station that comes back to it gets its former flags again.
    """
    if why := _not_now(state):
        return refused(state, why)
    there, old = state.plan.partners, state.drafts
    held = [index for index, draft in enumerate(old) if draft.has_content]
    if not held:
        return refused(state, "no station holds a value")
    if alone := [index for index in held if index not in there]:
        name = state.plan.stations[alone[0]].name
        return refused(state, f"the other side of {name} is not on this list: nothing was changed")
    drafts = tuple(old[there.get(index, index)] for index in range(len(old)))
    swapped = replace(state, plan=state.plan.exchanged(), drafts=drafts)
    changes: list[Change] = []
    said: list[str] = []
    for index in sorted({*held, *(there[index] for index in held)}):
        name, moved = state.plan.stations[index].name, drafts[index]
        after = _checked(swapped, index, start)
        as_it_was = flags_of(state, moved, there[index]) if moved.has_content else ()
        known = (*moved.heard, *start.drafts[index].heard, *as_it_was)
        new = [flag for flag in after.heard if flag not in known]
        rules = {flag.rule for flag in known}
        if wrong := [flag for flag in new if flag.level == "impossible" and flag.rule not in rules]:
            return refused(state, f"{name}: {wrong[0].text}; nothing was changed")
        said += [f"{name}: {flag.text}" for flag in new]
        changes.append(Change(index, old[index], after))
    first, also = changes[0], tuple(changes[1:])
    target = cursor_at(swapped, state.cursor.station)
    result, effects = record(state, first.after, target, SWAPPED, first.station, also, swap=True)
    more = f"; flagged now: {'; '.join(said)}" if said else ""
    words = f"{SWAPPED} at {len(changes) // 2} stations{more}"
    return replace(result, message=words), effects


def _not_now(state: EntryState) -> str:
    """Say what has to be ended before all stations can change, "" when nothing has."""
    if state.clonus_from is not None:
        return stopwatch_runs(state)
    if state.hold is not None:
        return f"nothing is taken: {state.key('backspace')} takes away what was refused"
    if state.cursor.text:
        return f"{state.cursor.text} is not accepted yet: {state.key('enter')} accepts it"
    return "" if state.mode is Mode.FIELDS else "end this station first"


def _checked(state: EntryState, index: int, start: EntryState) -> Draft:
    """Give an exchanged draft the flags that hold at its new station."""
    draft, former = state.drafts[index], start.drafts[index]
    if replace(draft, heard=former.heard, overrides=former.overrides) == former:
        return former
    flags = flags_of(state, draft, index) if draft.has_content else ()
    rules = {flag.rule for flag in flags}
    kept = tuple(each for each in draft.overrides if each.rule in rules)
    return replace(draft, heard=flags, overrides=kept)
