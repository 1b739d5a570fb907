"""The sentence after each station, what comes next, and the grades in words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.entry.prompts import goto_matches
from limbscribe.core.entry.said import (
    GRADES,
    enter_means_no_catch,
    grade_words,
    next_words,
    stored_words,
    turn_words,
)
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu import glossary

from tests.support.records import KEYS, state_of
from tests.support.stations import typed

CALF = "Stored: Left Gastrocnemius"


def after(keys: str, last: str, **changes) -> str:
    """What is said of the last key."""
    before = state_of(keys, **changes)
    return stored_words(before, step(before, KEYS.get(last, last))[0])


@pytest.mark.parametrize(
    ("keys", "last", "words"),
    [
        ("10\n220", "\n", "Stored: Left Gastrocnemius: R1 10, quality 2, R2 20, gap 10 deg."),
        ("-5\n20", "\n", "Stored: Left Gastrocnemius: R1 minus 5, quality 2, R2 0, gap 5 deg."),
        ("\n120", "\n", "Stored: Left Gastrocnemius: R1 no catch, quality 1, R2 20, no gap."),
        ("n", "p", "Stored: Left Gastrocnemius: not tested, pain."),
        ("npw8", "\n", "Stored: Left Gastrocnemius: not tested, pain, pain 8 of 10."),
        ("ntcill", "\n", "Stored: Left Gastrocnemius: not tested, no time, with a comment."),
        ("10\n2np", "o", f"{CALF}: R1 10, quality 2, R2 none, rest not tested, pain."),
        ("10\n22", "0", ""),
        ("10", "\n", ""),
        ("10\n220\n", "u", ""),
        ("10\n220\nu", "y", "Stored: Left Gastrocnemius: R1 10, quality 2, R2 20, gap 10 deg."),
    ],
)  # fmt: skip
def test_what_was_stored_in_one_sentence(keys: str, last: str, words: str):
    assert after(keys, last) == words


def test_the_order_of_the_sentence_is_that_of_typing():
    words = after("20\n10\n", "2", field_order="slow-first")
    assert words == "Stored: Left Gastrocnemius: R2 20, R1 10, quality 2, gap 10 deg."


def test_r1_just_beyond_r2_is_said_as_the_screen_shows_it():
    done = state_of("10\n220\n")
    beyond = replace(done.drafts[0], r1=(21,))
    after = replace(done, drafts=(beyond, *done.drafts[1:]))
    words = stored_words(state_of("21\n2"), after)
    assert words.endswith("gap 0, R1 1 deg beyond R2.")


def test_the_next_station_and_the_turn_are_named_before_they_come():
    items = (Item("elbow-flexors", "left"), Item("hip-flexors", "left"), Item("soleus", "left"))
    state = state_of("", Checklist("t", "Turning", items))
    found = [(turn_words(state), next_words(state))]
    for _ in range(2):
        state = step(state, "down")[0]
        found.append((turn_words(state), next_words(state)))
    assert found == [
        ("turn: supine", "next Hip flexors, Left"),
        ("", "next Soleus, Left"),
        ("turn: sitting", "next Elbow flexors, Left"),
    ]


def test_another_posture_counts_as_it_is_now():
    state = state_of("")
    there = state.plan.stations[0].muscle.posture
    moved = replace(state.drafts[0], posture="prone, foot over the edge")
    state = replace(state, drafts=(moved, *state.drafts[1:]))
    assert there != "prone"
    assert turn_words(state) == f"turn: {state.plan.stations[1].muscle.posture}"


def test_the_last_open_station_has_no_next_one():
    state = state_of("10\n220\nnrnr")
    assert len(state.open_stations) == 1
    assert (next_words(state), turn_words(state)) == ("no other station is open", "")


@pytest.mark.parametrize(
    ("keys", "means"),
    [
        ("", True),
        ("1", False),
        ("10\n", False),
        ("10\n220\n<", False),
        ("n", False),
        ("nr<", False),
    ],
)
def test_when_enter_means_no_catch(keys: str, means: bool):
    assert enter_means_no_catch(state_of(keys)) is means


def test_in_slow_first_order_it_means_no_catch_at_r1_only():
    assert not enter_means_no_catch(state_of("", field_order="slow-first"))
    assert enter_means_no_catch(state_of("20\n", field_order="slow-first"))


def test_grades_are_shown_at_the_quality_as_far_as_they_are_in_use():
    assert grade_words(state_of("")) == ()
    assert grade_words(state_of("10\n")) == GRADES[:5]
    assert grade_words(state_of("10\n", quality_max=5)) == GRADES
    assert grade_words(state_of("10\nc")) == ()
    assert [words[0] for words in GRADES] == [term.word for term in glossary.GRADES]
    assert all(len(words) <= 42 for words in GRADES)


def test_of_two_stations_at_two_velocities_each_is_named_and_found():
    both = Checklist("both", "Both", (Item("soleus", "left", "V3"), Item("soleus", "left", "V2")))
    state = state_of("", both)
    assert next_words(state) == "next Soleus, Left at V2"
    after, _ = typed(state, "-5<enter>220<enter>")
    assert stored_words(typed(state, "-5<enter>220")[0], after) == (
        "Stored: Left Soleus at V3: R1 minus 5, quality 2, R2 20, gap 25 deg."
    )
    after, _ = typed(state, "np")
    assert stored_words(state, after) == "Stored: Left Soleus at V3: not tested, pain."
    after, _ = typed(state, "gsol l<enter>")
    assert after.hold.why == "2 stations: type V2 or V3"
    for letters, station in (("v2", 1), ("sol v3", 0), ("soleus left v2", 1)):
        assert goto_matches(state, letters) == (station,)
    assert next_words(state_of("")) == "next Gastrocnemius, Right"
    assert goto_matches(state_of(""), "v") == ()
