"""The form for a new patient."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from functools import partial

from ....core.chart.lookalike import lookalikes_of
from ....core.chart.patient import Patient, parse_patient
from ....core.problem import Problem
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen
from ..details.fields import details_fields

SHOWN_NEAR = 3
"""Codes named in a warning."""


def patient_fields() -> tuple[FormField, ...]:
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
        *details_fields(),
    )


def patient_problems(values: Mapping[str, str], today: date, taken: Collection[str]) -> Problems:
    """What is wrong with the values, by field name.

    Args:
        values: of the form.
        today: the latest birth is in its month.
        taken: codes that have a chart.
    """
    parsed = parse_patient(values, today)
    if isinstance(parsed, Patient):
        if parsed.code not in taken:
            return {}
        what = f"{parsed.code} has a chart already"
        mend = "open it from the list, or choose another code"
        return {"code": Problem("patient code", what, mend)}
    found = {"code" if one.where == "patient code" else one.where: one for one in parsed}
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
        "A new patient gets a chart. Only the code is needed; the month of birth and the sex pick "
        "the reference range, the affected side settles checklists that ask for it.",
        "A choice is changed with the arrow keys or by letters of any word of it.",
    )

    def __init__(self, context: Context, taken: Collection[str] = ()) -> None:
        self._today = context.clock().date()
        self._others = tuple(sorted(taken))
        self._warned = ("", "")
        self._key = ""
        check = partial(patient_problems, today=self._today, taken=taken)
        super().__init__(context, FormState(patient_fields(), check=check))

    def press(self, key: str, action: str) -> None:
        """Type; only the same key again accepts what was warned of."""
        if key != self._warned[1]:
            self._warned = ("", "")
        self._key = key
        super().press(key, action)

    def taken(self) -> None:
        """Give the patient back; a code that looks like another is asked about once."""
        parsed = parse_patient(self.form.values, self._today)
        assert isinstance(parsed, Patient)
        near = lookalikes_of(parsed.code, self._others)
        if near and self._warned != (parsed.code, self._key):
            self._warned = (parsed.code, self._key)
            self.stay(warning(parsed.code, near))
            return
        self.dismiss(parsed)
