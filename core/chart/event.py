"""Something done on a date, as it is stored: an injection, a cast, a goal, what strikes one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..typed import as_doc, checked, names_of

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Event:
    """Something done on a date, to be shown beside the readings, e.g. an injection.

    What was given is kept as the clinic typed it. It is shown back and never computed with.

    Attributes:
        id: random id.
        kind: short word.
        date: YYYY-MM-DD.
        muscle: id of a muscle group, "" when it concerns none or all.
        side: "left", "right" or "".
        note: free text.
        amount: how much was given, in the unit named; None when that was not typed.
        unit: of the amount, in the clinic's own word.
        dilution: in the clinic's own words.
        guidance: how the place was found, in the clinic's own words.
        product: in the clinic's own words.
        weight: of a goal beside the patient's other goals; None when none was typed.
    """

    id: str
    kind: str
    date: str
    muscle: str
    side: str
    note: str
    amount: float | None = None
    unit: str = ""
    dilution: str = ""
    guidance: str = ""
    product: str = ""
    weight: float | None = None


_ALWAYS = ("id", "kind", "date", "muscle", "side", "note")


def event_to_doc(event: Event) -> Json:
    """Write the event as a JSON document.

    What was not typed is left out: the document of an event without it, and so its sum, stays
    as it was before there was such a thing.
    """
    doc = as_doc(event)
    return {
        name: value for name, value in doc.items() if name in _ALWAYS or value not in (None, "")
    }


def shown_doc(event: Event) -> Json:
    """Write a treatment date for others to read: without its id, and what only a goal has."""
    return {
        name: value for name, value in event_to_doc(event).items() if name not in ("id", "weight")
    }


def event_from_doc(doc: Json) -> Event:
    """Read the event in a JSON document.

    Raises:
        KeyError, TypeError: when it is not one.
    """
    values: Json = {name: doc[name] for name in names_of(Event) if name in doc or name in _ALWAYS}
    for name in ("amount", "weight"):
        if type(values.get(name)) is int:
            values[name] = float(values[name])
    return checked(Event(**values))
