"""What is signed when a session is closed, and the stations that are half-typed before that."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from .rows import StationRow
from .state import Draft, EntryState, Mode, Result, cursor_at
from .stopping import free
from .undo import record

CLEARED = "half-typed values cleared before signing"
"""What undo and the journal call it."""


def half_typed(state: EntryState) -> tuple[int, ...]:
    """Find the open stations that hold part of a measurement, digits not yet accepted too.

    Also the one at which typing went on although nothing was taken any more. A comment, pain or a
    position alone is no measurement: it is signed with the open station.
    """
    typing = state.cursor.station if state.cursor.text or state.more_dropped else -1
    return tuple(
        index
        for index in range(len(state.drafts))
        if index == typing or (not state.drafts[index].done and _holds(state.drafts[index]))
    )


def _holds(draft: Draft) -> bool:
    values = (draft.quality, draft.clonus_s, draft.speed_deg_s)
    return bool(draft.r1 or draft.r2) or any(value is not None for value in values)


def cleared(state: EntryState, index: int) -> Result:
    """Clear a half-typed station; undo brings back what was accepted there.

    The journal keeps what was accepted. Digits that were not accepted were never in it. A
    station that is done loses only such digits.
    """
    there = replace(state, cursor=cursor_at(state, index), clonus_from=None)
    draft = there.draft
    if draft.done or not _holds(draft):
        none = replace(free(there), mode=Mode.FIELDS, prompt="", message="", asides=())
        return replace(none, allowed=(), reasons=(), target=None), ()
    empty = Draft(draft.posture, draft.velocity, pain=draft.pain, comment=draft.comment)
    return record(there, empty, there.cursor, CLEARED)


def overridden(rows: Iterable[StationRow]) -> int:
    """Count the stations at which an impossible reading was overridden."""
    return sum(bool(row.reading and row.reading.overrides) for row in rows)
