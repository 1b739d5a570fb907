"""What a recorder typed and what was stored before the rules were there: each key by key.

Every example is typed as a person on the screen types it, and given as answer lines too. What it
is compared with is what the recorder meant; that is all there is to know, no published source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.entry.linear import keys_of_line, refused_line
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.entry.state import Draft, EntryState, Moment
from limbscribe.core.entry.step import step
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer

from tests.support.stations import fresh, keys_of, station, typed

PROFILES = ("standard", "number-pad", "left-handed")


def entry(muscle: str, last: Reading | None = None) -> EntryState:
    """Both sides of a muscle group on the scale it comes with, soleus after them."""
    scale = shipped_muscles()[muscle].scale()
    sides = [station(muscle, side, scale, last) for side in Side]
    return fresh(*sides, station("soleus"))


def on_screen(state: EntryState, script: str, profile: str = "standard") -> EntryState:
    """Type keys through the keymap of a profile, a second apart."""
    keymap = Keymap(profile_keys(profile))
    for key in keys_of(script):
        state, _ = step(state, for_reducer(state, key, keymap.action("entry", key)))
    return state


def in_lines(state: EntryState, *lines: str) -> EntryState:
    """Answer lines, those that are refused among them."""
    for line in lines:
        keys = keys_of_line(state, line)
        if isinstance(keys, Problem):
            state = refused_line(state, line, keys, Moment(state.rhythm.last + 1))
            continue
        for key in keys:
            state, _ = step(state, key)
    return state


def values(state: EntryState, index: int = 0) -> tuple[object, ...]:
    """R1, quality and R2 of a station as they are stored."""
    draft = state.drafts[index]
    return draft.r1, draft.quality, draft.r2


def untouched(state: EntryState, index: int) -> bool:
    """Whether nothing at all is stored at a station."""
    draft, there = state.drafts[index], state.plan.stations[index]
    return draft == Draft(there.posture, there.velocity)


def test_4_undone_and_8_typed_is_8():
    for state in (
        on_screen(entry("soleus"), "4<enter>u8<enter>"),
        in_lines(entry("soleus"), "4", "u", "8"),
    ):
        assert values(state) == ((8,), None, ())
    assert values(on_screen(entry("soleus"), "4<enter>8")) == ((4,), None, ()), "8 is no grade"


def test_99_2_8_on_the_elbow_flexors_is_never_minus_28():
    last = reading_of(on_screen(entry("elbow-flexors"), "45<enter>28<enter>"), 0)
    begun = entry("elbow-flexors", last)
    for state in (on_screen(begun, "99<enter>28<enter>"), in_lines(begun, "99", "2", "8")):
        assert [flag.rule for flag in state.flags] == ["big-change"]
        assert untouched(state, 0)
    for state in (
        on_screen(begun, "99<enter><enter>28<enter>"),
        in_lines(begun, "99", "", "2", "8"),
    ):
        assert values(state) == ((-99,), 2, (-8,)), "who hears the question accepts it"


def test_20_45_2_typed_in_the_other_order_is_no_quality_4_and_no_r2_5():
    for state in (
        on_screen(entry("hip-adductors"), "20<enter>45<enter>2"),
        in_lines(entry("hip-adductors"), "20", "45", "2"),
    ):
        assert not state.drafts[0].done
        assert state.drafts[0].r2 == ()
        assert state.hold
        assert untouched(state, 1)
    assert values(on_screen(entry("hip-adductors"), "20<enter>245<enter>")) == ((20,), 2, (45,))


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("point", [".", ","])
def test_4_point_5_is_neither_4_nor_5_nor_45(profile: str, point: str):
    state = on_screen(entry("soleus"), f"4{point}5<enter>", profile)
    assert untouched(state, 0)
    assert state.hold
    assert state.hold.shown == point, "what was refused stays in sight"
    assert values(on_screen(state, "<backspace><enter>", profile)) == ((4,), None, ())
    answered = in_lines(entry("soleus"), f"4{point}5", "28")
    assert untouched(answered, 0)
    assert answered.hold


def test_28_with_a_doubled_enter_gives_the_next_station_no_catch():
    done, _ = typed(entry("soleus"), "5<enter>228")
    bounced, _ = typed(done, "<enter><enter>", apart=0.1)
    state, _ = typed(bounced, "12<enter>")
    assert values(state) == ((5,), 2, (28,))
    assert untouched(state, 1)
    assert state.hold
    assert values(typed(done, "<enter>12<enter>")[0], 1) == ((12,), None, ())


def test_the_answer_after_a_doubled_empty_line_is_no_quality():
    """A line of 12 is not one digit: nothing else is taken then."""
    state = in_lines(entry("soleus"), "5", "2", "28", "", "12", "20")
    assert not state.drafts[1].done
    assert (state.drafts[1].quality, state.drafts[1].r2) == (None, ())


def test_0_45_is_not_r1_45():
    for state in (
        on_screen(entry("hip-adductors"), "045<enter>"),
        in_lines(entry("hip-adductors"), "045"),
    ):
        assert untouched(state, 0)
        assert state.hold
    assert values(on_screen(entry("hip-adductors"), "<enter>045<enter>")) == ((None,), 0, (45,))


def test_minus_ten_is_minus_10_where_minus_is_preset():
    begun = entry("elbow-flexors")
    assert begun.station.scale.presign
    for state in (on_screen(begun, "-10<enter>"), in_lines(begun, "-10")):
        assert state.drafts[0].r1 == (-10,)
    for state in (on_screen(begun, "+10<enter>"), in_lines(begun, "+10")):
        assert state.drafts[0].r1 == (10,)


@pytest.mark.parametrize(
    ("script", "line", "name", "value"),
    [
        ("k5<enter>", "k 5", "clonus_s", 5),
        ("w6<enter>", "w 6", "pain", 6),
        ("cwarm<enter>", "c warm", "comment", "warm"),
    ],
)
def test_clonus_pain_and_comment_after_the_advance_stay_with_their_station(
    script: str, line: str, name: str, value: object
):
    keys = on_screen(entry("soleus"), "5<enter>320<enter>" + script)
    for state in (keys, in_lines(entry("soleus"), "5", "3", "20", line)):
        assert getattr(state.drafts[0], name) == value
        assert untouched(state, 1)
        assert state.cursor.station == 1
    begun = on_screen(entry("soleus"), "5<enter>320<enter>7<enter>" + script)
    assert getattr(begun.drafts[1], name) == value, "the new one was begun: it is about that"


def test_enter_on_a_station_marked_refused_is_no_no_catch():
    for state in (
        on_screen(entry("soleus"), "nr<up><enter>"),
        in_lines(entry("soleus"), "n r", "up", ""),
    ):
        assert values(state) == ((), None, ())
        assert state.drafts[0].not_tested == "refused"
        assert state.hold
    assert values(on_screen(entry("soleus"), "nr<enter>"), 1) == ((None,), None, ())


def test_m_on_an_untouched_station_is_no_try():
    for state in (on_screen(entry("soleus"), "m"), in_lines(entry("soleus"), "m")):
        assert untouched(state, 0)
        assert state.cursor.attempt == 0
    for state in (on_screen(entry("soleus"), "5m7<enter>"), in_lines(entry("soleus"), "5m", "7")):
        assert state.drafts[0].r1 == (5, 7)


def test_finger_flexors_90_beyond_straight_are_asked_for_the_minus():
    for state in (
        on_screen(entry("finger-flexors"), "<enter>190<enter>"),
        in_lines(entry("finger-flexors"), "", "1", "90"),
    ):
        assert [flag.text for flag in state.flags] == ["R2 90: was minus meant?"]
        assert values(state) == ((None,), 1, ())
    assert values(on_screen(entry("finger-flexors"), "<enter>1-90<enter>")) == ((None,), 1, (-90,))


def test_nothing_of_these_is_lost_to_a_hold():
    """What was accepted before stays, and Backspace lets the right number in."""
    held = on_screen(entry("soleus"), "5<enter>2045")
    assert values(held) == ((5,), 2, ())
    freed = on_screen(held, "<backspace><backspace>20<enter>")
    assert values(freed) == ((5,), 2, (20,))
    assert replace(freed.drafts[0], entered="").done
