"""A toxin treatment as it is typed, and what a form makes of keys."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from limbscribe.core.chart.event import Event
from limbscribe.tui.kit.form import FormField, FormState, step
from limbscribe.tui.screens.events.model import Before, asked_for, events_of
from limbscribe.tui.screens.events.treatment import opened

from tests.support.records import MUSCLES

TODAY = date(2026, 11, 25)
GOOD = {
    **{"kind": "botulinum-toxin", "date": "t", "product": "Invented A", "unit": "U"},
    **{"dilution": "in 2 ml", "guidance": "ultrasound", "note": "second time", "author": "jt"},
    **{"muscle 1": "sol l 50; two places", "muscle 2": "gastroc r 2,5", "muscle 3": ""},
    **{"goal 1": "heel on the floor; 2", "goal 2": "shoe on without help", "goal 3": ""},
}
HEAD = "b\n-14\nInvented A\nU\nin 2 ml\nultrasound\n\njt\n"


def made(values: dict[str, str]) -> list[Event]:
    return events_of(values, MUSCLES, TODAY, lambda place: f"e{place}")


def typed_into(form: FormState, keys: Iterable[str]) -> FormState:
    r"""The form after keys, with the fields its kind asks for after each of them.

    Args:
        form: the form before.
        keys: characters, "\n" for Enter, or names of actions.
    """
    kept: dict[str, FormField] = {}
    for key in keys:
        if key == "own":
            form = opened(form)
        else:
            action = "next" if key == "\n" else key if len(key) > 1 else ""
            form = step(form, key, action)
        form = asked_for(form, Before(), kept, MUSCLES)
        kept |= {field.name: field for field in form.fields}
    return form
