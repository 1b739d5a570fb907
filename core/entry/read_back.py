"""The read-back: a station's values in one line, said aloud and confirmed with one key.

Off unless the clinic asks for it. A wrong figure that no check can tell from an honest change
shows only to whoever hears it. How well people listen is not known here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from .state import (
    Cursor,
    Draft,
    EntryState,
    Field,
    Mode,
    Result,
    cursor_at,
    record,
    refused,
    undone,
)

Propose = Callable[[EntryState, str, Draft, Cursor | None, str], Result]


def read_back_words(state: EntryState) -> str:
    """The current station as it is read out: side in full, muscle group, values in their order."""
    station, draft = state.station, state.draft
    quality = "none" if draft.quality is None else str(draft.quality)
    parts = {
        Field.R1: f"R1 {_spoken(draft.r1)}",
        Field.QUALITY: f"quality {quality}",
        Field.R2: f"R2 {_spoken(draft.r2)}",
    }
    values = ", ".join(parts[field] for field in state.fields)
    return f"{station.side.word} {station.muscle.name}: {values}"


def _spoken(tries: tuple[int | None, ...]) -> str:
    """Every try, with its sign as a word, for a minus is easily not seen."""
    words = ("no catch" if try_ is None else f"{try_}".replace("-", "minus ") for try_ in tries)
    return " and ".join(words) or "none"


def open_read_back(state: EntryState, draft: Draft, label: str) -> Result:
    """Accept the last field, and read the station back before it is committed.

    Args:
        state: the entry, its cursor in the last field.
        draft: the station with that field accepted.
        label: what changed, for the undo list.
    """
    old, cursor = state.draft, state.cursor
    there = cursor_at(state, cursor.station, cursor.place, cursor.attempt)
    draft = replace(draft, done=old.done, entered=old.entered)
    new, effects = record(state, draft, there, label)
    return replace(new, mode=Mode.READ_BACK, message=read_back_words(new)), effects


def read_back_key(state: EntryState, key: str, propose: Propose) -> Result:
    """Take a key at the read-back; digits are refused, for they may be the next station's."""
    if key in ("enter", "tab"):
        return propose(state, "enter", state.draft, None, f"confirmed: {state.station.name}")
    if key == "u":
        return undone(state)
    if key in ("backspace", "left", "escape"):
        return replace(state, mode=Mode.FIELDS, message=""), ()
    confirm, back = state.key("enter"), state.key("backspace")
    why = f"{read_back_words(state)}: {confirm} confirms, {back} goes back to the field"
    return refused(state, why)
