"""Invented patients, sessions and entries for the tests of screens."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from limbscribe.core.chart.checklist import Checklist, Item, shipped_checklists
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.entry.plan import make_plan, settled
from limbscribe.core.entry.state import EntryState, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

MUSCLES = shipped_muscles()
CHECKLISTS = shipped_checklists(MUSCLES)
SHORT = Checklist("short", "Short one", (Item("soleus"),))
PATIENT = Patient("INV-07", 1956, "male", "stroke", "left")
CHECKLIST = Checklist(
    "invented",
    "Invented list",
    (Item("gastrocnemius"), Item("soleus", "left"), Item("elbow-flexors", "left")),
)
KEYS = {
    "\n": "enter",
    "\b": "backspace",
    "<": "up",
    ">": "down",
    "[": "pageup",
    "]": "pagedown",
    "{": "left",
    "}": "right",
}
"""How the tests write keys that are not characters."""


def state_of(keys: str, checklist: Checklist = CHECKLIST, **changes: Any) -> EntryState:
    """An entry after keys."""
    ready = settled(replace(checklist, **changes), PATIENT.affected, MUSCLES)
    state = begin(make_plan(ready, PATIENT, 2026, MUSCLES))
    for key in keys:
        state, _ = step(state, KEYS.get(key, key))
    return state


def reading(muscle: str, side: Side, r1: int | None, r2: int | None, **more: Any) -> Reading:
    """A reading in the muscle's default scale and standard position."""
    found = MUSCLES[muscle]
    values: dict[str, Any] = {
        "quality": 2 if r1 is not None else 1,
        "r1_tries": (r1,),
        "r2_tries": () if r2 is None else (r2,),
        "entered": "2026-01-02T10:00:00+01:00",
        "posture": found.posture_words,
        "scale": found.scale(),
        "fast_velocity": found.velocity,
    }
    return Reading(muscle=muscle, side=side, r1=r1, r2=r2, **(values | more))


def session(day: str, *readings: Reading, **more: Any) -> Session:
    """A session on a day, with the invented checklist."""
    checklist = settled(CHECKLIST, "left", MUSCLES)
    found = Session(f"id-{day}", f"{day}T10:00:00+01:00", "AB", "CD", checklist)
    return replace(found, readings=readings, **more)


def patient(code: str = "K-014") -> Patient:
    """An invented patient."""
    return Patient(code, 1958, "female", "stroke", "left")


def earlier(id: str = "a1", started: str = "2026-05-02T10:15:00+02:00") -> Session:
    """An invented earlier session with ways of its own."""
    ways = replace(CHECKLISTS[1], order="side", field_order="slow-first", tries=3, counts="worst")
    return Session(
        id,
        started,
        "JT",
        "AB",
        settled(ways, "left", MUSCLES),
        Conditions("supine, head straight", 95, "new orthosis", True),
    )
