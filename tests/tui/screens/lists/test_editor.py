"""The editor of checklists: whatever the keys, what it holds can be saved and read back."""

from __future__ import annotations

import stat
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.chart.checklist import Checklist, Item, parse_checklist
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.config.own_lists import (
    OwnFile,
    SavedList,
    checklist_toml,
    free_id,
    own_files,
    save_checklist,
)
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.kit.paint import filled
from limbscribe.tui.screens.lists.model import Editing, matches, step
from limbscribe.tui.screens.lists.paint import (
    SHIPPED,
    editor_hint,
    lists_hint,
    paint_editor,
    paint_lists,
    prompt_row,
)

from tests.support.app import fits, text_of

MUSCLES = shipped_muscles()
KEYMAP = Keymap()
SIZES = [(60, 20), (80, 24), (120, 40)]
NOON = datetime.fromisoformat("2026-11-25T12:00:00+01:00")
LIST = Checklist("own", "Own", (Item("soleus"), Item("hamstrings", "left")))


def typed(editing: Editing, *keys: str) -> Editing:
    """The editor after keys; a text in quotes is typed letter by letter."""
    for key in keys:
        for one in key[1:] if key.startswith("'") else (key,):
            editing = step(editing, one, KEYMAP.action("checklist", one))
    return editing


def new(*items: Item) -> Editing:
    return Editing(Checklist("", "New", items), MUSCLES)


def names(editing: Editing) -> list[str]:
    return [item.muscle for item in editing.checklist.items]


def test_muscle_groups_are_added_by_letters_and_stand_in_the_order_typed():
    editing = typed(new(), "a", "'sol", "enter", "a", "'ham", "enter", "a", "'elb fl", "enter")
    assert names(editing) == ["soleus", "hamstrings", "elbow-flexors"]
    assert editing.at == 2
    editing = typed(editing, "home", "a", "'gas", "enter")
    assert names(editing) == ["soleus", "gastrocnemius", "hamstrings", "elbow-flexors"]


def test_a_letter_that_fits_no_muscle_group_is_refused():
    editing = typed(new(), "a", "'sox")
    assert editing.typed.text == "so"
    assert editing.refused
    assert "'sox'" in editing.message


def test_the_same_muscle_group_again_is_taken_at_the_other_speed_and_then_refused():
    editing = typed(new(), "a", "'sol", "enter", "a", "'sol", "enter")
    speeds = {item.fast_velocity for item in editing.checklist.items}
    assert len(speeds) == 2
    assert "the other speed" in editing.message
    editing = typed(editing, "a", "'sol", "enter")
    assert editing.refused
    assert len(editing.checklist.items) == 2


def test_lines_are_moved_and_removed_and_all_of_it_taken_back():
    start = Editing(LIST, MUSCLES, LIST)
    editing = typed(start, "]")
    assert names(editing) == ["hamstrings", "soleus"]
    assert editing.at == 1
    assert typed(editing, "]").refused
    editing = typed(editing, "x")
    assert names(editing) == ["hamstrings"]
    editing = typed(editing, "u", "u")
    assert editing.checklist == LIST
    assert typed(editing, "u").refused


def test_every_way_and_every_column_can_be_changed():
    editing = typed(Editing(LIST, MUSCLES, LIST), *"sveofdtcg")
    made = editing.checklist
    assert made.items[0] == replace(
        LIST.items[0], sides="left", fast_velocity="V2", scale=MUSCLES["soleus"].scales[0].id
    )
    assert (made.order, made.first_side) == ("side", Side.RIGHT)
    assert (made.field_order, made.tries, made.counts) == ("slow-first", 2, "mean")
    assert made.quality_max == 5


def test_a_speed_that_stands_in_another_line_is_not_given_twice():
    both = new(Item("soleus", fast_velocity="V2"), Item("soleus", fast_velocity="V3"))
    editing = typed(both, "v")
    assert editing.checklist.items[0].fast_velocity in ("V2", None)
    assert isinstance(reread(editing.checklist), Checklist)


def test_leaving_asks_once_when_something_is_not_saved():
    assert typed(Editing(LIST, MUSCLES, LIST), "q").outcome == "left"
    editing = typed(Editing(LIST, MUSCLES, LIST), "x", "q")
    assert editing.outcome == ""
    assert "not saved" in editing.message
    assert typed(editing, "q").outcome == "left"
    assert typed(editing, "up", "q").outcome == ""


def test_an_empty_list_is_not_saved():
    editing = typed(new(), "w")
    assert (editing.outcome, editing.refused) == ("", True)


def test_letters_are_text_while_typing_and_commands_otherwise():
    editing = typed(Editing(LIST, MUSCLES, LIST), "r", "'quo x", "enter")
    assert editing.checklist.name == "quo x"
    assert typed(editing, "r", "backspace", "enter").refused


def test_renaming_begins_with_the_old_name_selected():
    start = typed(Editing(LIST, MUSCLES, LIST), "r")
    assert (start.typed.text, start.selected) == (LIST.name, True)
    assert "typing replaces it" in editor_hint(start, KEYMAP, 80)
    assert prompt_row(start, 40)[1] == (LIST.name, "here")
    assert prompt_row(typed(start, "home", "M"), 40)[1] == ("M", "")
    assert typed(start, "enter").checklist.name == LIST.name
    assert typed(start, "N", "enter").checklist.name == "N"
    assert typed(start, "home", "M", "enter").checklist.name == f"M{LIST.name}"
    assert typed(start, "left", "backspace").typed.text == f"{LIST.name[:-2]}{LIST.name[-1]}"
    rubbed = typed(start, "backspace")
    assert (rubbed.typed.text, rubbed.asking) == ("", "name")
    assert typed(rubbed, "backspace").asking == ""


