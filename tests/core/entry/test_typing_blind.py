"""Typed without looking: every rule that keeps a wrong number out, from both sides."""

from __future__ import annotations

import pytest
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.entry.state import Bell, EntryState, Field, Mode, Save
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Side

from tests.support.records import reading
from tests.support.stations import DEFICIT, NEUTRAL, both_sides, fresh, plan, station, typed

PRESIGNED = AngleScale("neutral-zero", 1, 0, presign=True)


def after(script: str, **options: object) -> EntryState:
    """The entry of four stations after a script, a second between two keys."""
    return typed(fresh(*both_sides("hamstrings", "soleus", scale=NEUTRAL), **options), script)[0]


def said(state: EntryState, index: int = 0) -> tuple[object, ...]:
    """R1, quality and R2 of a station as they stand."""
    draft = state.drafts[index]
    return draft.r1, draft.quality, draft.r2


def quick(state: EntryState, script: str) -> EntryState:
    """The entry after a script whose keys come at once."""
    return typed(state, script, apart=0.1)[0]


# The hold -----------------------------------------------------------------------------------

VALUES = [*"0123456789-+.,", "<enter>", "<tab>"]


@pytest.mark.parametrize(
    "script", ["04", "1234", "4.", "4,", "5<enter>9", "5<enter>-", "5<enter>."]
)
@pytest.mark.parametrize("key", VALUES)
def test_what_is_refused_holds_until_backspace(script, key):
    held = after(script)
    assert held.hold
    more, effects = typed(held, key)
    assert (more.drafts, more.cursor, more.hold.why) == (held.drafts, held.cursor, held.hold.why)
    assert isinstance(effects[-1], Bell)
    free, _ = typed(more, "<backspace>")
    assert free.hold is None
    assert (free.cursor.station, free.cursor.place) == (held.cursor.station, held.cursor.place)
    assert free.cursor.text == held.cursor.text, "only the refused key is gone"


@pytest.mark.parametrize("key", ["x", "_", "é", "<left>", "<up>", "m"])
def test_refused_letters_and_arrows_do_not_hold(key):
    state = fresh()
    refused, effects = typed(state, key)
    assert isinstance(effects[-1], Bell)
    assert refused.hold is None
    assert typed(refused, "5<enter>")[0].drafts[0].r1 == (5,)


def test_a_flag_holds_and_backspace_takes_the_whole_value():
    held = after("20<enter>25<enter>")
    assert held.flags[0].rule == "r1-beyond-r2"
    assert said(typed(held, "45<enter>2-5<enter>")[0]) == said(held)
    free, _ = typed(held, "<backspace>")
    assert (free.flags, free.cursor.text, free.field) == ((), None, Field.R2)
    assert said(typed(free, "22<enter>")[0]) == ((20,), 2, (22,))


def test_an_impossible_value_is_not_accepted_by_any_enter():
    held = after("20<enter>25<enter>")
    assert not typed(held, "<enter><enter><enter>")[0].drafts[0].done


@pytest.mark.parametrize(
    ("apart", "between", "accepted"),
    [(1.0, "", True), (0.31, "", True), (0.29, "", False), (1.0, "4", False), (1.0, "x", False)],
)
def test_enter_accepts_what_is_unlikely_only_as_the_next_key_and_not_at_once(
    apart, between, accepted
):
    held = after("5<enter>23<enter>")
    assert [flag.rule for flag in held.flags] == ["r1-past-r2"]
    assert typed(held, f"{between}<enter>", apart=apart)[0].drafts[0].done is accepted


def test_f_is_accepted_by_f_alone():
    held, _ = typed(fresh(station("soleus")), "f")
    assert held.flags[0].rule == "v2-no-gravity"
    assert typed(held, "<enter>")[0].draft.velocity == "V3"
    assert typed(held, "f")[0].draft.velocity == "V2"
    assert typed(held, "f", apart=0.1)[0].draft.velocity == "V3"
    assert typed(held, "5<enter>f")[0].draft.velocity == "V3", "f was not the next key"


@pytest.mark.parametrize(
    "script", ["c<backspace>", "cwarm<enter>", "w3<enter>", "gx<escape>", "n<escape>"]
)
def test_prompts_leave_a_hold_and_come_back_to_it(script):
    held = after("20<enter>25<enter>")
    back, _ = typed(held, script)
    assert (back.mode, back.flags, back.cursor) == (held.mode, held.flags, held.cursor)
    assert back.hold
    assert not back.can_accept
    assert said(typed(back, "9<enter>")[0]) == said(held)


