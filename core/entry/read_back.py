"""The read-back: a station's values in one line, said aloud and confirmed with one key.

Off unless the clinic asks for it. A wrong figure that no check can tell from an honest change
shows only to whoever hears it. How well people listen is not known here.
"""

from __future__ import annotations

from dataclasses import replace

from .accept import accept_draft
from .readings import read_back_words
from .state import SLOW_ENOUGH_S, EntryState, Mode, Moment, Result
from .stopping import free, hold, refused, typed_on


def confirm(state: EntryState, key: str, now: Moment) -> Result:
    """Commit the station that was read back; an Enter that bounced has not heard it."""
    if now.ticks - state.rhythm.last < SLOW_ENOUGH_S:
        words = f"{read_back_words(state)}: {state.key('enter')} again confirms"
        return hold(state, words, key, now, pending="enter")
    return accept_draft(state, "enter", state.draft, None, f"confirmed: {state.station.name}", now)


def back_to_field(state: EntryState, _key: str, _now: Moment) -> Result:
    """Leave the read-back for the last field."""
    return replace(free(state), mode=Mode.FIELDS, message=""), ()


def refuse_value(state: EntryState, key: str, now: Moment) -> Result:
    """Hold at what may be the next station's value, said before this one was confirmed."""
    return hold(state, _ask(state), key, now)


def refuse_prompt(state: EntryState, key: str, now: Moment) -> Result:
    """Hold at a prompt: its text, meant for a station believed to be confirmed, is dropped."""
    new, effects = hold(state, _ask(state), key, now)
    return typed_on(new, now), effects


def ask_again(state: EntryState, _key: str, _now: Moment) -> Result:
    """Refuse any other key."""
    return refused(state, _ask(state))


def _ask(state: EntryState) -> str:
    accept, back = state.key("enter"), state.key("backspace")
    return f"{read_back_words(state)}: {accept} confirms, {back} goes back to the field"
