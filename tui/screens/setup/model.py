"""The set-up of a session as a form."""

from __future__ import annotations

from dataclasses import astuple, replace

from ....core.entry.setup import Setup
from ...kit.form import FormField, FormState, with_field


def setup_form(setup: Setup) -> FormState:
    """The form of what is asked before a session."""
    # A field begins with what a question has, in the same order.
    fields = tuple(FormField(*astuple(question)) for question in setup.questions)
    form = FormState(fields, check=setup.problems, dated=setup.dated, enough="notes")
    return only_asked(form, setup)


def only_asked(form: FormState, setup: Setup) -> FormState:
    """The form without the questions that its answers leave no meaning, and with the others.

    Such questions stand below the one that decides, so that the field being typed stays.
    """
    there, values = {field.name: field for field in form.fields}, form.values
    ways = setup.ways(values["checklist"])
    fields = tuple(
        there.get(asked.name)
        or FormField(*astuple(replace(asked, value=ways.get(asked.name, asked.value))))
        for asked in setup.questions
        if setup.asks(asked.name, values)
    )
    return replace(form, fields=fields)


def followed(form: FormState, setup: Setup) -> FormState:
    """The form with the ways of the chosen checklist in every field not touched."""
    ways = setup.ways(form.values["checklist"])
    for field in form.fields:
        if field.name in ways and not field.touched:
            form = with_field(form, replace(field, value=ways[field.name]))
    return only_asked(form, setup)