@pytest.mark.parametrize(("script", "index"), [("<left>", 0), ("<down>", 1), ("gsol l<enter>", 2)])
def test_moving_ends_a_hold(script, index):
    moved, _ = typed(after("20<enter>25<enter>"), script)
    assert (moved.hold, moved.flags, moved.asides) == (None, (), ())
    assert moved.cursor.station == index


def test_not_tested_undo_and_override_act_in_a_hold():
    held = after("20<enter>25<enter>")
    assert typed(held, "npo")[0].drafts[0].not_tested == "pain"
    assert typed(held, "u")[0].hold is None
    overridden, _ = typed(held, "oread twice<enter>")
    assert overridden.drafts[0].done
    left, _ = typed(held, "o<escape>")
    assert left.flags == held.flags
    assert left.hold


# Of a station that is begun, o is needed: nobody types that for a later one without looking.
HALF_TYPED = (
    "20<enter>25<enter>",
    "20<enter>",
    "20<enter>2",
    "20<enter>2-3",
    "20",
    "20<enter>220<enter>np<up>",
)


@pytest.mark.parametrize("script", HALF_TYPED)
@pytest.mark.parametrize("reason", ["np", "n1<enter>", "noheld<enter>"])
def test_not_tested_is_asked_about_where_it_may_be_said_of_another_station(script, reason):
    before = after(script)
    asked, effects = typed(before, reason)
    assert asked.drafts == before.drafts
    assert isinstance(effects[-1], Bell)
    assert "mark it not tested all the same?" in asked.hold.why
    assert typed(asked, "<enter>5<enter>210<enter>")[0].drafts == before.drafts
    assert typed(asked, "5o")[0].drafts == before.drafts, "o is not the next key"
    at = before.cursor.station
    assert typed(asked, "o")[0].drafts[at].not_tested in ("pain", "other")
    again, _ = typed(asked, "<backspace><escape>")
    assert (again.mode, again.drafts) == (Mode.FIELDS, before.drafts)


@pytest.mark.parametrize(
    ("script", "options"),
    [
        ("", {}),
        ("5<backspace>", {}),
        ("-25<enter>", {"field_order": "slow-first"}),
    ],
)
def test_not_tested_is_not_asked_about_where_nothing_or_a_slow_range_is_there(script, options):
    assert after(script + "np", **options).drafts[0].not_tested == "pain"


def test_a_value_in_doubt_and_then_not_tested_is_asked_about():
    """The Enter that accepted R2 may have been meant as no catch, and its grade forgotten."""
    last = reading("soleus", Side.LEFT, 10, 20)
    soleus = station("soleus", Side.LEFT, NEUTRAL, last=last)
    asked = typed(fresh(soleus, field_order="slow-first"), "48<enter>")[0]
    assert asked.can_accept
    marked, _ = typed(asked, "<enter>n5<enter>")
    assert marked.hold
    assert not marked.drafts[0].not_tested


@pytest.mark.parametrize("script", ["w3<enter>", "k5<enter>", "cup 5 off<enter>", "pside<enter>"])
@pytest.mark.parametrize("more", ["7", "-", "<enter>"])
def test_what_is_said_behind_a_dropped_value_is_dropped_too(script, more):
    """Without looking one is stations further on by then."""
    held, _ = typed(after("20<enter>25<enter>"), more)
    said_on, effects = typed(held, script)
    assert (said_on.drafts, said_on.mode, said_on.cursor) == (held.drafts, held.mode, held.cursor)
    assert said_on.hold
    assert isinstance(effects[-1], Bell)
    free, _ = typed(said_on, "<backspace>")
    assert typed(free, script)[0].drafts != free.drafts


@pytest.mark.parametrize("script", ["np", "n1<enter>", "noup<enter>", "l1<enter>", "lt"])
def test_not_tested_behind_a_dropped_value_is_dropped_too(script):
    held = after("20<enter>25<enter>7")
    said_on, effects = typed(held, script)
    assert (said_on.drafts, said_on.cursor) == (held.drafts, held.cursor)
    assert said_on.hold
    assert isinstance(effects[-1], Bell)


def test_backspace_says_that_what_was_typed_since_was_dropped():
    held = after("20<enter>25<enter>")
    assert not typed(held, "<backspace>")[0].message
    assert "not taken: go on from here" in typed(held, "45<enter><backspace>")[0].message


