"""Wherever text is typed, the cursor goes into it: forms, search, the code again, names."""

from __future__ import annotations

from pathlib import Path

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.form import FormField, FormState, step
from limbscribe.tui.kit.form_paint import form_rows
from limbscribe.tui.kit.line_edit import LineEdit, Prompt, prompted
from limbscribe.tui.screens.guard import who
from limbscribe.tui.screens.guard.lock import LONGEST, LockedView, paint_locked
from limbscribe.tui.screens.lists import model
from limbscribe.tui.screens.lists.model import Editing
from limbscribe.tui.screens.opening.screen import OpeningScreen

from tests.support.app import NOW, desk, text_of, type_keys
from tests.support.records import MUSCLES, patient

KEYMAP = Keymap()
NAME = FormField("name", "Name", "Letters.", longest=6)
SIDE = FormField("side", "Side", "L or R.", "choice", choices=(("l", "Left"), ("r", "Right")))
POSTURE = FormField("posture", "Posture", "As last time.", value="supine", last="supine")
FORM = FormState((NAME, SIDE, POSTURE))


def after(form: FormState, *keys: str) -> FormState:
    """The form after keys."""
    for key in keys:
        form = step(form, key, KEYMAP.action("form", key))
    return form


def test_text_of_a_form_is_edited_at_the_cursor() -> None:
    form = after(FORM, "c", "a", "t", "home", "s", "end", "h", "left", "left", "delete")
    assert form.line == LineEdit("sca", "h")
    assert after(form, "backspace", "ctrl+u", "x").values["name"] == "x"
    assert after(form, "1", "2", "3").refused, "six characters fit, wherever the cursor is"
    assert after(form, "down", "up").line == LineEdit("scah"), "a field is entered at its end"


def test_left_and_right_still_choose_in_a_choice() -> None:
    at_side = after(FORM, "enter")
    assert after(at_side, "right").values["side"] == "l"
    assert after(at_side, "right", "right").values["side"] == "r"
    assert after(at_side, "left").values["side"] == "l"
    for key in ("home", "end", "delete", "ctrl+u", "backspace"):
        assert after(at_side, key).refused


def test_a_value_taken_over_is_gone_into_by_the_cursor_and_replaced_by_letters() -> None:
    at_posture = after(FORM, "enter", "enter")
    assert after(at_posture, "x").values["posture"] == "x"
    inside = after(at_posture, "left", "x")
    assert inside.values["posture"] == "supinxe"
    assert not inside.current.taken_over
    assert after(at_posture, "end", "x").values["posture"] == "supinex"
    for key in ("backspace", "delete", "ctrl+u"):
        assert after(at_posture, key).values["posture"] == ""


def test_the_cursor_is_painted_in_the_field() -> None:
    form = after(FORM, "c", "a", "t", "left")
    [row] = [row for row in form_rows(form, 80, 10) if "Name" in row[0][0]]
    assert [(text.strip(), style) for text, style in row[1:4]] == [
        ("ca", "here"),
        ("t", "field"),
        ("", "here"),
    ]


def test_the_code_is_typed_again_with_a_cursor() -> None:
    answer = Prompt()
    for key in ("0", "4", "left", "1", "end", "delete", "4"):
        answer = who.step(answer, "K-014", key, KEYMAP.action("patient", key))
    assert answer.line == LineEdit("014")
    assert who.step(answer, "K-014", "enter", "accept").outcome == "accepted"


def test_a_passphrase_is_edited_and_never_shown() -> None:
    now = Prompt()
    for key in ("h", "r", "n", "left", "left", "e"):
        now = prompted(now, key, KEYMAP.action("locked", key), LONGEST)
    assert now.line.text == "hern"
    rows = " ".join(text_of(paint_locked(LockedView(1, asks=True), NOW, 80, now.line)))
    assert "> 4 characters, the cursor after 2_" in rows
    assert "hern" not in rows
    assert prompted(now, "ctrl+u", "clear", LONGEST).line.text == ""


def test_the_name_of_a_checklist_is_edited() -> None:
    editing = Editing(Checklist("own", "Legs", (Item("soleus"),)), MUSCLES)
    for key in ("r", "home", "2", " ", "enter"):
        editing = model.step(editing, key, KEYMAP.action("checklist", key))
    assert editing.checklist.name == "2 Legs"
    assert editing.at == 0


async def test_the_search_is_edited_and_the_list_follows(tmp_path: Path) -> None:
    here = desk(tmp_path)
    for code in ("K-014", "K-114", "B-1"):
        here.shelf.create(patient(code))
    async with LimbscribeApp(here).run_test() as pilot:
        opening = pilot.app.screen
        assert isinstance(opening, OpeningScreen)
        await type_keys(pilot, "/", "'14", "home", "'1", "home", "'k")
        assert opening.listing.query == "K114"
        assert [entry.code for entry in opening.listing.shown] == ["K-114"]
        await type_keys(pilot, "delete")
        assert opening.listing.query == "K114"
        assert "no code contains 'K14'" in opening.message
        await type_keys(pilot, "left", "delete", "'x")
        assert opening.listing.query == "114"
        await type_keys(pilot, "ctrl+u")
        assert opening.listing.searching
        assert len(opening.listing.shown) == 3
