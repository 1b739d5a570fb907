"""The form as a value: typing, choosing, checking, leaving, and how it is painted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.problem import Problem
from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.kit.form import FormField, FormState, step, typed
from limbscribe.tui.kit.form_paint import HINT_ROWS, form_rows, hint_rows
from limbscribe.tui.kit.paint import width_of

from tests.support.app import text_of

SIDES = (("", "not stated"), ("left", "Left"), ("right", "Right"), ("lower", "lower limb"))
KEYMAP = Keymap()


def check(values: Mapping[str, str]) -> dict[str, Problem]:
    wrong: dict[str, Problem] = {}
    if not values["who"]:
        wrong["who"] = Problem("who", "who is missing", "type initials")
    if values["year"] and len(values["year"]) != 4:
        wrong["year"] = Problem("year", "no year", "four digits")
    return wrong


FORM = FormState(
    (
        FormField("who", "Who", "Initials.", longest=3, needed=True),
        FormField("year", "Year", "Four digits.", "number", longest=4),
        FormField("side", "Side", "One of them.", "choice", choices=SIDES),
        FormField("posture", "Posture", "In words.", value="supine", last="supine"),
    ),
    check=check,
    dated="02 May 2026",
)


def after(form: FormState, *keys: str) -> FormState:
    """The form after keys, each as the keymap knows it."""
    for key in keys:
        form = step(form, key, KEYMAP.action("form", key))
    return form


def test_letters_and_digits_go_into_the_field_and_enter_advances() -> None:
    form = after(FORM, "J", "T", "enter", "1", "9", "5", "8", "enter")
    assert (form.values["who"], form.values["year"], form.at) == ("JT", "1958", 2)


@pytest.mark.parametrize(
    ("keys", "part"),
    [
        (("enter",), ""),
        (("J", "T", "X", "Y"), "at most 3"),
        (("J", "enter", "x"), "only digits"),
        (("backspace",), "nothing to rub out"),
        (("up",), "first field"),
        (("f7",), "does nothing"),
    ],
)
def test_a_refused_key_is_heard_and_changes_no_value(keys: tuple[str, ...], part: str) -> None:
    before = after(FORM, *keys[:-1])
    form = after(before, keys[-1])
    assert form.refused
    assert part in form.message
    assert (form.values, form.at) == (before.values, before.at)


def test_arabic_digits_are_no_digits() -> None:
    assert after(FORM, "J", "enter", "٣").refused


def test_enter_stays_on_a_wrong_field_and_says_how_to_mend_it() -> None:
    form = after(FORM, "J", "enter", "1", "9", "enter")
    assert form.at == 1
    shown = text_of(hint_rows(form, 80, form.message))
    assert "! no year: four digits" in shown
    assert "year" not in after(form, "5").problems


def test_down_moves_on_but_marks_what_is_wrong() -> None:
    form = after(FORM, "down")
    assert form.at == 1
    assert "! who is missing" in text_of(form_rows(form, 80, 10))[1]


def test_a_choice_is_picked_by_first_letter_and_by_arrows() -> None:
    at_side = after(FORM, "J", "enter", "enter")
    assert after(at_side, "r").values["side"] == "right"
    assert after(at_side, "l").values["side"] == "left"
    assert after(at_side, "l", "l").values["side"] == "lower"
    assert after(at_side, "l", "l", "l").values["side"] == "left"
    assert after(at_side, "right").values["side"] == "left"
    assert after(at_side, "left").values["side"] == "lower"
    assert after(at_side, "z").refused


GROUPS = (
    *(("", "not stated"), ("stroke", "after stroke"), ("brain", "after brain injury")),
    *(("cord", "spinal cord disorder"), ("on", "cast on"), ("off", "cast off")),
)


@pytest.mark.parametrize(
    ("letters", "wanted"),
    [
        *(("stroke", "stroke"), ("str", "stroke"), ("brain", "brain"), ("after b", "brain")),
        *(("cord", "cord"), ("of", "off"), ("cast on", "on"), ("cast of", "off")),
        *(("s", "cord"), ("ss", "cord"), ("cc", "off"), ("ccc", "on"), ("STR", "stroke")),
        *(("a", "stroke"), ("aa", "brain"), ("aaa", "stroke"), ("n", "")),
    ],
)
def test_letters_find_any_word_of_a_choice(letters: str, wanted: str) -> None:
    field = FormField("group", "Group", "", "choice", choices=GROUPS)
    form = after(FormState((field,)), *letters)
    assert (form.values["group"], form.refused) == (wanted, False)


def test_letters_of_no_word_are_refused_and_letters_before_another_key_do_not_count() -> None:
    field = FormField("group", "Group", "", "choice", choices=GROUPS)
    form = FormState((field,))
    assert [after(form, letter).refused for letter in ("z", "r", " ", "f")] == [True] * 4
    assert after(form, "a", "f").values["group"] == "stroke"
    assert after(form, "a", "right", "f").refused


def test_a_value_taken_over_is_kept_by_enter_and_replaced_by_typing() -> None:
    at_posture = after(FORM, "J", "enter", "enter", "enter")
    assert at_posture.current.taken_over
    assert after(at_posture, "enter").values["posture"] == "supine"
    assert after(at_posture, "s", "i").values["posture"] == "si"
    assert after(at_posture, "backspace").values["posture"] == ""


def test_enter_on_the_last_field_takes_the_form_and_so_does_the_take_key() -> None:
    filled = after(FORM, "J", "enter", "enter", "enter")
    assert after(filled, "enter").outcome == "taken"
    assert after(FORM, "J", "f2").outcome == "taken"
    assert after(FORM, "J", "ctrl+d").outcome == "taken"


def test_a_form_with_problems_is_not_taken_and_goes_to_the_first() -> None:
    form = after(FORM, "J", "enter", "1", "up", "backspace", "f2")
    assert (form.outcome, form.at) == ("", 0)
    assert set(form.problems) == {"who", "year"}
    assert "2 fields" in form.message


def test_leaving_asks_once_when_something_was_typed() -> None:
    assert after(FORM, "escape").outcome == "left"
    asked = after(FORM, "J", "escape")
    assert asked.outcome == ""
    assert "not kept" in asked.message
    assert after(asked, "escape").outcome == "left"
    assert after(asked, "T", "escape").outcome == ""


def test_pasted_control_characters_are_refused() -> None:
    form = typed(FORM, "J\x1b")
    assert form.refused
    assert form.values["who"] == ""


def test_last_time_stands_beside_its_field_with_its_date() -> None:
    rows = text_of(form_rows(FORM, 80, 10))
    assert rows[0].strip() == "last time: 02 May 2026"
    assert rows[4].startswith("  Posture  supine")
    assert rows[4].endswith("supine")
    assert rows[0].index("last") == rows[4].rindex("supine")
    assert rows[1].endswith("needed")


def test_the_current_field_is_marked_without_colour_and_shows_the_end_of_long_text() -> None:
    long = replace(FORM.fields[3], value="abc " * 20 + "END", longest=100)
    rows = text_of(form_rows(replace(FORM, fields=(*FORM.fields[:3], long), at=3), 60, 10))
    assert rows[4].startswith("> Posture")
    assert "END_" in rows[4]


def test_more_fields_than_rows_keep_the_current_one_in_sight() -> None:
    many = FormState(tuple(FormField(f"f{i}", f"Field {i}", "Hint.") for i in range(30)), at=22)
    rows = text_of(form_rows(many, 60, 8))
    assert len(rows) == 8
    assert any(row.startswith("> Field 22") for row in rows)


@given(
    keys=st.lists(
        st.sampled_from([name for key in KEYS if key.id.startswith("form.") for name in key.keys])
        | st.characters(),
        max_size=40,
    ),
    width=st.integers(60, 130),
)
def test_no_keys_break_a_form_or_its_picture(keys: list[str], width: int) -> None:
    form = after(FORM, *keys)
    assert 0 <= form.at < len(form.fields)
    assert len(form.values["who"]) <= 3
    assert len(hint_rows(form, width, form.message)) == HINT_ROWS
    assert all(width_of(row) <= width for row in hint_rows(form, width, form.message))