def test_go_to_names_its_station_and_acts_behind_a_dropped_value():
    moved = after("20<enter>25<enter>7gsol l<enter>")
    assert (moved.hold, moved.cursor.station) == (None, 2)


def test_a_letter_of_a_text_overrides_nothing_and_undoes_nothing():
    held = after("5<enter>320<enter>k15<enter>")
    assert held.impossible
    assert held.mode is Mode.CLONUS
    assert typed(held, "ook it<enter>")[0].drafts[0].clonus_s == 15, "o is the next key"
    assert typed(held, "8cook it<enter>")[0].drafts == held.drafts
    back = after("5<enter>220<enter>", read_back=True)
    assert back.mode is Mode.READ_BACK
    assert typed(back, "cup<enter>")[0].drafts == back.drafts


def test_a_running_stopwatch_can_be_stopped_in_a_hold_and_enter_comes_again():
    held = after("k<enter>5<enter>220<enter>")
    assert "stopwatch" in held.hold.why
    assert typed(held, "30<enter>")[0].drafts == held.drafts
    stopped, _ = typed(held, "k")
    assert stopped.drafts[0].clonus_s is not None
    assert typed(stopped, "<enter>")[0].drafts[0].done


@pytest.mark.parametrize(
    ("script", "prompt"),
    [("w11<enter>", ""), ("w1234", "123"), ("w1.", "1"), ("k5-", "5"), ("n9", ""), ("n34", "3")],
)
def test_a_prompt_holds_too(script, prompt):
    held = after(script)
    typed_on, _ = typed(held, "45<enter>2<enter>")
    assert typed_on.drafts == fresh().drafts
    assert typed_on.mode is held.mode
    free, _ = typed(typed_on, "<backspace>")
    assert (free.hold, free.prompt, free.mode) == (None, prompt, held.mode)


def test_an_empty_reason_holds_against_digits_but_not_against_its_words():
    held = after("no<enter>")
    assert typed(held, "45<enter>")[0].drafts == held.drafts
    assert typed(held, "splint<enter>")[0].drafts[0].not_tested_note == "splint"


# Fields -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("script", "r1"),
    [
        ("4<enter>u8<enter>", (8,)),
        ("4<enter>uy<left>8<enter>", (8,)),
        ("4<enter><left>8<enter>", (8,)),
        ("4<backspace>8<enter>", (8,)),
        ("45u8<enter>", (8,)),
        ("4<enter>u<enter>", (4,)),
    ],
)
def test_the_first_digit_after_undo_or_moving_back_replaces(script, r1):
    assert after(script).drafts[0].r1 == r1


def test_the_first_digit_after_resuming_replaces_what_was_half_typed():
    state, effects = typed(fresh(), "1w3<enter>")
    docs = [save_to_doc(effect, "") for effect in effects if isinstance(effect, Save)]
    resumed, problems = replay(state.plan, docs)
    assert (problems, resumed.cursor.text) == ([], "1")
    assert typed(resumed, "20<enter>")[0].drafts[0].r1 == (20,)
    assert typed(resumed, "<enter>")[0].drafts[0].r1 == (1,), "it was in sight"
    assert typed(state, "2<enter>")[0].drafts[0].r1 == (12,), "live it is typed on"


def test_undo_clears_typed_digits_before_it_takes_anything_back():
    state = after("5<enter>2-10u")
    assert (said(state), state.cursor.text, state.field) == (((5,), 2, ()), None, Field.R2)
    assert said(typed(state, "u")[0]) == ((5,), None, ())


@pytest.mark.parametrize(
    "script", ["4<backspace><backspace>", "-<backspace><backspace>", "4u<backspace>"]
)
def test_backspace_leaves_no_field_in_which_something_was_typed(script):
    state, effects = typed(after("5<enter>2"), script)
    assert state.field is Field.R2
    assert isinstance(effects[-1], Bell) or script.startswith("-")
    assert typed(after("5<enter>2"), "<backspace>")[0].field is Field.QUALITY


@pytest.mark.parametrize("scale", [NEUTRAL, PRESIGNED, DEFICIT])
@pytest.mark.parametrize(
    ("script", "sign"),
    [("-10", -1), ("10-", -1), ("--10", 1), ("-10-", 1), ("+10", 1), ("10+", 1), ("+-10", -1)],
)
def test_minus_means_minus_first_and_flips_then(scale, script, sign):
    state, _ = typed(fresh(station("gastrocnemius", scale=scale)), f"{script}<enter>")
    assert state.drafts[0].r1 == (10 * sign,)


