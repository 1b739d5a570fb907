"""A form that is filled in, and a chart to set a session up for."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Session

from tests.support.records import patient

if TYPE_CHECKING:
    from limbscribe.tui.kit.form import FormState

STARTED = "2026-11-25T09:41:00+01:00"


def chart(*sessions: Session) -> Chart:
    """A chart with these sessions."""
    return Chart("c" * 32, patient(), sessions, (), (), ())


def fill(form: FormState, **values: str) -> FormState:
    """The form with values typed into its fields."""
    fields = tuple(
        replace(f, value=values[f.name], touched=True) if f.name in values else f
        for f in form.fields
    )
    return replace(form, fields=fields)
