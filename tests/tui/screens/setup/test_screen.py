"""The set-up: what is remembered, what is checked, the session it makes, the cautions."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.checklist import IMPORTED, Checklist, Item
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.questions import show_minutes
from limbscribe.core.entry.setup import (
    as_offered,
    lists_offered,
    parse_minutes,
    session_of,
    setup_of,
)
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.checks import RULES_VERSION
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.form import step
from limbscribe.tui.kit.form_paint import hint_rows
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.setup.cautions import caution_rows
from limbscribe.tui.screens.setup.model import followed, setup_form
from limbscribe.tui.screens.setup.screen import SetupScreen

from tests.support.app import catalogue, desk, text_of, type_keys
from tests.support.records import CHECKLISTS, MUSCLES, SHORT, earlier

from .filled import STARTED, chart, fill

FIRST = ("'jt", "enter", "'ab", "enter", "'l")


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        *(("", None), ("0", 0), ("90", 90), ("1:30", 90), ("0:05", 5), ("168:00", 10080)),
        *(("3h", 180), ("3 H", 180), ("1.5h", 90), ("1,5h", 90), ("1.33h", 80), ("168h", 10080)),
        *(("1h30", 90), ("1h30min", 90), ("90min", 90), ("90 m", 90), ("5min", 5), ("3:00", 180)),
    ],
)
def test_minutes_are_read(text: str, minutes: int | None) -> None:
    assert parse_minutes(text) == minutes


@pytest.mark.parametrize(
    "text",
    [
        "1:3",
        "1:60",
        ":30",
        "10081",
        "168:01",
        "-5",
        "3",
        "1,5",
        "1.5",
        "1h3",
        "169h",
        "٣",
        "1:30\n",
    ],
)
def test_other_minutes_are_refused_with_a_remedy(text: str) -> None:
    problem = parse_minutes(text)
    assert isinstance(problem, Problem)
    assert "1:30" in problem.mend


def test_a_time_since_the_dose_that_is_not_clear_keeps_the_field() -> None:
    """Letters are not dropped on the way: what is refused stays there with its remedy."""
    keymap = Keymap()
    form = setup_form(setup_of(catalogue(), chart()))
    form = replace(form, at=[field.name for field in form.fields].index("minutes"))
    for typed, what in (
        ("1,5", "no time since a dose"),
        ("3", "minutes: type 3h or 3min"),
    ):
        for key in (*typed, "enter"):
            form = step(form, key, keymap.action("form", key))
        assert (form.current.name, form.current.value) == ("minutes", typed)
        assert what in " ".join(text_of(hint_rows(form, 80, form.message)))
        form = step(form, "ctrl+u", "clear")


def test_the_ending_of_the_code_is_no_examiner() -> None:
    """Straight after a patient was added nobody asks for it: typed all the same, it is refused."""
    form = setup_form(setup_of(catalogue(), chart()))
    assert (
        "how the patient's code ends"
        in form.check({**form.values, "examiner": "014"})["examiner"].what
    )
    assert "examiner" not in form.check({**form.values, "examiner": "15"})


def test_the_set_up_says_what_the_configuration_left_out(tmp_path: Path) -> None:
    known = ", ".join("abcdefghij" * 20)
    wrong = (Problem("config.toml line 2", "no scale 'straight180'", known), Problem("x", "y"))
    here = desk(tmp_path)
    here = replace(here, catalogue=replace(here.catalogue, problems=wrong))
    rows = text_of(SetupScreen(here, chart()).paint(80, 24))
    assert rows[1].startswith("2 mistakes in the configuration: config.toml line 2: no scale")
    assert "limbscribe config names what was left out." in " ".join(rows[1:4])
    assert text_of(OpeningScreen(here).paint(80, 24))[-4].startswith("2 mistakes in the config")


def test_minutes_are_shown_as_hours() -> None:
    assert [show_minutes(m) for m in (None, 5, 95)] == ["not stated", "0:05", "1:35"]


def test_a_first_session_chooses_no_checklist_by_itself() -> None:
    form = setup_form(setup_of(catalogue(), chart()))
    assert form.values["checklist"] == ""
    assert set(form.check(form.values)) == {"examiner", "recorder", "checklist"}


def test_the_last_session_is_taken_over_but_people_and_dose_are_not() -> None:
    form = setup_form(setup_of(catalogue(), chart(earlier())))
    last = {field.name: field.last for field in form.fields}
    assert form.dated == "02 May 2026 10:15"
    assert form.values == {
        "examiner": "",
        "recorder": "",
        "checklist": "hemiplegia-short",
        "order": "side",
        "first_side": "left",
        "field_order": "slow-first",
        "tries": "3",
        "counts": "worst",
        "posture": "supine, head straight",
        "minutes": "",
        "notes": "",
        "date": "",
        "time": "",
        "last_values": "shown",
        "reader": "",
        "instrument": "goniometer",
        "orthosis": "",
        "illness": "",
    }
    assert (last["examiner"], last["recorder"]) == ("JT", "AB")
    assert (last["minutes"], last["notes"]) == ("1:35", "new orthosis")


def test_another_checklist_brings_its_own_ways_except_those_touched() -> None:
    last = earlier()
    form = fill(setup_form(setup_of(catalogue(), chart(last))), checklist="lower-limb", tries="2")
    new = followed(form, setup_of(catalogue(), chart(last)))
    assert (new.values["order"], new.values["field_order"]) == ("muscle", "fast-first")
    assert new.values["tries"] == "2"
    back = followed(fill(new, checklist="hemiplegia-short"), setup_of(catalogue(), chart(last)))
    assert (back.values["order"], back.values["counts"]) == ("side", "worst")


def test_the_session_is_explicit_in_everything() -> None:
    made_for = chart()
    form = fill(
        setup_form(setup_of(catalogue(), made_for)), examiner="jt", recorder="ab", minutes="1:30"
    )
    form = followed(fill(form, checklist="hemiplegia-short"), setup_of(catalogue(), made_for))
    made = session_of(form.values, catalogue(), made_for, "0f", STARTED)
    assert (made.examiner, made.recorder, made.started) == ("JT", "AB", STARTED)
    assert made.rules == RULES_VERSION
    assert made.conditions.minutes_since_dose == 90
    assert made.conditions.cautions_read is False
    assert {item.sides for item in made.checklist.items} == {"left"}
    assert all(i.posture and i.scale and i.fast_velocity for i in made.checklist.items)


def test_the_first_side_and_the_order_rule_the_stations() -> None:
    form = fill(setup_form(setup_of(catalogue(SHORT), chart())), examiner="JT", recorder="AB")
    form = followed(
        fill(form, checklist="short", first_side="right"), setup_of(catalogue(SHORT), chart())
    )
    made = session_of(form.values, catalogue(SHORT), chart(), "0f", STARTED)
    assert [item.sides for item in made.checklist.items] == ["right", "left"]


def test_a_remembered_posture_of_a_station_goes_into_the_session() -> None:
    soleus = MUSCLES["soleus"]
    reading = Reading("soleus", Side.LEFT, "prone, on a wedge", soleus.scale(), r2=5)
    last = replace(earlier(), checklist=SHORT, readings=(reading,))
    form = fill(setup_form(setup_of(catalogue(SHORT), chart(last))), examiner="JT", recorder="AB")
    made = session_of(form.values, catalogue(SHORT), chart(last), "0f", STARTED)
    assert made.checklist.items[0].posture == "prone, on a wedge"
    assert made.readings == ()


def test_a_list_that_is_gone_is_still_offered_as_it_was_used() -> None:
    own = Checklist(
        "gone",
        "Gone",
        (Item("soleus", "left", "V3"), Item("hamstrings", "left"), Item("soleus", "right", "V3")),
    )
    offered = lists_offered(CHECKLISTS, replace(earlier(), checklist=own))
    assert offered[0].items == (Item("soleus", "both", "V3"), Item("hamstrings", "left"))
    assert offered[1:] == CHECKLISTS
    assert as_offered(SHORT).items == SHORT.items


def test_the_list_of_an_import_is_named_by_its_stations_however_it_is_written() -> None:
    stations = (Item("soleus", "left"), Item("hamstrings", "left"), Item("soleus", "right"))
    made = Checklist(IMPORTED, "Imported", stations)
    assert made.title == as_offered(made).title == "3 stations"
    assert replace(made, items=stations[:1]).title == "1 station"


def test_a_checklist_with_an_unknown_muscle_is_refused_by_name() -> None:
    odd = Checklist("odd", "Odd", (Item("soleus"), Item("tail-wagger")))
    form = fill(
        setup_form(setup_of(catalogue(odd), chart())), checklist="odd", examiner="JT", recorder="AB"
    )
    problem = form.check(form.values)["checklist"]
    assert "tail-wagger" in problem.what
    assert "another checklist" in problem.mend


@pytest.mark.parametrize("name", ["Jo Doe", "ä", "-x", "jt;"])
def test_names_and_odd_characters_are_no_initials(name: str) -> None:
    form = fill(setup_form(setup_of(catalogue(), chart())), examiner=name)
    assert "examiner" in form.check(form.values)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("sources", [False, True])
def test_the_cautions_fit_one_page(size: tuple[int, int], sources: bool) -> None:
    rows = caution_rows("K-014", sources, Keymap(), size[0], size[1] - 1)
    assert len(rows) == size[1] - 1, "the last row is for the keys"
    assert all(width_of(row) <= size[0] for row in rows)
    assert "patient K-014" in text_of(rows)[0]
    assert "goes back to the set-up" in text_of(rows)[-1]


@pytest.mark.parametrize("size", [(60, 20), (80, 24)])
def test_every_field_fits_the_smallest_windows(tmp_path: Path, size: tuple[int, int]) -> None:
    screen = SetupScreen(desk(tmp_path), chart(earlier()))
    first = text_of(screen.paint(*size))
    notes = [field.name for field in screen.form.fields].index("notes")
    for at, field in enumerate(screen.form.fields):
        screen.form = replace(screen.form, at=at)
        shown = text_of(screen.paint(*size))
        assert len(shown) == size[1]
        assert any(row.startswith(f"> {field.label}") for row in shown), field.label
        if size == (80, 24) and at <= notes:
            assert any(row[2:].startswith(field.label) for row in first), field.label
    assert "patient K-014, session 2" in first[0]


async def test_only_the_confirm_key_gets_past_the_cautions(tmp_path: Path) -> None:
    given: list[Session | None] = []
    app = LimbscribeApp(desk(tmp_path))
    async with app.run_test() as pilot:
        screen = SetupScreen(app.context, chart())
        await app.push_screen(screen, given.append)
        await type_keys(pilot, *FIRST, "f2")
        assert screen.name_in_keymap == "cautions"
        await type_keys(pilot, "enter", "n", "s")
        assert given == []
        await type_keys(pilot, "up", "f2", "y")
    made = given[0]
    assert made is not None
    assert made.conditions.cautions_read
    assert made.started == STARTED
    assert (made.recorder, made.checklist.id) == ("AB", "lower-limb")


async def test_leaving_the_set_up_makes_no_session(tmp_path: Path) -> None:
    given: list[Session | None] = []
    app = LimbscribeApp(desk(tmp_path))
    async with app.run_test() as pilot:
        await app.push_screen(SetupScreen(app.context, chart()), given.append)
        await type_keys(pilot, "f10")
    assert given == [None]


def test_a_form_taken_by_keys_is_complete() -> None:
    keymap = Keymap()
    form = setup_form(setup_of(catalogue(), chart(earlier())))
    for key in ("J", "T", "enter", "A", "B", *["enter"] * 10):
        form = step(form, key, keymap.action("form", key))
    assert form.outcome == "taken"
