"""A closed session's readings as an entry, and keys typed into it."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import amending_checklist, aside_of, begin_amending
from limbscribe.core.entry.plan import make_plan
from limbscribe.core.entry.state import EntryState
from limbscribe.core.entry.step import step

from .records import KEYS, MUSCLES, PATIENT


def begun(found: Session) -> EntryState:
    """The entry that an amendment of a session begins with."""
    plan = make_plan(amending_checklist(found), PATIENT, 2026, MUSCLES)
    return begin_amending(replace(plan, aside=aside_of(found)), found.readings)


def typed(state: EntryState, keys: str) -> EntryState:
    """The entry after keys, each a character of KEYS or itself."""
    for key in keys:
        state, _ = step(state, KEYS.get(key, key))
    return state
