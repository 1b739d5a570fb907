"""Changes of the drafts, taken back and made again."""

from __future__ import annotations

from dataclasses import replace

from .state import Cursor, Draft, Edit, EntryState, Mode, Result, Save, refused


def record(state: EntryState, draft: Draft, cursor: Cursor, label: str) -> Result:
    """Accept a draft of the current station: the only way in which drafts change forward."""
    index = state.cursor.station
    edit = Edit(index, state.draft, draft, state.cursor, cursor, label)
    new = replace(applied(state, edit), past=(*state.past, edit), future=(), message=label)
    return new, (Save("do", edit),)


def applied(state: EntryState, edit: Edit, back: bool = False) -> EntryState:
    """Make a change, or take it back; prompts and flags are cleared."""
    draft = edit.before if back else edit.after
    drafts = (*state.drafts[: edit.station], draft, *state.drafts[edit.station + 1 :])
    return replace(
        state,
        drafts=drafts,
        cursor=edit.cursor_before if back else edit.cursor_after,
        mode=Mode.FIELDS,
        prompt="",
        flags=(),
        pending="",
        allowed=(),
        reasons=(),
    )


def undone(state: EntryState, *_: object) -> Result:
    """Take the last change back, typed digits and all."""
    if not state.past:
        return refused(state, "nothing to undo")
    edit = state.past[-1]
    past, future = state.past[:-1], (*state.future, edit)
    back = applied(state, edit, back=True)
    return replace(back, past=past, future=future, message=f"undone: {edit.label}"), (Save("undo"),)


def redone(state: EntryState, *_: object) -> Result:
    """Make the change taken back last again."""
    if not state.future:
        return refused(state, "nothing to redo")
    edit = state.future[-1]
    past, future = (*state.past, edit), state.future[:-1]
    new = applied(state, edit)
    return replace(new, past=past, future=future, message=f"again: {edit.label}"), (Save("redo"),)
