"""The read-back: a station's values in one line, said aloud and confirmed with one key.

Off unless the clinic asks for it. A wrong figure that no check can tell from an honest change
shows only to whoever hears it. How well people listen is not known here.
"""

from __future__ import annotations

from dataclasses import replace

from .accept import accept_draft
from .readings import read_back_words
from .state import EntryState, Mode, Moment, Result, refused


def confirm(state: EntryState, _key: str, now: Moment) -> Result:
    """Commit the station that was read back."""
    return accept_draft(state, "enter", state.draft, None, f"confirmed: {state.station.name}", now)


def back_to_field(state: EntryState, _key: str, _now: Moment) -> Result:
    """Leave the read-back for the last field."""
    return replace(state, mode=Mode.FIELDS, message=""), ()


def ask_again(state: EntryState, _key: str, _now: Moment) -> Result:
    """Refuse any other key; digits too, for they may be the next station's."""
    accept, back = state.key("enter"), state.key("backspace")
    why = f"{read_back_words(state)}: {accept} confirms, {back} goes back to the field"
    return refused(state, why)
