"""The form for a new patient."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from ....core.chart.lookalike import lookalikes_of
from ....core.chart.patient import DIAGNOSIS_GROUPS, FIRST_BIRTH_YEAR, Patient, parse_patient
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen

NOT_STATED = ("", "not stated")

SHOWN_NEAR = 3
"""Codes named in a warning."""

_FIELD_OF = {"patient code": "code", "birth year": "birth_year", "height cm": "height_cm"}
"""Where parse_patient() says it found a problem -> field of the form."""


def patient_fields(this_year: int) -> tuple[FormField, ...]:
    """The fields of the form."""
    return (
        FormField(
            "code",
            "Patient code",
            "The pseudonym your clinic chose: 2 to 24 of A-Z, 0-9, - and _. "
            "Never a name or a date of birth. It is shown on every screen.",
            longest=24,
            needed=True,
        ),
        FormField(
            "birth_year",
            "Birth year",
            f"Four digits, {FIRST_BIRTH_YEAR} to {this_year}; picks the reference range. "
            "May stay empty.",
            "number",
            longest=4,
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
            "Shown in the list of patients.",
            "choice",
            choices=(NOT_STATED, *DIAGNOSIS_GROUPS.items()),
        ),
        FormField(
            "affected",
            "Affected side",
            "Checklists may ask for the affected side only.",
            "choice",
            choices=(NOT_STATED, ("left", "Left"), ("right", "Right"), ("both", "both sides")),
        ),
        FormField(
            "height_cm",
            "Height in cm",
            "30 to 250; for how fast a limb falls (V2). May stay empty.",
            "number",
            longest=3,
        ),
    )


def patient_problems(values: Mapping[str, str], this_year: int, taken: Collection[str]) -> Problems:
    """What is wrong with the values, by field name.

    Args:
        values: of the form.
        this_year: the latest birth year.
        taken: codes that have a chart.
    """
    parsed = parse_patient(dict(values), this_year)
    if isinstance(parsed, Patient):
        if parsed.code not in taken:
            return {}
        what = f"{parsed.code} has a chart already"
        mend = "open it from the list, or choose another code"
        return {"code": Problem("patient code", what, mend)}
    found = {_FIELD_OF.get(problem.where, problem.where): problem for problem in parsed}
    if "code" in found and not values["code"]:
        found["code"] = Problem("patient code", "the code is missing", found["code"].mend)
    return found


def warning(code: str, near: Collection[str]) -> str:
    """What is said before a code is taken that looks like another patient's."""
    named = ", ".join(list(near)[:SHOWN_NEAR])
    more = f" and {len(near) - SHOWN_NEAR} more" if len(near) > SHOWN_NEAR else ""
    return (
        f"{code} is one slip of typing away from {named}{more}, who has a chart already. "
        "The same key again adds a new patient; or leave and open that chart."
    )


class PatientForm(FormScreen[Patient | None]):
    """Ends with the patient to be added, or None when it was left."""

    heading = "new patient"
    done = "add the patient"
    intro = "Only the code is needed. No names, no addresses: a chart knows its patient by code."
    about = (
        "A new patient gets a chart. Only the code is needed; the birth year and the sex pick "
        "the reference range, the affected side settles checklists that ask for it.",
        "A choice is changed with the arrow keys or by typing its first letter.",
    )

    def __init__(self, context: Context, taken: Collection[str] = ()) -> None:
        self._year = context.clock().year
        self._others = tuple(sorted(taken))
        self._warned = ("", "")
        self._key = ""

        def check(values: Mapping[str, str]) -> Problems:
            return patient_problems(values, self._year, taken)

        super().__init__(context, FormState(patient_fields(self._year), check=check))

    def press(self, key: str, action: str) -> None:
        """Type; only the same key again accepts what was warned of."""
        if key != self._warned[1]:
            self._warned = ("", "")
        self._key = key
        super().press(key, action)

    def taken(self) -> None:
        """Give the patient back; a code that looks like another is asked about once."""
        parsed = parse_patient(self.form.values, self._year)
        assert isinstance(parsed, Patient)
        near = lookalikes_of(parsed.code, self._others)
        if near and self._warned != (parsed.code, self._key):
            self._warned = (parsed.code, self._key)
            self.stay(warning(parsed.code, near))
            return
        self.dismiss(parsed)
