"""Entry effects as journal entries, and an entry rebuilt from them after a break.

Each entry is one edit: replaying them in order gives back the drafts, the cursor and the
whole undo history, since undo and redo are entries like any other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from typing import Any

from ..problem import Problem
from ..tardieu.reading import Flag, Override
from ..typed import checked
from .plan import Plan
from .state import Change, Cursor, Draft, Edit, EntryState, Save, begin
from .undo import applied, redone, taken_back, to_be_replaced


def save_to_doc(save: Save, wall: str) -> dict[str, Any]:
    """Write a Save effect as a JSON document.

    Args:
        save: the effect.
        wall: ISO 8601 local time with offset of the key.
    """
    doc: dict[str, Any] = {"op": save.op, "at": wall}
    if save.edit is not None:
        doc |= {
            "station": save.edit.station,
            "draft": _draft_doc(save.edit.after),
            "from": _cursor_doc(save.edit.cursor_before),
            "to": _cursor_doc(save.edit.cursor_after),
            "label": save.edit.label,
        }
        if save.edit.also:
            doc["also"] = [
                {"station": each.station, "draft": _draft_doc(each.after)}
                for each in save.edit.also
            ]
        if save.edit.swap:
            doc["swap"] = True
    if save.cursor is not None:
        doc["to"] = _cursor_doc(save.cursor)
    return doc


def replay(
    plan: Plan, docs: Iterable[dict[str, Any]], start: EntryState | None = None
) -> tuple[EntryState, list[Problem]]:
    """Rebuild the entry that the journal of a session amounts to.

    An entry that does not fit the plan ends the replay with a Problem; what came before it
    is kept.

    Args:
        plan: of the session.
        docs: what the journal holds.
        start: what it was begun from, None for an empty entry.
    """
    state, last = start or begin(plan), ""
    for number, doc in enumerate(docs, 1):
        try:
            state, last = _one(state, doc), doc["op"]
        except (KeyError, TypeError, ValueError, IndexError) as error:
            where = f"journal entry {number}"
            what = f"it does not fit this session ({type(error).__name__}: {error})"
            return state, [Problem(where, what, "run limbscribe verify; earlier entries are kept")]
    ended = start is None and last == "do" and not state.open_stations
    finished = state.cursor.station if ended else None
    return replace(to_be_replaced(state), message="", finished=finished), []


def _one(state: EntryState, doc: dict[str, Any]) -> EntryState:
    op = doc["op"]
    if op == "undo":
        return taken_back(state)[0]
    if op == "redo":
        return redone(state)[0]
    if op == "move":
        return replace(state, cursor=_cursor(doc["to"], state))
    if op != "do":
        raise ValueError(f"unknown op {op!r}")
    first = _change(doc, state)
    edit = Edit(
        first.station,
        first.before,
        first.after,
        _cursor(doc["from"], state),
        _cursor(doc["to"], state),
        doc["label"],
        tuple(_change(each, state) for each in doc.get("also", ())),
        doc.get("swap", False),
    )
    return replace(applied(state, edit), past=(*state.past, edit), future=())


def _change(doc: dict[str, Any], state: EntryState) -> Change:
    index = doc["station"]
    if type(index) is not int:
        raise TypeError("the station has no number")
    if not 0 <= index < len(state.drafts):
        raise ValueError(f"no station {index}")
    return Change(index, state.drafts[index], _draft(doc["draft"]))


def _cursor_doc(cursor: Cursor) -> dict[str, Any]:
    doc = asdict(cursor)
    # What the hands did is not part of the record, and older programs do not know it.
    del doc["signed"], doc["touched"]
    return doc


def _cursor(doc: dict[str, Any], state: EntryState) -> Cursor:
    cursor = checked(Cursor(**doc))
    if not (0 <= cursor.station < len(state.drafts) and 0 <= cursor.place < len(state.fields)):
        raise ValueError(f"no field {cursor.place} at station {cursor.station}")
    return cursor


def _draft_doc(draft: Draft) -> dict[str, Any]:
    doc = asdict(draft)
    # As in the reading: written only when there is one.
    if draft.speed_deg_s is None:
        del doc["speed_deg_s"]
    return doc


def _draft(doc: dict[str, Any]) -> Draft:
    fields: dict[str, Any] = dict(doc)
    fields["r1"] = tuple(doc["r1"])
    fields["r2"] = tuple(doc["r2"])
    fields["heard"] = tuple(Flag(**flag) for flag in doc["heard"])
    fields["overrides"] = tuple(Override(**override) for override in doc["overrides"])
    return checked(Draft(**fields))
