"""The set-up's further conditions: optional, behind the usual fields, and told to comparisons."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.comparability import session_differences
from limbscribe.core.chart.checklist import Checklist
from limbscribe.core.chart.session import Conditions
from limbscribe.core.entry.questions import INSTRUMENT_WORDS
from limbscribe.core.entry.setup import session_of, setup_of
from limbscribe.core.tardieu.measurement_error import INSTRUMENTS
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.form import FormState, step
from limbscribe.tui.screens.setup.model import setup_form

from tests.support.app import catalogue
from tests.support.records import earlier

from .filled import STARTED, chart, fill

MORE = {"reader": "kl", "instrument": "inclinometer", "orthosis": "0:45", "illness": "a cold"}


def taken(form: FormState, *keys: str) -> FormState:
    for key in keys:
        form = step(form, key, Keymap().action("form", key))
    return form


def conditions(**values: str) -> Conditions:
    form = fill(
        setup_form(setup_of(catalogue(), chart(earlier()))), examiner="jt", recorder="ab", **values
    )
    return session_of(form.values, catalogue(), chart(earlier()), "0f", STARTED).conditions


def test_the_common_case_takes_no_key_more() -> None:
    """Two people, then as many keys as there are usual fields from the checklist to the notes."""
    form = setup_form(setup_of(catalogue(), chart(earlier())))
    usual = [field.name for field in form.fields].index("notes") + 1
    keys = ("J", "enter", "A", *["enter"] * (usual - 2))
    assert taken(form, *keys).outcome == ""
    assert taken(form, *keys, "enter").outcome == "taken"


def test_below_the_notes_the_other_fields_are_reached_and_taken() -> None:
    form = setup_form(setup_of(catalogue(), chart(earlier())))
    names = [field.name for field in form.fields]
    assert names[-4:] == list(MORE)
    form = replace(fill(form, examiner="JT", recorder="AB"), at=names.index("notes"))
    form = taken(form, *["down"] * 4)
    assert form.current.name == "reader"
    assert taken(form, "enter", "enter", "enter").outcome == ""
    assert taken(form, "enter", "enter", "enter", "enter").outcome == "taken"


def test_what_was_typed_goes_into_the_session() -> None:
    found = conditions(**MORE)
    assert (found.reader, found.instrument) == ("KL", "inclinometer")
    assert (found.minutes_since_orthosis, found.illness) == (45, "a cold")


def test_left_alone_they_change_nothing_in_what_is_signed() -> None:
    found = conditions()
    assert (found.reader, found.instrument, found.illness) == ("", "", "")
    assert found.minutes_since_orthosis is None


def test_last_time_is_shown_and_only_the_instrument_is_taken_over() -> None:
    worn = Conditions("", None, "", True, "KL", "visual", 45, "a cold")
    last = replace(earlier(), conditions=worn)
    form = setup_form(setup_of(catalogue(), chart(last)))
    shown = {field.name: field.last for field in form.fields}
    assert [shown[name] for name in MORE] == ["KL", "by eye", "0:45", "a cold"]
    assert [form.values[name] for name in MORE] == ["", "visual", "", ""]
    assert [field.name for field in form.fields if field.name in MORE and field.taken_over] == [
        "instrument"
    ]


@pytest.mark.parametrize(
    ("name", "text", "what"),
    [("reader", "Jo Doe", "no initials"), ("orthosis", "1:3", "since an orthosis came off")],
)
def test_what_is_wrong_is_told(name: str, text: str, what: str) -> None:
    form = fill(setup_form(setup_of(catalogue(), chart(earlier()))), examiner="JT", recorder="AB")
    form = fill(form, **{name: text})
    assert what in form.check(form.values)[name].what


def test_every_instrument_of_the_figures_can_be_chosen() -> None:
    assert tuple(INSTRUMENT_WORDS) == INSTRUMENTS


def test_comparisons_hear_of_them() -> None:
    one = replace(earlier(), checklist=Checklist("x", "X", ()), conditions=conditions())
    other = replace(one, conditions=conditions(**MORE))
    assert {d.id for d in session_differences(one, other)} >= {
        "reader",
        "instrument",
        "orthosis",
        "illness",
    }
