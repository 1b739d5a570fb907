"""Changes of the drafts, taken back and made again."""

from __future__ import annotations

from dataclasses import replace

from .moving import as_found
from .state import Change, Cursor, Draft, Edit, EntryState, Mode, Result, Save, answered
from .stopping import free, refused


def record(
    state: EntryState,
    draft: Draft,
    cursor: Cursor,
    label: str,
    station: int | None = None,
    also: tuple[Change, ...] = (),
    swap: bool = False,
) -> Result:
    """Accept a draft: the only way in which drafts change forward.

    Args:
        state: the entry before.
        draft: the draft.
        cursor: where to go.
        label: what changed, in words.
        station: whose draft it is, None for the current station.
        also: other stations that change in the same step.
        swap: the sides exchange their scales too.
    """
    index = state.cursor.station if station is None else station
    edit = Edit(index, state.drafts[index], draft, state.cursor, cursor, label, also, swap)
    new = replace(applied(state, edit), past=(*state.past, edit), future=(), message=label)
    return new, (Save("do", edit),)


def applied(state: EntryState, edit: Edit, back: bool = False) -> EntryState:
    """Make a change, or take it back; prompts and holds are cleared."""
    drafts = list(state.drafts)
    for change in (edit, *edit.also):
        drafts[change.station] = change.before if back else change.after
    cursor = edit.cursor_before if back else edit.cursor_after
    return replace(
        free(state),
        plan=state.plan.exchanged() if edit.swap else state.plan,
        drafts=tuple(drafts),
        cursor=cursor,
        mode=Mode.FIELDS,
        prompt="",
        finished=None,
        target=None,
        rest=False,
        allowed=(),
        reasons=(),
    )


def undone(state: EntryState, *_: object) -> Result:
    """Clear what was refused or not accepted yet; without any, take the last change back."""
    cursor = state.cursor
    held = state.hold is not None and state.mode is Mode.FIELDS
    if held or cursor.signed or (cursor.text and not cursor.fresh):
        cleared = replace(state, cursor=replace(as_found(state), touched=True), mode=Mode.FIELDS)
        return replace(free(cleared), message="cleared what was typed"), ()
    return taken_back(state)


def taken_back(state: EntryState) -> Result:
    """Take the last change back, whatever is typed."""
    if not state.past:
        return refused(state, "nothing to undo")
    edit = state.past[-1]
    past, future = state.past[:-1], (*state.future, edit)
    back = to_be_replaced(applied(state, edit, back=True))
    return replace(back, past=past, future=future, message=f"undone: {edit.label}"), (Save("undo"),)


def to_be_replaced(state: EntryState) -> EntryState:
    """Let the next digit replace digits that came back: nobody typed them just now.

    Where a value is stored it is shown, and not the digits that were typed over it.
    """
    cursor = state.cursor
    if answered(state.draft, state.field, cursor.attempt):
        return replace(state, cursor=as_found(state))
    fresh = replace(cursor, fresh=True, signed=False) if cursor.text else cursor
    return replace(state, cursor=fresh)


def redone(state: EntryState, *_: object) -> Result:
    """Make the change taken back last again."""
    if not state.future:
        return refused(state, "nothing to redo")
    edit = state.future[-1]
    past, future = (*state.past, edit), state.future[:-1]
    new = to_be_replaced(applied(state, edit))
    return replace(new, past=past, future=future, message=f"again: {edit.label}"), (Save("redo"),)