def test_a_shipped_list_can_only_be_looked_at():
    editing = Editing(LIST, MUSCLES, LIST, fixed=True)
    for name in NAMED:
        after = typed(editing, name)
        assert (after.checklist, after.asking) == (LIST, "")
        assert after.outcome in ("", "left")
    rows = "\n".join(text_of(paint_editor(editing, KEYMAP, 80, 24)))
    assert SHIPPED in rows
    assert "copy it" in editor_hint(editing, KEYMAP, 80)


def reread(checklist: Checklist) -> Checklist | list[Problem]:
    named = checklist if checklist.id else replace(checklist, id="some")
    return parse_checklist(checklist_toml(named), "some.toml", MUSCLES)


NAMED = [name for key in KEYS if key.id.startswith("checklist.") for name in key.keys]
PRESSED = st.lists(st.sampled_from([*NAMED, *"abcdefghilmnoprstuvx "]), max_size=60)


@given(PRESSED)
def test_whatever_is_pressed_the_list_is_one_that_can_be_read_back(keys: list[str]):
    editing = typed(Editing(LIST, MUSCLES, LIST), *keys)
    assert 0 <= editing.at <= max(0, len(editing.checklist.items) - 1)
    if editing.checklist.items:
        assert reread(editing.checklist) == editing.checklist
    for width, height in SIZES:
        assert fits(paint_editor(editing, KEYMAP, width, height), width, height)


PRINTABLE = st.characters(exclude_categories=("C", "Zl", "Zp")).filter(str.isprintable)


@given(st.text(PRINTABLE, min_size=1, max_size=40))
def test_any_name_that_can_be_seen_is_written_and_read_back(name: str):
    assert reread(replace(LIST, name=name)) == replace(LIST, name=name)


# Files --------------------------------------------------------------------------------------


def save(folder: Path, checklist: Checklist, former: OwnFile | None = None):
    return save_checklist(folder, checklist, MUSCLES, former, NOON)


def test_a_new_list_is_a_private_file_that_the_catalogue_reads(tmp_path: Path):
    saved = save(tmp_path / "checklists", LIST)
    assert saved == SavedList(tmp_path / "checklists" / "own.toml")
    assert stat.S_IMODE(saved.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(saved.path.parent.stat().st_mode) == 0o700
    catalogue = load_catalogue(tmp_path)
    assert LIST in catalogue.checklists
    assert catalogue.problems == ()


def test_a_file_of_the_same_name_is_never_written_over(tmp_path: Path):
    (tmp_path / "own.toml").write_text("# mine\n")
    problem = save(tmp_path, LIST)
    assert isinstance(problem, Problem)
    assert "was left as it is" in problem.what
    assert (tmp_path / "own.toml").read_text() == "# mine\n"


def test_saving_again_keeps_the_version_before(tmp_path: Path):
    path = tmp_path / "hand.toml"
    path.write_text("# by hand\n" + checklist_toml(LIST))
    former = own_files(tmp_path, MUSCLES)["own"]
    made = replace(LIST, tries=3)
    saved = save(tmp_path, made, former)
    assert isinstance(saved, SavedList)
    assert saved.path == path
    assert saved.kept is not None
    assert saved.kept.read_text().startswith("# by hand")
    assert own_files(tmp_path, MUSCLES).keys() == {"own"}
    assert parse_checklist(path.read_text(), "hand.toml", MUSCLES) == made
    assert {p.name for p in tmp_path.iterdir()} == {path.name, saved.kept.name}
    assert {stat.S_IMODE(p.stat().st_mode) for p in tmp_path.iterdir()} == {0o600}


def test_a_file_that_somebody_changed_meanwhile_is_left_as_it_is(tmp_path: Path):
    save(tmp_path, LIST)
    former = own_files(tmp_path, MUSCLES)["own"]
    theirs = checklist_toml(replace(LIST, tries=5))
    former.path.write_text(theirs)
    problem = save(tmp_path, replace(LIST, tries=3), former)
    assert isinstance(problem, Problem)
    assert "changed this file" in problem.what
    assert former.path.read_text() == theirs
    assert len(list(tmp_path.iterdir())) == 1


def test_ids_are_made_from_names_and_never_taken_twice():
    assert free_id("Upper limb (own)", ()) == "upper-limb-own"
    assert free_id("Upper limb", {"upper-limb", "upper-limb-2"}) == "upper-limb-3"
    assert free_id("上肢", ()) == "list"


# Painting -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_editor_shows_the_lines_and_the_ways(width: int, height: int):
    editing = typed(Editing(LIST, MUSCLES, LIST), "t")
    rows = paint_editor(editing, KEYMAP, width, height)
    assert fits(rows, width, height)
    text = "\n".join(text_of(rows))
    for words in (
        "checklist: Own",
        "not saved yet",
        "2 tries",
        "> Soleus",
        "Left",
        "V3 usual",
    ):
        assert words in text
    assert "neutral-zero" in f"{text} {editor_hint(editing, KEYMAP, width)}"


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_the_lists_say_whose_they_are(width: int, height: int):
    lists = ((LIST, "own, own.toml"), (replace(LIST, name="Other"), SHIPPED))
    rows = paint_lists(lists, 1, width, height)
    assert fits(filled(rows, height), width, height)
    assert "own, own.toml" in "\n".join(text_of(rows))
    assert lists_hint(SHIPPED, KEYMAP).startswith(
        "comes with the program: Enter looks at it, c copies it"
    )


def test_matches_are_muscle_groups_whose_words_begin_so():
    assert [muscle.id for muscle in matches(MUSCLES, "rec fem")] == ["rectus-femoris"]
    assert matches(MUSCLES, "") == ()
