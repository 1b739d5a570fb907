"""The entry reducer: the main path, each key, and what no key sequence may do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.prompts import REASON_LETTERS, goto_matches
from limbscribe.core.entry.readings import counted, reading_of
from limbscribe.core.entry.state import Bell, EntryState, Field, Finished, Mode, Moment, Save, begin
from limbscribe.core.entry.step import step
from limbscribe.core.entry.undo import taken_back
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import NOT_TESTED, Side

from tests.support.stations import (
    DEFICIT,
    NAMED_KEYS,
    NEUTRAL,
    both_sides,
    fresh,
    keys_of,
    plan,
    station,
    typed,
)

PRESIGNED = AngleScale("neutral-zero", 1, 0, presign=True)


def saves(effects: list[object]) -> int:
    return sum(isinstance(effect, Save) and effect.op == "do" for effect in effects)


# The main path ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("order", "script"),
    [("fast-first", "{r1}<enter>{q}{r2}<enter>"), ("slow-first", "{r2}<enter>{r1}<enter>{q}")],
)
@pytest.mark.parametrize(
    ("scale", "r1", "r2"),
    [(DEFICIT, "45", "10"), (DEFICIT, "104", "5"), (PRESIGNED, "45", "10"), (NEUTRAL, "5", "20")],
)
def test_keystroke_floor(order, script, scale, r1, r2):
    """A station costs its digits, one digit of quality and one Enter an angle: not a key more."""
    state = fresh(*both_sides("hamstrings", "soleus", scale=scale), field_order=order)
    keys = keys_of(script.format(r1=r1, q="2", r2=r2))
    for key in keys:
        state, effects = step(state, key)
        assert not any(isinstance(effect, Bell) for effect in effects)
    assert len(keys) == len(r1) + len(r2) + 1 + 2
    assert state.drafts[0].done
    assert state.cursor.station == 1
    assert state.cursor.place == 0


def test_whole_session_on_the_main_path():
    script = "45<enter>210<enter>50<enter>215<enter>30<enter>25<enter>28<enter>24<enter>"
    state, effects = typed(fresh(*both_sides("hamstrings", "soleus", scale=DEFICIT)), script)
    assert [draft.done for draft in state.drafts] == [True] * 4
    assert [(reading_of(state, i).r1, reading_of(state, i).r2) for i in range(4)] == [
        (45, 10),
        (50, 15),
        (30, 5),
        (28, 4),
    ]
    assert isinstance(effects[-1], Finished)
    assert saves(effects) == 12


def test_presigned_scale_types_no_minus():
    state, _ = typed(fresh(station(scale=PRESIGNED)), "45<enter>210<enter>")
    assert state.drafts[0].r1 == (-45,)
    assert state.drafts[0].r2 == (-10,)


def test_minus_flips_the_sign_from_anywhere_in_the_field():
    for script in ("-45<enter>", "4-5<enter>", "45-<enter>", "-4-5-<enter>"):
        state, _ = typed(fresh(station("soleus")), script)
        assert state.drafts[0].r1 == (-45,)


def test_minus_on_an_accepted_value_means_minus_and_a_digit_then_starts_anew():
    state, _ = typed(fresh(station("soleus")), "20<enter><left>-")
    assert typed(state, "<enter>")[0].drafts[0].r1 == (-20,)
    assert typed(state, "15<enter>")[0].drafts[0].r1 == (-15,)
    assert typed(state, "<backspace>5<enter>")[0].drafts[0].r1 == (-25,)
    assert typed(state, "-<enter>")[0].drafts[0].r1 == (20,)
    state, _ = typed(fresh(station("soleus")), "-20<enter><left>")
    assert typed(state, "-<enter>")[0].drafts[0].r1 == (-20,)
    assert typed(state, "+<enter>")[0].drafts[0].r1 == (20,)
    assert typed(state, "15<enter>")[0].drafts[0].r1 == (15,)


def test_minus_zero_is_zero():
    state, _ = typed(fresh(station("soleus")), "-0<enter>")
    assert str(state.drafts[0].r1[0]) == "0"


def test_empty_r1_is_no_catch_and_gap_is_undefined():
    state, _ = typed(fresh(station("soleus")), "<enter>020<enter>")
    reading = reading_of(state, 0)
    assert (reading.r1, reading.quality, reading.r2) == (None, 0, 20)
    assert reading.gap is None
    assert reading.r1_tries == (None,)


def test_empty_r2_and_empty_quality_are_refused():
    state, effects = typed(fresh(station("soleus")), "5<enter><enter>")
    assert state.field is Field.QUALITY
    assert isinstance(effects[-1], Bell)
    state, effects = typed(state, "<backspace>2<enter><enter>")
    assert state.field is Field.R2
    assert "R2 is missing" in state.message


def test_sign_without_digits_is_refused():
    state, effects = typed(fresh(station("soleus")), "-<enter>")
    assert state.field is Field.R1
    assert isinstance(effects[-1], Bell)


@pytest.mark.parametrize("key", ["\u0663", "\uff15", "x", ".", ",", "1_0", "Ω", "²", "f13"])
def test_only_ascii_digits_are_digits(key):
    state = fresh(station("soleus"))
    after, effects = step(state, key)
    assert after.cursor == state.cursor
    assert isinstance(effects[0], Bell)


def test_fourth_digit_is_refused():
    state, effects = typed(fresh(station("soleus")), "1234")
    assert state.cursor.text == "123"
    assert isinstance(effects[-1], Bell)


@pytest.mark.parametrize(("highest", "refused"), [(4, "5"), (5, "6")])
def test_quality_beyond_the_scale_in_use_is_refused(highest, refused):
    state, _ = typed(fresh(station("soleus"), quality_max=highest), "5<enter>")
    after, effects = step(state, refused)
    assert after.drafts == state.drafts
    assert isinstance(effects[0], Bell)
    assert step(state, str(highest))[0].drafts[0].quality == highest


# Backspace and moving -----------------------------------------------------------------------


def test_backspace_rubs_out_then_goes_back_a_field_and_edits_what_is_there():
    state, _ = typed(fresh(station("soleus")), "12<enter><backspace>")
    assert (state.field, state.cursor.text) == (Field.R1, None)
    state, _ = typed(state, "<backspace>5<enter>")
    assert state.drafts[0].r1 == (15,)


def test_a_value_can_be_rubbed_out_to_no_catch():
    state, _ = typed(fresh(station("soleus")), "1<enter><backspace><backspace><enter>")
    assert state.drafts[0].r1 == (None,)


def test_enter_on_an_accepted_field_keeps_it():
    state, _ = typed(fresh(station("soleus")), "5<enter>220<enter><up><enter><enter><enter>")
    assert reading_of(state, 0).r1 == 5
    assert reading_of(state, 0).r2 == 20


def test_moving_between_stations():
    state = fresh()
    names = [s.name for s in state.plan.stations]
    assert names == ["Hamstrings, Left", "Hamstrings, Right", "Soleus, Left", "Soleus, Right"]
    for script, index in [
        ("<down>", 1),
        ("<down><down><up>", 1),
        ("<pagedown>", 2),
        ("<down><pagedown><pageup>", 1),
        ("<end>", 3),
        ("<end><home>", 0),
    ]:
        assert typed(state, script)[0].cursor.station == index
    assert isinstance(typed(state, "<up>")[1][-1], Bell)


def test_home_and_end_go_to_open_stations_only():
    state, _ = typed(fresh(), "nt<end>nt")
    assert typed(state, "<home>")[0].cursor.station == 1
    assert typed(state, "<end>")[0].cursor.station == 2


def test_go_to_by_letters():
    state = fresh()
    assert goto_matches(state, "sol r") == (3,)
    assert goto_matches(state, "h") == (0, 1)
    assert typed(state, "gsol r<enter>")[0].cursor.station == 3
    after, effects = typed(state, "gxyz<enter>")
    assert after.mode is Mode.GOTO
    assert isinstance(effects[-1], Bell)


def test_go_to_takes_a_name_as_it_is_written_before_a_longer_one():
    state = fresh(*both_sides("hamstrings", "hamstrings-hip-40"))
    assert goto_matches(state, "ham") == (0, 1, 2, 3)
    for letters in ("hamstrings l", "Hamstrings  LEFT", "hamstr left"):
        assert goto_matches(state, letters) == (0,), letters
    for letters in ("hamstrings hip 40 r", "40 r", "hamstr40 right"):
        assert goto_matches(state, letters) == (3,), letters


def test_next_open_station_wraps_round():
    state, _ = typed(fresh(), "<end>nt")
    assert state.cursor.station == 0


# Commands -----------------------------------------------------------------------------------


@pytest.mark.parametrize("letter", [letter for letter in REASON_LETTERS if letter != "o"])
def test_not_tested_takes_two_keys(letter):
    state, effects = typed(fresh(), f"n{letter}")
    assert state.drafts[0].not_tested == REASON_LETTERS[letter]
    assert state.drafts[0].not_tested in NOT_TESTED
    assert state.drafts[0].done
    assert state.cursor.station == 1
    assert saves(effects) == 1


@pytest.mark.parametrize(("digit", "letter"), list(zip("1234567", REASON_LETTERS, strict=True)))
def test_a_reason_can_be_its_number(digit, letter):
    by_digit, by_letter = (typed(fresh(), f"n{digit}<enter>")[0], typed(fresh(), f"n{letter}")[0])
    assert by_digit.drafts == by_letter.drafts
    assert by_digit.mode is by_letter.mode
    assert typed(fresh(), f"n{digit}")[0].mode is Mode.REASON


@pytest.mark.parametrize("key", ["0", "8", "9", "x"])
def test_what_is_no_reason_is_refused(key):
    state, effects = typed(fresh(), f"n{key}")
    assert (state.mode, state.drafts[0].not_tested) == (Mode.REASON, "")
    assert effects[-1].text == "one of the letters p r s c j t o, or a digit 1 to 7"


def test_not_tested_other_asks_for_words():
    state, _ = typed(fresh(), "no<enter>")
    assert state.mode is Mode.NOTE
    state, _ = typed(state, "splint on<enter>")
    assert (state.drafts[0].not_tested, state.drafts[0].not_tested_note) == ("other", "splint on")


def test_not_tested_keeps_what_was_measured():
    """A slow range without a fast stretch is a reading, e.g. when the fast one hurts."""
    state, _ = typed(fresh(station("soleus"), field_order="slow-first"), "20<enter>np")
    reading = reading_of(state, 0)
    assert (reading.r2, reading.r1, reading.not_tested) == (20, None, "pain")


def test_complete_entry_takes_not_tested_away():
    state, _ = typed(fresh(), "np<up>5<enter>220<enter>")
    assert state.drafts[0].not_tested == ""


def test_missing_field_is_asked_for_at_the_end():
    state, _ = typed(fresh(station("soleus")), "<right><right>20<enter>")
    assert not state.drafts[0].done
    assert state.field is Field.R1


def test_v2_where_gravity_stretches_is_one_key():
    state, effects = typed(fresh(station("elbow-flexors")), "f")
    assert state.drafts[0].velocity == "V3"
    assert saves(effects) == 1
    assert typed(state, "f")[0].drafts[0].velocity == "V2"


def test_v2_without_gravity_speaks_once_and_the_same_key_accepts():
    state, effects = typed(fresh(station("soleus")), "f")
    assert state.drafts[0].velocity == "V3"
    assert isinstance(effects[-1], Bell)
    assert typed(state, "<enter>")[0].drafts[0].velocity == "V3"
    state, effects = typed(state, "f")
    assert state.drafts[0].velocity == "V2"
    assert [flag.rule for flag in state.drafts[0].heard] == ["v2-no-gravity"]


def test_more_tries_are_all_kept():
    state, _ = typed(fresh(station("soleus")), "5m7m<enter>220m25<enter>")
    assert state.drafts[0].r1 == (5, 7)
    assert state.drafts[0].r2 == (20, 25)
    assert reading_of(state, 0).r1 == 5


def test_planned_tries_are_walked_through_and_slow_tries_can_be_ended():
    state, _ = typed(fresh(station("soleus"), tries=3), "5<enter>6<enter>7<enter>220<enter>")
    assert state.drafts[0].r1 == (5, 6, 7)
    assert (state.field, state.cursor.attempt) == (Field.R2, 1)
    state, _ = typed(state, "<enter>")
    assert state.drafts[0].done


@pytest.mark.parametrize(
    ("tries", "counts", "slope", "value"),
    [
        ((5, 7, 3), "first", 1, 5),
        ((5, 7, 3), "worst", 1, 3),
        ((5, 7, 3), "worst", -1, 7),
        ((5, 7, 3), "mean", 1, 5),
        ((3, 4), "mean", 1, 3),
        ((3, 4), "mean", -1, 4),
        ((-3, -4), "mean", 1, -4),
        ((5, 6, 6), "mean", 1, 6),
        ((None, 6), "first", 1, None),
        ((None, 6), "worst", 1, 6),
        ((None, 6, 8), "mean", 1, 7),
        ((None,), "mean", 1, None),
        ((), "first", 1, None),
    ],
)
def test_which_try_counts(tries, counts, slope, value):
    assert counted(tries, counts, slope) == value


def test_clonus_stopwatch():
    state = fresh(station("soleus"))
    state, _ = step(state, "k", Moment(100.0))
    assert state.clonus_from == 100.0
    state, _ = step(state, "k", Moment(106.4))
    assert state.drafts[0].clonus_s == 6
    assert state.clonus_from is None
    assert state.mode is Mode.FIELDS


def test_clonus_seconds_can_be_typed_and_fields_typed_while_it_runs():
    state, _ = typed(fresh(station("soleus")), "k12<enter>")
    assert state.drafts[0].clonus_s == 12
    state, _ = typed(fresh(station("soleus")), "k<enter>5<enter>", ticks=50.0)
    assert state.drafts[0].r1 == (5,)
    state, _ = step(state, "k", Moment(58.0))
    assert state.drafts[0].clonus_s == 8


def test_running_stopwatch_holds_the_station():
    state, effects = typed(fresh(), "k<enter>5<enter>220<enter>")
    assert not state.drafts[0].done
    assert "stopwatch" in effects[-1].text
    assert typed(state, "<down>")[0].cursor.station == 0


@pytest.mark.parametrize("key", ["n", "g"])
def test_what_leaves_the_station_is_refused_before_it_asks(key):
    state, effects = typed(fresh(), f"k<enter>{key}")
    assert state.mode is Mode.FIELDS
    assert effects[-1].text == "the clonus stopwatch is running: k stops it"


def test_leaving_another_prompt_lets_the_stopwatch_run():
    state, _ = typed(fresh(station("soleus")), "k<enter>cwarm<escape>", ticks=50.0)
    assert state.clonus_from == 50.0
    assert typed(state, "w<backspace>")[0].clonus_from == 50.0
    assert typed(fresh(station("soleus")), "k<backspace>")[0].clonus_from is None


def test_tries_apart_speak_once_and_name_both():
    state, effects = typed(fresh(station("soleus"), tries=2), "5<enter>-11<enter>")
    assert effects[-1].text == "R1 tries 5 and -11 are 16 deg apart"
    assert state.drafts[0].r1 == (5,)
    state, effects = typed(state, "<enter>220<enter>22<enter>")
    assert state.drafts[0].done
    assert [flag.rule for flag in state.drafts[0].heard] == ["tries-apart"]
    assert not any(isinstance(effect, Bell) for effect in effects)


def test_pain_comment_posture():
    state, _ = typed(fresh(station("soleus")), "w7<enter>cwarm room<enter>pside lying<enter>")
    draft = state.drafts[0]
    assert (draft.pain, draft.comment, draft.posture) == (7, "warm room", "side lying")
    after, effects = typed(state, "w11<enter>")
    assert after.mode is Mode.PAIN
    assert isinstance(effects[-1], Bell)
    assert typed(state, "w<enter>")[0].drafts[0].pain is None


def test_posture_prompt_left_empty_means_standard():
    state = fresh(station("soleus"))
    standard = state.draft.posture
    state, _ = typed(state, "psitting<enter>")
    state, _ = typed(state, "p" + "<backspace>" * 7)
    assert state.prompt == ""
    assert typed(state, "<enter>")[0].drafts[0].posture == standard


def test_half_typed_digits_survive_a_command():
    state, _ = typed(fresh(station("soleus")), "1w3<enter>5<enter>")
    assert state.drafts[0].r1 == (15,)


@pytest.mark.parametrize(
    ("typed_", "comment"),
    [
        ("wam<left>r", "warm"),
        ("arm<home>w", "warm"),
        ("wrm<left><left>a<end>er", "warmer"),
        ("waarm<left><left><backspace>", "warm"),
        ("warm<home><backspace>", "warm"),  # nothing is before the cursor
        ("wam<left><right>x<backspace><left>r", "warm"),
        ("arm<left><left><left><left><left>w", "warm"),
    ],
)
def test_the_cursor_moves_within_a_text(typed_: str, comment: str):
    state, _ = typed(fresh(station("soleus")), f"c{typed_}<enter>")
    assert state.drafts[0].comment == comment
    assert (state.mode, state.behind) == (Mode.FIELDS, 0)


def test_every_text_begins_with_its_cursor_at_the_end():
    state, _ = typed(fresh(station("soleus")), "carm<home>w<enter>")
    state, _ = typed(state, "c room<enter>")
    assert state.drafts[0].comment == "warm room"
    state, _ = typed(state, "c<home><escape>c.<enter>")
    assert state.drafts[0].comment == "warm room."
    left, _ = typed(state, "pside<home><escape>psitting<enter>")
    assert left.drafts[0].posture == "sitting"


def test_numbers_in_a_prompt_have_no_cursor_to_move():
    state, effects = typed(fresh(station("soleus")), "w1<left>")
    assert (state.prompt, state.behind) == ("1", 0)
    assert isinstance(effects[-1], Bell)


def test_letters_are_text_in_a_prompt():
    state, _ = typed(fresh(station("soleus")), "cundo 12 -n<enter>")
    assert state.drafts[0].comment == "undo 12 -n"


# Flags --------------------------------------------------------------------------------------


def test_impossible_stops_until_corrected():
    state, effects = typed(fresh(station("soleus")), "25<enter>210<enter>")
    assert not state.drafts[0].done
    assert state.flags[0].rule == "r1-beyond-r2"
    assert isinstance(effects[-1], Bell)
    again, _ = typed(state, "<enter>")
    assert not again.drafts[0].done
    assert again.flags == state.flags
    state, _ = typed(state, "<backspace>28<enter>")
    assert state.drafts[0].done
    assert state.drafts[0].r2 == (28,)


def test_impossible_overridden_with_a_reason_kept_in_the_record():
    state, _ = typed(fresh(station("soleus")), "25<enter>210<enter>o<enter>")
    assert state.mode is Mode.OVERRIDE
    state, effects = typed(state, "read twice<enter>")
    assert state.drafts[0].done
    reading = reading_of(state, 0)
    assert [(o.rule, o.reason) for o in reading.overrides] == [("r1-beyond-r2", "read twice")]
    assert [flag.rule for flag in reading.flags] == ["r1-beyond-r2"]
    assert saves(effects) == 1


def test_override_is_dropped_when_the_flag_no_longer_holds():
    state, _ = typed(fresh(), "20<enter>210<enter>oread twice<enter><up>8<enter><enter><enter>")
    assert state.drafts[0].r1 == (8,)
    assert state.drafts[0].overrides == ()
    assert state.drafts[0].heard == ()


def test_override_can_be_left():
    state, _ = typed(fresh(station("soleus")), "25<enter>210<enter>o<escape>")
    assert state.mode is Mode.FIELDS
    assert not state.drafts[0].done
    assert state.cursor.text == "10"
    assert state.flags[0].rule == "r1-beyond-r2"


def test_quality_and_catch_contradict():
    state, _ = typed(fresh(station("soleus")), "<enter>2")
    assert state.flags[0].rule == "catch-missing"
    assert state.drafts[0].quality is None
    assert typed(state, "<backspace>0")[0].drafts[0].quality == 0
    assert typed(state, "0")[0].drafts[0].quality is None
    back, _ = typed(state, "<left>5<enter>2")
    assert (back.drafts[0].r1, back.drafts[0].quality) == ((5,), 2)


def test_unlikely_speaks_once_and_the_same_key_accepts():
    last = reading_of(typed(fresh(station("soleus")), "9<enter>220<enter>")[0], 0)
    state, effects = typed(fresh(station("soleus", last=last)), "-9<enter>")
    assert state.flags[0].rule == "sign-opposite"
    assert state.drafts[0].r1 == ()
    assert isinstance(effects[-1], Bell)
    state, effects = typed(state, "<enter>")
    assert state.drafts[0].r1 == (-9,)
    state, effects = typed(state, "220<enter>")
    assert state.drafts[0].done
    assert not any(isinstance(effect, Bell) for effect in effects)


def test_clonus_against_grade():
    state, _ = typed(fresh(station("soleus")), "k12<enter>5<enter>3")
    assert state.flags[0].rule == "clonus-too-long"
    assert typed(state, "<backspace>4")[0].drafts[0].quality == 4


# Undo and redo ------------------------------------------------------------------------------


def test_undo_brings_the_typed_digits_back():
    state, _ = typed(fresh(station("soleus")), "15<enter>u")
    assert state.drafts[0].r1 == ()
    assert state.cursor.text == "15"
    assert typed(state, "<enter>")[0].drafts[0].r1 == (15,)
    assert typed(state, "8<enter>")[0].drafts[0].r1 == (8,), "the first digit replaces them"


def test_undo_and_redo_any_number_of_steps():
    script = "45<enter>210<enter>" * 4
    start = fresh(*both_sides("hamstrings", "soleus", scale=DEFICIT))
    end, _ = typed(start, script)
    undone, _ = typed(end, "u" * 12)
    assert undone.drafts == start.drafts
    assert isinstance(step(undone, "u")[1][0], Bell)
    again, _ = typed(undone, "y" * 12)
    assert again.drafts == end.drafts
    assert (again.cursor.station, again.cursor.place) == (end.cursor.station, end.cursor.place)


def test_a_new_change_ends_redo():
    state, _ = typed(fresh(station("soleus")), "45<enter>u<backspace><enter>")
    assert isinstance(step(state, "y")[1][0], Bell)


# Properties ---------------------------------------------------------------------------------

ANY_KEY = st.sampled_from([*NAMED_KEYS, *"0123456789-nfmkpwcuygoxqrtsj d"]) | st.characters()
SCRIPTS = st.lists(ANY_KEY, max_size=60)
LIKELY = st.lists(st.sampled_from(["enter", *"0123456789-nfmkuyo"]), max_size=80)
ORDERS = st.sampled_from(["fast-first", "slow-first"])


def run(state: EntryState, keys: list[str]) -> list[tuple[EntryState, str, EntryState, tuple]]:
    """(state before, key, state after, effects) of each key, one tick a key."""
    steps = []
    for tick, key in enumerate(keys):
        after, effects = step(state, key, Moment(float(tick), "2026-11-25T09:41:00+01:00"))
        steps.append((state, key, after, effects))
        state = after
    return steps


@given(SCRIPTS | LIKELY, ORDERS, st.integers(1, 3))
@example(["l", "r", "u", "y"], "fast-first", 1)
@settings(max_examples=300)
def test_no_key_sequence_raises_or_loses_a_committed_reading(keys, order, tries):
    """Only undo takes an accepted value away; every other key keeps or replaces it."""
    for before, key, after, effects in run(fresh(field_order=order, tries=tries), keys):
        changed = [i for i in range(4) if before.drafts[i] != after.drafts[i]]
        if key == "i" and changed:  # what was entered goes to the other side, whole
            assert [after.drafts[i].done for i in changed] != [True, True]
            assert len(changed) == 2
            continue
        if len(changed) > 1 and key in ("u", "y"):  # one of the steps above, taken back or again
            continue
        if len(changed) > 1:  # the rest is not tested: the open stations, each without a value
            assert before.rest
            for was, now in ((before.drafts[i], after.drafts[i]) for i in changed):
                assert (was.done, was.r1, was.r2, was.quality) == (False, (), (), None)
                assert now.not_tested
            continue
        ops = [effect.op for effect in effects if isinstance(effect, Save)]
        if changed:
            assert ops
        for index in changed:
            was, now = before.drafts[index], after.drafts[index]
            if ops[0] == "do":
                assert index == before.cursor.station
                assert now.done >= was.done
                assert len(now.r1) >= len(was.r1)
                assert len(now.r2) >= len(was.r2)
                assert (now.quality is None) <= (was.quality is None)
            else:
                assert key in ("u", "y")


@given(SCRIPTS | LIKELY, ORDERS)
@settings(max_examples=300)
def test_undo_after_do_is_the_identity(keys, order):
    for before, _, after, effects in run(fresh(field_order=order), keys):
        if any(isinstance(effect, Save) and effect.op == "do" for effect in effects):
            settled = replace(after, mode=Mode.FIELDS, flags=(), hold=None)
            undone, _ = taken_back(settled)
            assert undone.drafts == before.drafts
            assert undone.cursor.station == before.cursor.station
            assert undone.cursor.place == before.cursor.place
            assert undone.past == before.past
            redone, _ = step(undone, "y")
            assert redone.drafts == after.drafts
            assert replace(redone.cursor, fresh=after.cursor.fresh) == after.cursor


@given(SCRIPTS | LIKELY, ORDERS)
@settings(max_examples=200)
def test_journal_replay_rebuilds_the_entry(keys, order):
    """After a kill: drafts, cursor and undo history come back from the journal alone."""
    start = fresh(field_order=order)
    docs, last = [], start
    for _, _, after, effects in run(start, keys):
        docs += [save_to_doc(effect, "") for effect in effects if isinstance(effect, Save)]
        last = after
    again, problems = replay(start.plan, docs)
    assert problems == []
    assert again.drafts == last.drafts
    assert [change.label for change in again.past] == [change.label for change in last.past]
    assert again.future == last.future
    if docs:
        assert again.cursor.station == last.cursor.station


def test_replay_of_a_strange_entry_keeps_what_stood_before():
    _, effects = typed(fresh(), "-45<enter>")
    docs = [save_to_doc(effect, "") for effect in effects if isinstance(effect, Save)]
    state, problems = replay(plan(), [*docs, {"op": "do", "station": 99}])
    assert state.drafts[0].r1 == (-45,)
    assert "journal entry 2" in str(problems[0])


def test_every_side_is_named_in_full():
    assert {s.name.split(", ")[1] for s in begin(plan()).plan.stations} == {"Left", "Right"}
    assert Side.LEFT.word == "Left"
