"""Treatment dates as FHIR R4 resources; see bundle.py.

What was done to the patient is a Procedure, also an injection: a MedicationAdministration
cannot say where without saying how much, and nothing here reads an amount out of a text. That
medication was started or changed is an Observation, as is what is of no known kind; a date to
measure again is a ServiceRequest, a plan and no order. What was typed with a date, be it
product or dose, leaves as the note that it is.

Each muscle group of a treatment is a date of its own here, with its own dilution, guidance and
product. Goals and their scores are in goal.py.

A struck event stays in, as entered-in-error with the reason. Whether a day has passed is taken
from the chart and not from a clock: where nothing was signed on it or later, the status is unknown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime

from ...chart.chart import Chart
from ...chart.event import Event
from ...chart.events import (
    KINDS,
    NEXT_DATE,
    NOT_DONE,
    day_of,
    given_words,
    kind_words,
    struck,
)
from ...chart.strict_json import Json
from ...tardieu.muscles import Muscle
from ...tardieu.reading import Side
from .codes import SITES, coded, concept, standard
from .station import place, place_words, text

_DONE = frozenset(
    ("botulinum-toxin", "cast-on", "cast-off", "pump", "orthosis", "surgery", "programme")
)
"""Kinds that are acts on the patient."""


def events_of(
    chart: Chart, muscles: Mapping[str, Muscle], sites: dict[str, tuple[str, str]]
) -> Iterator[tuple[Event, Json]]:
    """Yield every event with its resource, without id and subject.

    Args:
        chart: the chart; events stay in the order in which they were written.
        muscles: all muscle groups by id, for names.
        sites: code of a place -> display and definition; what is needed is added.
    """
    reasons = struck(chart.events)
    last = last_signed(chart)
    for event in chart.events:
        if event.kind not in NOT_DONE:
            resource = _by_kind(event, has_passed(event, last))
            place = _place(event, muscles, sites)
            if place:
                several = resource["resourceType"] != "Observation"
                resource["bodySite"] = [place] if several else place
            if event.id in reasons:
                resource["status"] = "entered-in-error"
            notes = map(text, _notes(event, reasons.get(event.id)))
            if found := [{"text": words} for words in notes if words]:
                resource["note"] = found
            yield event, resource


def _by_kind(event: Event, passed: bool) -> Json:
    """Build resource type, status, code and date."""
    code = coded(f"event-{event.kind if event.kind in KINDS else 'other'}", _kind(event))

    def dated(name: str) -> Json:
        return {f"{name}DateTime": event.date} if day_of(event) else {}

    if event.kind == NEXT_DATE:
        head: Json = {"resourceType": "ServiceRequest", "status": "unknown", "intent": "plan"}
        return {**head, "code": code, **dated("occurrence")}
    if event.kind in _DONE:
        status = "completed" if passed else "unknown"
        head = {"resourceType": "Procedure", "status": status}
        return {**head, "code": code, **dated("performed")}
    head = {"resourceType": "Observation", "status": "final" if passed else "unknown"}
    # That it was so is all that is said of it; what was typed with it is in the note.
    return {**head, "code": code, **dated("effective"), "valueBoolean": True}


def _kind(event: Event) -> str:
    return text(kind_words(event.kind)) or "not stated"


def last_signed(chart: Chart) -> date:
    """Find the latest day on which anything in the chart was measured or signed."""
    days = [date.min, *(session.when.date() for session in chart.sessions)]
    signed = [session.seal.at for session in chart.sessions if session.seal]
    for at in (*signed, *(amendment.at for amendment in chart.amendments)):
        try:
            days.append(datetime.fromisoformat(at).date())
        except ValueError:
            continue
    return max(days)


def has_passed(event: Event, last: date) -> bool:
    """Tell whether the day of an event is not behind the last day of the chart."""
    day = day_of(event)
    return day is not None and day <= last


def _place(
    event: Event, muscles: Mapping[str, Muscle], sites: dict[str, tuple[str, str]]
) -> Json | None:
    """Build muscle group and side as far as they were stated, None when neither was."""
    sides = {side.value: side.word for side in Side}
    side = sides.get(event.side, text(event.side))
    muscle = muscles.get(event.muscle)
    known = (muscle or not event.muscle) and (event.side in sides or not event.side)
    name = text(muscle.name).lower() if muscle else text(event.muscle)
    words = place_words(side, name)
    if not words.strip():
        return None
    if not known:
        return {"text": words}
    code = "-".join(filter(None, (event.muscle, event.side)))
    display, _ = sites.setdefault(code, place(side, name))
    return concept(standard(SITES, code, display))


def _notes(event: Event, reason: str | None) -> Iterator[str]:
    yield given_words(event)
    yield event.note
    if day_of(event) is None:
        yield f"Date as it was stored: {event.date or 'none'}"
    if reason is not None:
        yield f"Struck: {reason or 'no reason stated'}"
