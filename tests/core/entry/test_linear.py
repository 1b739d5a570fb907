"""The entry in lines: the same reducer, the same readings as on the screen."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from limbscribe.core.entry.fields import quality_waits
from limbscribe.core.entry.linear import (
    answer_lines,
    help_lines,
    hold_ways,
    keys_of_line,
    question,
    refused_line,
    station_lines,
)
from limbscribe.core.entry.readings import session_readings
from limbscribe.core.entry.said import GRADES
from limbscribe.core.entry.state import EntryState, Mode, Moment
from limbscribe.core.entry.step import step
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.angles import AngleScale

from tests.support.stations import DEFICIT, NEUTRAL, both_sides, fresh, station, typed

WALL = "2026-11-25T09:41:00+01:00"
PRESIGNED = AngleScale("neutral-zero", 1, 0, presign=True)


def answered(state: EntryState, *lines: str) -> EntryState:
    """The state after answer lines, each of which must make sense."""
    for line in lines:
        keys = keys_of_line(state, line)
        assert not isinstance(keys, Problem), (line, str(keys))
        for key in keys:
            state, _ = step(state, key, Moment(state.rhythm.last + 1, WALL))
    return state


def test_the_same_session_by_keys_and_by_lines_gives_the_same_readings():
    """One session with every kind of answer, fed to both fronts."""
    stations = both_sides("hamstrings", "soleus", "elbow-flexors", scale=DEFICIT)
    by_keys, _ = typed(
        fresh(*stations),
        "45<enter>210<enter>"
        "w3<enter>cwarm room<enter>50<enter>215<enter>"
        "-20<enter>2-5<enter>"  # impossible: a deficit smaller at the fast stretch
        "<backspace>30<enter>ocheck twice<enter>"
        "nospasm<enter>"
        "k12<enter>40<enter>430<enter>"
        "u<backspace>5<enter>"
        "np",
    )
    by_lines = answered(
        fresh(*stations),
        "45", "2", "10",
        "w 3", "c warm room", "50", "2", "15",
        "-20", "2", "-5", "u", "30", "o check twice",
        "n o spasm",
        "k 12", "40", "4", "30",
        "u", "35",
        "n p",
    )  # fmt: skip
    assert session_readings(by_lines) == session_readings(by_keys)
    assert by_lines.drafts == by_keys.drafts


def test_a_reason_can_be_its_number():
    assert keys_of_line(fresh(), "n 1") == ("n", "1", "enter")
    assert answered(fresh(), "n 7 spasm").drafts == answered(fresh(), "n o spasm").drafts
    assert isinstance(keys_of_line(fresh(), "n 8"), Problem)


ANSWERS = st.lists(
    st.tuples(
        st.none() | st.integers(-40, 140), st.integers(0, 4), st.integers(-40, 140), st.booleans()
    ),
    max_size=6,
)


@given(ANSWERS, st.sampled_from(["fast-first", "slow-first"]), st.sampled_from([0, 1, 2]))
@settings(max_examples=150)
def test_any_values_come_out_alike(answers, order, which):
    """Typed on the screen or answered in lines: the same drafts, whatever the checks say."""
    scale = (NEUTRAL, DEFICIT, PRESIGNED)[which]
    stations = both_sides("hamstrings", "soleus", scale=scale)
    screen = lines = fresh(*stations, field_order=order)
    for r1, quality, r2, override in answers:
        values = {"r1": "" if r1 is None else str(r1), "quality": str(quality), "r2": str(r2)}
        for field in screen.fields:
            screen = _on_screen(screen, values[field], override)
            lines = _in_lines(lines, values[field], override)
            assert lines.drafts == screen.drafts
            assert lines.cursor == screen.cursor
            if screen.hold:
                return  # stopped for good: the next value would be meant for another field


def _on_screen(state: EntryState, value: str, override: bool) -> EntryState:
    if state.field == "quality":
        state, _ = typed(state, (value or "<enter>") + "<enter>" * quality_waits(state))
    else:
        sign = "" if not value else "-" if value.startswith("-") else "+"
        state, _ = typed(state, sign + value.removeprefix("-") + "<enter>")
    if state.flags and override:
        impossible = state.flags[0].level == "impossible"
        state, _ = typed(state, "oread<enter>" if impossible else "<enter>")
    return state


def _in_lines(state: EntryState, value: str, override: bool) -> EntryState:
    # A bare number takes the preset minus; a sign of its own says otherwise.
    signed = f"+{value}" if value and not value.startswith("-") else value
    state = answered(state, value if state.field == "quality" else signed)
    if state.flags and override:
        state = answered(state, "o read" if state.flags[0].level == "impossible" else "")
    return state


def test_a_sign_means_what_it_says_and_a_bare_number_takes_the_preset():
    for line, value in (("45", -45), ("-45", -45), ("+5", 5)):
        assert answered(fresh(station(scale=PRESIGNED)), line).drafts[0].r1 == (value,)
    for line, value in (("5", 5), ("-5", -5), ("+5", 5)):
        assert answered(fresh(station("soleus")), line).drafts[0].r1 == (value,)


def test_more_tries():
    state = answered(fresh(station("soleus")), "5m", "7", "2", "20m", "22")
    assert state.drafts[0].r1 == (5, 7)
    assert state.drafts[0].r2 == (20, 22)


@pytest.mark.parametrize(
    "line",
    ["12O", "1e3", "4 5", "\u0663", "n", "n z", "x", "o why", "--5", "5.5", "u 3", "g", "nx"],
)
def test_what_is_no_answer_changes_nothing(line):
    assert isinstance(keys_of_line(fresh(station("soleus")), line), Problem)


@pytest.mark.parametrize("line", ["22", "-1", "2m"])
def test_quality_is_one_digit(line):
    assert isinstance(keys_of_line(answered(fresh(station("soleus")), "5"), line), Problem)


def test_an_answer_refused_at_a_prompt_is_not_added_to():
    state = answered(fresh(station("soleus")), "w 11")
    assert state.mode is Mode.PAIN
    assert isinstance(keys_of_line(state, "7"), Problem)
    state = answered(state, "u", "w 7", "5")
    assert (state.drafts[0].pain, state.drafts[0].r1) == (7, (5,))


@pytest.mark.parametrize("line", ["1234", "045", "12-3"])
def test_u_takes_all_of_a_refused_answer_away(line: str):
    """Nobody sees digits that would be left of it, and an empty line would accept them."""
    state = fresh(station("soleus"))
    keys = keys_of_line(state, line)
    if isinstance(keys, Problem):
        state = refused_line(state, line, keys, Moment(1.0))
    else:
        state = answered(state, line)
    assert state.hold
    state = answered(state, "u")
    assert (state.hold, state.cursor.text) == (None, None)
    assert answered(state, "").drafts[0].r1 == (None,)


def taken(state: EntryState, *lines: str) -> EntryState:
    """The entry after lines as a terminal takes them, refused ones too."""
    for line in lines:
        now = Moment(state.rhythm.last + 10)
        keys = keys_of_line(state, line)
        if isinstance(keys, Problem):
            state = refused_line(state, line, keys, now)
            continue
        for key in keys:
            state = step(state, key, now)[0]
    return state


@pytest.mark.parametrize("said", ["n 1", "n o up", "l 1", "w 3", "k 5", "c off 2", "p side"])
def test_what_is_said_behind_a_refused_number_is_refused_too(said):
    """Who types from a list and does not look is stations further on by then."""
    held = taken(fresh(*both_sides("soleus")), "20", "2", "5")
    assert held.impossible
    on = taken(held, "15", said)
    assert (on.drafts, on.mode, on.hold.why) == (held.drafts, held.mode, held.hold.why)
    assert taken(on, "g sol r").cursor.station == 1, "it names its station"
    assert taken(taken(on, "u"), said, "o").drafts != held.drafts


def test_a_begun_station_is_marked_not_tested_by_o_and_not_by_an_empty_line():
    asked = taken(fresh(*both_sides("soleus")), "20", "2", "5", "n 1")
    assert "o accepts it" in hold_ways(asked)
    assert taken(asked, "").drafts == asked.drafts
    assert taken(asked, "o").drafts[0].not_tested == "pain"


def test_what_an_undo_brings_back_is_in_the_question():
    state = answered(fresh(station("soleus")), "-4", "u")
    assert question(state) == "R1 V3 deg [-4]: "
    assert answered(state, "").drafts[0].r1 == (-4,)
    assert answered(state, "8").drafts[0].r1 == (8,)


def test_running_stopwatch_takes_no_seconds():
    state = answered(fresh(station("soleus")), "k")
    assert isinstance(keys_of_line(state, "k 12"), Problem)
    assert answered(state, "k").drafts[0].clonus_s == 1


def test_what_is_said_names_the_side_and_never_the_gap_alone():
    state = fresh(*both_sides("soleus"))
    assert "Soleus, Left" in "\n".join(station_lines(state))
    assert "  after it: next Soleus, Right" in station_lines(state)
    assert question(state) == "R1 V3 deg (empty: no catch): "
    assert question(answered(state, "5", "left")) == "R1 V3 deg [5]: "
    before = answered(state, "5", "2")
    after = answered(before, "20")
    words = "\n".join(answer_lines(before, after, 5))
    assert words.startswith("Stored: Left Soleus: R1 5, quality 2, R2 20, gap 15 deg.")
    assert words.count("R2 20") == 1, "what was stored is said once"
    assert list(answer_lines(state, answered(state, "5"), 5)) == ["R1 5, Soleus, Left"]
    stopped = answered(answered(state, "20", "2"), "10")
    assert "IMPOSSIBLE" in "\n".join(answer_lines(before, stopped, 5))


def test_a_turn_is_said_before_it_is_needed_and_the_last_station_has_none():
    state = fresh(station("elbow-flexors"), station("hip-flexors"))
    assert "  after it: turn: supine; next Hip flexors, Left" in station_lines(state)
    last = answered(state, "n p")
    assert "  after it: no other station is open" in station_lines(last)


def test_the_help_has_the_grades_in_use_in_words():
    lines = list(help_lines(fresh()))
    assert [line for line in lines if line.startswith("quality ")] == [
        f"quality {words}" for words in GRADES[:5]
    ]
    assert f"quality {GRADES[5]}" in help_lines(fresh(quality_max=5))


@given(st.lists(st.text(max_size=12), max_size=12))
@settings(max_examples=200)
def test_any_lines_at_all(lines):
    """Nothing a script can send makes the entry fall over, or accepts what is no answer."""
    state = fresh()
    for line in lines:
        keys = keys_of_line(state, line)
        if not isinstance(keys, Problem):
            for key in keys:
                state, _ = step(state, key)
