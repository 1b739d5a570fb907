"""Changes of the drafts, taken back and made again."""

from __future__ import annotations

from dataclasses import replace

from .state import Change, Cursor, Draft, EntryState, Mode, Result, Save, refused


def record(state: EntryState, draft: Draft, cursor: Cursor, label: str) -> Result:
    """Accept a draft of the current station: the only way in which drafts change forward."""
    index = state.cursor.station
    change = Change(index, state.draft, draft, state.cursor, cursor, label)
    new = replace(applied(state, change), past=(*state.past, change), future=(), message=label)
    return new, (Save("do", change),)


def applied(state: EntryState, change: Change, back: bool = False) -> EntryState:
    """The state with a change made, or taken back; prompts and flags are cleared."""
    draft = change.before if back else change.after
    drafts = (*state.drafts[: change.station], draft, *state.drafts[change.station + 1 :])
    return replace(
        state,
        drafts=drafts,
        cursor=change.cursor_before if back else change.cursor_after,
        mode=Mode.FIELDS,
        prompt="",
        flags=(),
        pending="",
        allowed=(),
        reasons=(),
    )


def undone(state: EntryState) -> Result:
    """The last change taken back, typed digits and all."""
    if not state.past:
        return refused(state, "nothing to undo")
    change = state.past[-1]
    new = applied(state, change, back=True)
    new = replace(
        new,
        past=state.past[:-1],
        future=(*state.future, change),
        message=f"undone: {change.label}",
    )
    return new, (Save("undo"),)


def redone(state: EntryState) -> Result:
    """The change taken back last, made again."""
    if not state.future:
        return refused(state, "nothing to redo")
    change = state.future[-1]
    new = replace(
        applied(state, change),
        past=(*state.past, change),
        future=state.future[:-1],
        message=f"again: {change.label}",
    )
    return new, (Save("redo"),)