def test_without_a_sign_the_customary_one_holds():
    for scale, value in ((NEUTRAL, 10), (PRESIGNED, -10)):
        state, _ = typed(fresh(station("gastrocnemius", scale=scale)), "10<enter>")
        assert state.drafts[0].r1 == (value,)


@pytest.mark.parametrize("script", ["0", "00", "045", "05"])
def test_nothing_goes_behind_a_leading_zero(script):
    state = after(script + "<enter>")
    assert state.drafts[0].r1 == ((0,) if script == "0" else ())


def test_enter_directly_after_a_quality_is_ignored_once():
    state, effects = typed(after("5<enter>"), "2<enter>")
    assert (state.hold, state.field) == (None, Field.R2)
    assert not [effect for effect in effects if isinstance(effect, Bell)]
    assert said(typed(state, "20<enter>")[0]) == ((5,), 2, (20,))
    assert "R2 is missing" in typed(state, "<enter>")[0].hold.why


# Stations -----------------------------------------------------------------------------------


def test_an_enter_that_bounces_is_no_no_catch():
    done = after("5<enter>220")
    bounced = quick(done, "<enter><enter>")
    assert (bounced.cursor.station, bounced.drafts[1].r1) == (1, ())
    assert typed(bounced, "12<enter>")[0].drafts[1].r1 == ()
    assert typed(bounced, "<enter>")[0].drafts[1].r1 == (None,), "Enter again, not at once"
    slow, _ = typed(done, "<enter><enter>", apart=0.31)
    assert slow.drafts[1].r1 == (None,)


def test_an_enter_that_bounces_does_not_end_the_tries():
    state = quick(after("5", tries=2), "<enter><enter>")
    assert (state.field, state.drafts[0].r1) == (Field.R1, (5,))
    assert state.hold
    assert typed(state, "<backspace>7<enter>")[0].drafts[0].r1 == (5, 7)


def test_no_catch_is_never_written_where_it_was_not_tested():
    state = after("np<up><enter>")
    assert state.cursor.station == 0
    assert (state.drafts[0].r1, state.drafts[0].not_tested) == ((), "pain")
    assert state.hold
    assert after("np<up>5<enter>").drafts[0].r1 == (5,)


@pytest.mark.parametrize("field", ["5<enter><enter>", "5m<enter>"])
def test_enter_in_an_empty_later_try_ends_the_tries(field):
    state = after(field, tries=2 if field == "5<enter><enter>" else 1)
    assert (state.drafts[0].r1, state.field) == ((5,), Field.QUALITY)


def test_a_later_try_that_was_rubbed_out_is_asked_for():
    state = after("5m7<enter><left><enter><backspace><enter>")
    assert state.drafts[0].r1 == (5, 7)
    assert "rubbed out" in state.hold.why


def test_a_later_try_that_was_taken_away_is_no_end_of_the_tries_without_a_word():
    asked = after("5m7<backspace><enter>")
    assert "go on without it?" in asked.hold.why
    assert typed(asked, "<enter>2")[0].drafts == asked.drafts
    ended, _ = typed(asked, "o")
    assert (ended.drafts[0].r1, ended.field) == ((5,), Field.QUALITY)
    assert typed(asked, "<backspace>9<enter>")[0].drafts[0].r1 == (5, 9)


@pytest.mark.parametrize("script", ["m", "5<backspace>m", "-m"])
def test_one_more_try_where_nothing_was_typed_does_nothing(script):
    state, effects = typed(fresh(), script)
    assert state.drafts == fresh().drafts
    assert isinstance(effects[-1], Bell)
    assert after("5m").drafts[0].r1 == (5,)


def test_a_reason_by_digit_takes_enter():
    assert not after("n1").drafts[0].done
    assert not after("n145").drafts[0].done
    assert after("n1<enter>").drafts[0].not_tested == "pain"


def test_after_no_catch_in_slow_first_order_a_quality_takes_enter():
    slow = {"field_order": "slow-first"}
    waits = after("20<enter><enter>1", **slow)
    assert said(waits) == ((None,), None, (20,))
    assert said(typed(waits, "<enter>")[0]) == ((None,), 1, (20,))
    assert not typed(waits, "2<enter>")[0].drafts[0].done, "an angle whose Enter came too early"
    assert said(after("20<enter>5<enter>2", **slow)) == ((5,), 2, (20,))


