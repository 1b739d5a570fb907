"""The form that puts a patient's details right: what is typed becomes a signed document."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import partial

from ....core.chart.chart import Chart
from ....core.chart.details import change_words
from ....core.chart.events import moment_words
from ....core.chart.patient import Patient, parse_details
from ....core.chart.staff import parse_staff
from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.form import FormField, FormState, Problems
from ...kit.form_screen import FormScreen
from ...kit.signature import LONGEST_REASON, author_problems, reason_problems
from .fields import details_fields

NOTHING = "the details are as they were: nothing was changed"


def details_form(patient: Patient, today: date) -> FormState:
    """The form, with what is stated now."""
    reason = "Why it changes, e.g. typed wrongly, measured today. May stay empty."
    author = "Initials or staff code of who changes this. Never a full name."
    fields = (
        *details_fields(patient),
        FormField("reason", "Reason", reason, longest=LONGEST_REASON),
        FormField("author", "Changed by", author, longest=12, needed=True),
    )
    return FormState(fields, check=partial(details_problems, today=today))


def details_problems(values: Mapping[str, str], today: date) -> Problems:
    """What is wrong with the values, by field name."""
    found = parse_details(values, today)
    problems = {problem.where: problem for problem in found} if isinstance(found, list) else {}
    return problems | author_problems(values) | reason_problems(values)


class DetailsForm(FormScreen[str | None]):
    """Ends with a word on what was changed, or None when it was left."""

    heading = "patient details"
    done = "save"
    intro = "A change is signed and kept beside what was stated before, which stays readable."
    about = (
        "What is stated of a patient besides the code. The age is in completed years: a birthday "
        "counts from the first day of its month; where only the year is stated the age is about "
        "that reached by the end of the year.",
        "A choice is changed with the arrow keys or by letters of any word of it.",
        "Former details, and who changed them when and why, are in limbscribe history CODE.",
    )

    def __init__(self, context: Context, chart: Chart) -> None:
        self._chart = chart
        self._today = context.clock().date()
        super().__init__(context, details_form(chart.patient, self._today))
        self.subject = f"patient {chart.patient.code}"
        if chart.details:
            last = chart.details[-1]
            self.intro += f" Last changed {moment_words(last.at)} by {last.author}."

    def taken(self) -> None:
        """Store what differs; what cannot be stored stays in the form."""
        old, values = self._chart.patient, self.form.values
        found = parse_details(values, self._today)
        author = parse_staff(values["author"])
        assert isinstance(found, dict)
        assert isinstance(author, str)
        new, at = replace(old, **found), self.context.wall()
        id_, reason = secrets.token_hex(16), values["reason"]
        change = self._chart.change_of_details(id_, new, author, reason, at)
        if change is None:
            self.dismiss(NOTHING)
            return
        try:
            self.context.shelf.change_details(self._chart.id, change)
        except ShelfError as error:
            self.stay(str(error))
            return
        self.dismiss(f"changed: {'; '.join(change_words(old, new))}")
