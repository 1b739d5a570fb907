"""Invented sessions with one station each, to make pairs of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

HAMSTRINGS = shipped_muscles()["hamstrings"]
LIST = Checklist("own", "own", (Item("hamstrings"),))


def reading(r1: int | None, r2: int | None, **changed: object) -> Reading:
    """A reading of the left hamstrings, stretch angles in deg."""
    sound = Reading(
        "hamstrings",
        Side.LEFT,
        HAMSTRINGS.posture_words,
        HAMSTRINGS.scale("neutral-zero"),
        r1=r1,
        r2=r2,
        quality=2 if r1 is not None else 1,
    )
    return replace(sound, **changed)  # type: ignore[arg-type]


def session(started: str, examiner: str, *readings: Reading, **conditions: Any) -> Session:
    """A closed session that began at a time, ISO 8601."""
    seen = Conditions(**conditions)
    id_ = f"{started}{examiner}"
    return Session(id_, started, examiner, "RC", LIST, conditions=seen, readings=readings)


def chart(*sessions: Session, code: str = "P-01", events: tuple[Event, ...] = ()) -> Chart:
    """A chart of these sessions."""
    return Chart("id", Patient(code, diagnosis="stroke"), sessions, (), events, ())


def pairs(days: int) -> list[Session]:
    """Sessions of two examiners on each of so many days: enough of them can be adopted."""
    made: list[Session] = []
    for day in range(1, days + 1):
        one, other = day - 40, day - 40 + (-3, 1, 4)[day % 3]
        made += [
            session(f"2026-05-{day:02}T09:00:00+02:00", "KM", reading(one, one + 20)),
            session(f"2026-05-{day:02}T10:00:00+02:00", "VZ", reading(other, other + 22)),
        ]
    return made
