"""The fields for what is stated of a patient, in the form for a new one and in that for changes."""

from __future__ import annotations

from dataclasses import replace

from ....core.chart.patient import (
    AFFECTED,
    DIAGNOSIS_GROUPS,
    FIRST_BIRTH_YEAR,
    SHORTEST_CM,
    TALLEST_CM,
    Patient,
)
from ...kit.form import FormField
from ...kit.line_edit import DIGITS

NOT_STATED = ("", "not stated")

_FIELDS = (
    FormField(
        "born",
        "Born",
        f"Year and month, as in 1961-04, or only the year, from {FIRST_BIRTH_YEAR} on; picks the "
        "reference range. May stay empty.",
        longest=7,
        accepts=f"{DIGITS}-",
    ),
    FormField(
        "sex",
        "Sex",
        "Picks the reference range.",
        "choice",
        choices=(NOT_STATED, ("female", "female"), ("male", "male")),
    ),
    FormField(
        "diagnosis",
        "Diagnosis group",
        "Letters of any word of it.",
        "choice",
        choices=(NOT_STATED, *DIAGNOSIS_GROUPS.items()),
    ),
    FormField(
        "affected",
        "Affected side",
        "Checklists may ask for the affected side only.",
        "choice",
        choices=(NOT_STATED, *((id_, words) for id_, words in AFFECTED.items() if id_)),
    ),
    FormField(
        "height_cm",
        "Height in cm",
        f"{SHORTEST_CM} to {TALLEST_CM}; for how fast a limb falls (V2). May stay empty.",
        "number",
        longest=3,
    ),
)


def details_fields(patient: Patient | None = None) -> tuple[FormField, ...]:
    """The fields of the form, with what is stated of a patient in them."""
    if patient is None:
        return _FIELDS
    values = ((field, getattr(patient, field.name)) for field in _FIELDS)
    return tuple(
        replace(field, value="" if value is None else str(value)) for field, value in values
    )
