"""Reading back: one key more a station, nothing committed before it, the same readings after it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from limbscribe.core.entry.linear import answer_lines, keys_of_line, question
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.readings import read_back_words, reading_of, session_readings
from limbscribe.core.entry.state import Bell, Finished, Mode, Save, begin
from limbscribe.core.entry.step import step
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.reading import Side

from tests.support.stations import DEFICIT, both_sides, fresh, keys_of, station, typed


def test_the_station_is_said_in_one_line_and_enter_confirms_it():
    state, effects = typed(fresh(read_back=True), "-45<enter>2-10<enter>")
    assert state.mode is Mode.READ_BACK
    assert state.message == "Left Hamstrings: R1 minus 45, quality 2, R2 minus 10"
    assert not any(isinstance(effect, Bell) for effect in effects)
    assert (state.cursor.station, state.drafts[0].done) == (0, False)
    assert state.drafts[0].r2 == (-10,), "the last field is accepted, and so on disk"
    state, effects = typed(state, "<enter>")
    assert (state.mode, state.cursor.station, state.drafts[0].done) == (Mode.FIELDS, 1, True)
    assert [type(effect) for effect in effects] == [Save]
    assert state.drafts[0].entered


def test_no_catch_and_every_try_and_the_order_of_the_fields_are_said():
    state, _ = typed(fresh(read_back=True, field_order="slow-first"), "20m25<enter><enter>0<enter>")
    assert state.message == "Left Hamstrings: R2 20 and 25, R1 no catch, quality 0"


def test_one_key_more_a_station_and_not_another():
    stations = both_sides("hamstrings", "soleus", scale=DEFICIT)
    script = "45<enter>210<enter>50<enter>215<enter>30<enter>25<enter>28<enter>24<enter>"
    plain, _ = typed(fresh(*stations), script)
    state, count, effects = fresh(*stations, read_back=True), 0, ()
    for key in keys_of(script):
        state, _ = typed(state, f"<{key}>")
        if state.mode is Mode.READ_BACK:
            state, effects = typed(state, "<enter>")
            count += 1
    assert count == 4
    assert state.drafts == plain.drafts
    assert isinstance(effects[-1], Finished)


@pytest.mark.parametrize("key", ["<backspace>", "<left>", "<escape>"])
def test_back_to_the_field_and_said_again(key):
    state, _ = typed(fresh(read_back=True), f"5<enter>220<enter>{key}")
    assert (state.mode, state.cursor.station, state.cursor.place) == (Mode.FIELDS, 0, 2)
    state, _ = typed(state, "22<enter>")
    assert state.message == "Left Hamstrings: R1 5, quality 2, R2 22"
    assert not typed(state, "")[0].drafts[0].done
    assert typed(state, "<enter>")[0].drafts[0].r2 == (22,)


def test_undo_takes_the_last_field_back_and_the_confirmation():
    state, _ = typed(fresh(read_back=True), "5<enter>220<enter>")
    undone, _ = typed(state, "u")
    assert (undone.mode, undone.drafts[0].r2, undone.cursor.text) == (Mode.FIELDS, (), "20")
    confirmed, _ = typed(state, "<enter>u")
    assert (confirmed.drafts[0].done, confirmed.drafts[0].r2) == (False, (20,))
    assert typed(confirmed, "<enter>")[0].mode is Mode.READ_BACK


@pytest.mark.parametrize("key", ["4", "-", "n", "m", "<down>", "<home>"])
def test_digits_and_commands_wait_for_the_confirmation(key):
    """The digits may be those of the next station, typed by somebody who forgot to confirm."""
    state, _ = typed(fresh(read_back=True), "5<enter>220<enter>")
    after, effects = typed(state, key)
    assert (after.mode, after.drafts, after.cursor) == (Mode.READ_BACK, state.drafts, state.cursor)
    assert "Enter confirms, Backspace goes back to the field" in effects[-1].text


def test_what_was_not_tested_is_not_read_back():
    state, _ = typed(fresh(read_back=True), "np")
    assert (state.drafts[0].done, state.cursor.station) == (True, 1)


def test_a_missing_field_is_asked_for_first():
    state, _ = typed(fresh(read_back=True), "<right><right>20<enter>")
    assert state.mode is Mode.FIELDS
    assert typed(state, "5<enter>2")[0].mode is Mode.FIELDS
    assert typed(state, "5<enter>2<enter><enter>")[0].mode is Mode.READ_BACK


def test_flags_of_the_whole_station_speak_before_it_is_read_back():
    state, _ = typed(fresh(*both_sides("soleus"), read_back=True), "5<enter>220<enter><enter>")
    state, _ = typed(state, "5<enter>220<enter>")
    assert [flag.rule for flag in state.flags] == ["sides-equal"]
    state, _ = typed(state, "<enter>")
    assert state.mode is Mode.READ_BACK
    state, effects = typed(state, "<enter>")
    assert state.drafts[1].done
    assert not any(isinstance(effect, Bell) for effect in effects)
    assert [flag.rule for flag in reading_of(state, 1).flags] == ["sides-equal"]


def test_an_impossible_one_let_stand_is_read_back_too():
    state, _ = typed(fresh(station("soleus"), read_back=True), "20<enter>210<enter>otwice<enter>")
    assert state.mode is Mode.READ_BACK
    state, _ = typed(state, "<enter>")
    assert [one.reason for one in reading_of(state, 0).overrides] == ["twice"]


def test_broken_off_before_the_confirmation_it_is_read_back_again():
    plan = fresh(read_back=True).plan
    _, effects = typed(begin(plan), "5<enter>220<enter>")
    docs = [save_to_doc(effect, "now") for effect in effects if isinstance(effect, Save)]
    state, problems = replay(plan, docs)
    assert problems == []
    assert (state.mode, state.drafts[0].r2, state.drafts[0].done) == (Mode.FIELDS, (20,), False)
    assert typed(state, "<enter>")[0].mode is Mode.READ_BACK


def test_in_lines():
    state = fresh(read_back=True)
    said = ""
    for line in ("-45", "2", "-10"):
        before = state
        for key in keys_of_line(state, line):
            state, _ = step(state, key)
        said = " ".join(answer_lines(before, state, 5))
    assert said == "Left Hamstrings: R1 minus 45, quality 2, R2 minus 10"
    assert question(state) == "confirm: "
    assert isinstance(keys_of_line(state, "30"), Problem)
    assert isinstance(keys_of_line(state, "n p"), Problem)
    assert keys_of_line(state, "left") == ("left",)
    assert keys_of_line(state, "u") == ("u",)
    [key] = keys_of_line(state, "")
    assert step(state, key)[0].drafts[0].done


SCRIPTS = ["45<enter>2", "210<enter>", "<enter>0", "20<enter>", "30m", *"0123456789-mnpuyf"]
MOVES = ["<enter>", "<left>", "<backspace>", "<up>", "<down>", "<home>"]


@settings(max_examples=200)
@given(st.lists(st.sampled_from([*SCRIPTS, *MOVES])).map("".join).map(keys_of))
def test_whatever_is_typed_confirming_gives_the_readings_of_an_entry_without_it(keys):
    """Enter at every read-back; the other entry is typed the same keys without those."""
    plain, state = fresh(), fresh(read_back=True)
    for key in keys:
        plain, _ = step(plain, key)
        state, _ = step(state, key)
        if state.mode is Mode.READ_BACK:
            assert state.message == read_back_words(state)
            state, _ = step(state, "enter")
        if key in "uy":
            return  # a confirmation is a step of its own to undo
        assert session_readings(state) == session_readings(plain)
        assert (state.cursor, state.mode) == (plain.cursor, plain.mode)


def test_sides_are_in_full():
    right = fresh(station(side=Side.RIGHT), read_back=True)
    assert typed(right, "5<enter>220<enter>")[0].message.startswith("Right Hamstrings:")
    renamed = replace(right.plan.stations[0].muscle, name="Knee flexors")
    plan = replace(right.plan, stations=(replace(right.plan.stations[0], muscle=renamed),))
    named, _ = typed(begin(plan), "5<enter>220<enter>")
    assert named.message.startswith("Right Knee flexors: R1 5")