@pytest.mark.parametrize(
    ("script", "name", "value"), [("w3<enter>", "pain", 3), ("cwarm<enter>", "comment", "warm")]
)
def test_pain_and_comment_go_back_to_the_station_just_finished(script, name, value):
    done = after("5<enter>220<enter>")
    state, effects = typed(done, script)
    assert getattr(state.drafts[0], name) == value
    assert not getattr(state.drafts[1], name)
    assert state.cursor == done.cursor
    assert "Hamstrings, Left" in state.message
    assert [type(effect) for effect in effects] == [Save]
    again, _ = typed(state, "u")
    assert (again.drafts[0], again.cursor) == (done.drafts[0], done.cursor)
    new, _ = typed(done, script[0] + "<tab>" + script[1:])
    assert getattr(new.drafts[1], name) == value
    for touched in ("5", "<down><up>", "5<backspace>"):
        here, _ = typed(done, touched + script)
        assert getattr(here.drafts[1], name) == value


@pytest.mark.parametrize(("grade", "index"), [("3", 0), ("2", 1)])
def test_typed_clonus_goes_back_only_to_a_grade_with_clonus(grade, index):
    state = after(f"5<enter>{grade}20<enter>k5<enter>")
    assert [draft.clonus_s for draft in state.drafts[:2]] == [
        5 * (i == index) or None for i in (0, 1)
    ]
    assert after("5<enter>3k4<enter>20<enter>k5<enter>").drafts[1].clonus_s == 5, "it has seconds"


def test_a_stopwatch_belongs_to_the_station_shown():
    state = after("5<enter>320<enter>kk")
    assert [draft.clonus_s is None for draft in state.drafts[:2]] == [True, False]


def test_several_matches_ring_for_more_letters():
    held = after("gham<enter>")
    assert held.mode is Mode.GOTO
    assert "2 stations" in held.hold.why
    assert typed(held, "45<enter>")[0].prompt == "ham"
    assert typed(held, " r<enter>")[0].cursor.station == 1


# Read back ----------------------------------------------------------------------------------


def test_a_read_back_is_not_confirmed_by_a_bounce_nor_by_the_next_stations_value():
    said_back = after("5<enter>220<enter>", read_back=True)
    assert said_back.mode is Mode.READ_BACK
    assert quick(said_back, "<enter>").cursor.station == 0
    assert typed(said_back, "30<enter>")[0].cursor.station == 0
    assert typed(said_back, "30<backspace><enter>")[0].cursor.station == 1
    assert typed(said_back, "<enter>")[0].cursor.station == 1


# What was seen before the rules were there ----------------------------------------------------


@pytest.mark.parametrize(
    ("muscle", "script"),
    [
        ("soleus", "20<enter>45<enter>2"),
        ("soleus", "4.5<enter>28<enter>"),
        ("soleus", "045<enter>2"),
        ("finger-flexors", "<enter>190<enter>"),
    ],
)
def test_a_slip_leaves_the_station_open_and_says_so(muscle, script):
    state, _ = typed(fresh(station(muscle, scale=plan_scale(muscle))), script)
    assert not state.drafts[0].done
    assert state.hold or state.field is not Field.R1


def plan_scale(muscle: str) -> AngleScale:
    """The scale that a muscle group comes with."""
    return plan(station(muscle)).stations[0].muscle.scale()


def test_a_large_change_typed_on_stores_nothing():
    last = reading_of(typed(fresh(station("elbow-flexors", scale=PRESIGNED)), "45<enter>2")[0], 0)
    state = fresh(station("elbow-flexors", scale=PRESIGNED, last=last))
    state, _ = typed(state, "99<enter>28<enter>")
    assert said(state) == ((), None, ())
    assert state.flags[0].rule == "big-change"


def test_finger_flexors_beyond_straight_are_asked_for_the_minus():
    state, _ = typed(fresh(station("finger-flexors")), "<enter>190<enter>")
    assert [flag.text for flag in state.flags] == ["R2 90: was minus meant?"]
    assert typed(state, "<enter>")[0].drafts[0].r2 == (90,), "it can be so"
    assert not typed(fresh(station("finger-flexors")), "<enter>1-90<enter>")[0].flags
