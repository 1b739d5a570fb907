"""The rest not tested and values moved to the other side: one step each, and what is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.entry.linear import keys_of_line
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.state import Bell, EntryState, Mode, Save
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.reading import Side

from tests.support.records import reading
from tests.support.stations import DEFICIT, NEUTRAL, both_sides, fresh, plan, station, typed

DONE = "5<enter>220<enter>"


def journal(effects: list[object]) -> list[dict[str, object]]:
    return [save_to_doc(effect, "") for effect in effects if isinstance(effect, Save)]


def marks(state: EntryState) -> list[str]:
    return [draft.not_tested for draft in state.drafts]


def test_the_rest_is_marked_in_two_keys_and_one_step():
    state, before = typed(fresh(), f"{DONE}<down>5<enter>")
    rest, effects = typed(state, "lt")
    assert marks(rest) == ["", "no-time", "", "no-time"]
    assert rest.open_stations == (2,), "what is half-typed stays open"
    assert rest.cursor.station == 2
    assert rest.message == "2 stations not tested: no time; 1 half-typed stay open"
    assert len(journal(effects)) == 1
    undone, more = typed(rest, "u")
    assert undone.drafts == state.drafts
    again, last = typed(undone, "y")
    assert again.drafts == rest.drafts
    docs = journal([*before, *effects, *more, *last])
    for count, wanted in ((-2, rest), (-1, undone), (len(docs), again)):
        found, problems = replay(state.plan, docs[:count])
        assert problems == []
        assert found.drafts == wanted.drafts


def test_the_rest_takes_a_digit_with_enter_and_words():
    assert marks(typed(fresh(), "l1<enter>")[0]) == ["pain"] * 4
    assert marks(typed(fresh(), "l1")[0]) == [""] * 4
    other, _ = typed(fresh(), "losplints<enter>")
    assert [draft.not_tested_note for draft in other.drafts] == ["splints"] * 4


@pytest.mark.parametrize("script", ["l<escape>nt", "l<backspace>nt", "lo<escape>nt"])
def test_leaving_the_question_forgets_the_rest(script):
    assert marks(typed(fresh(), script)[0]) == ["no-time", "", "", ""]


HELD = "5<enter>23<enter>"
"""R1 2 deg beyond R2, which is asked about."""


def test_the_rest_can_be_marked_in_a_hold_whose_value_is_then_gone():
    held, _ = typed(fresh(), HELD)
    assert held.can_accept
    state, _ = typed(held, "lp")
    assert marks(state) == ["", "pain", "pain", "pain"]
    assert (state.drafts[0], state.hold, state.cursor.text) == (held.drafts[0], None, None)
    assert typed(state, "u")[0].drafts == held.drafts
    back, _ = typed(held, "l<escape>")
    assert (back.hold is not None, back.flags, back.can_accept) == (True, held.flags, False)
    assert keys_of_line(held, "l p") == ("l", "p")


def test_without_a_rest_the_hold_stays():
    held, _ = typed(fresh(), "<down>np" + "np" * 2 + HELD)
    assert held.can_accept
    after, effects = typed(held, "l")
    assert after.hold
    assert (after.mode, after.rest) == (Mode.FIELDS, False)
    assert [type(effect) for effect in effects] == [Bell]


def test_nothing_is_left_to_mark():
    state, effects = typed(fresh(), "np" * 4 + "l")
    assert state.mode is Mode.FIELDS
    assert isinstance(effects[-1], Bell)
    assert typed(fresh(), "k<enter>l")[0].mode is Mode.FIELDS, "the stopwatch holds the station"


def test_values_go_to_the_other_side_in_one_step():
    state, before = typed(fresh(), f"{DONE}cwarm<enter>w3<enter>")
    moved, effects = typed(state, "i")
    right = moved.drafts[1]
    assert (right.r1, right.quality, right.r2, right.done) == ((5,), 2, (20,), True)
    assert (right.comment, right.pain) == ("warm", 3)
    assert moved.drafts[0] == fresh().drafts[0]
    assert (moved.cursor.station, moved.cursor.place) == (0, 0)
    assert moved.message == "moved from Hamstrings, Left to Hamstrings, Right"
    assert len(journal(effects)) == 1
    assert typed(moved, "u")[0].drafts == state.drafts
    found, problems = replay(state.plan, journal([*before, *effects]))
    assert (found.drafts, problems) == (moved.drafts, [])
    on, _ = typed(moved, "8<enter>222<enter>")
    assert [draft.r1 for draft in on.drafts[:2]] == [(8,), (5,)]


def test_a_half_typed_station_moves_too_and_the_one_shown_comes_first():
    state, _ = typed(fresh(), "5<enter>2i")
    assert [draft.r1 for draft in state.drafts[:2]] == [(), (5,)]


@pytest.mark.parametrize(
    ("start", "script", "why"),
    [
        (fresh(), "i", "nothing was entered here"),
        (fresh(), f"{DONE}9<backspace>i", "nothing was entered here"),
        (fresh(), f"{DONE}{DONE.replace('5', '7')}<up>i", "holds values already"),
        (fresh(station()), "5<enter>i", "is not on this list"),
        (fresh(), "k<enter>5<enter>i", "stopwatch is running"),
        (
            fresh(station(), station(side=Side.RIGHT, scale=DEFICIT)),
            "5<enter>i",
            "is read on another scale",
        ),
    ],
)
def test_what_cannot_be_moved_is_refused(start, script, why):
    state, effects = typed(start, script)
    assert isinstance(effects[-1], Bell)
    assert why in effects[-1].text
    assert state.drafts == typed(start, script[:-1])[0].drafts


def test_a_flag_of_the_other_side_asks_first_and_nothing_is_moved_before():
    last = typed(fresh(station("soleus")), "-20<enter>2-10<enter>")[0]
    from limbscribe.core.entry.readings import reading_of

    stations = both_sides("soleus", scale=NEUTRAL)
    right = replace(stations[1], last=replace(reading_of(last, 0), side=Side.RIGHT))
    state, _ = typed(fresh(stations[0], right), "20<enter>220<enter>")
    held, _ = typed(state, "i")
    assert held.flags
    assert held.drafts == state.drafts
    assert typed(held, "<backspace>")[0].drafts == state.drafts
    moved, _ = typed(held, "<enter>")
    assert [draft.done for draft in moved.drafts] == [False, True]
    assert moved.drafts[1].heard


def test_what_was_asked_about_is_not_asked_again_where_the_values_go():
    """Neither what was accepted nor what was overridden, and the reason goes along once."""
    state, _ = typed(fresh(*both_sides("soleus")), "ff5<enter>0ocast<enter>20<enter>")
    asked = {flag.rule for flag in state.drafts[0].heard}
    assert asked == {"catch-unexpected", "v2-no-gravity"}
    moved, effects = typed(state, "i")
    assert not moved.hold
    assert moved.drafts[1].overrides == state.drafts[0].overrides
    assert set(moved.drafts[1].heard) == set(state.drafts[0].heard)
    assert moved.drafts[1].done
    assert len(journal(effects)) == 1


def test_what_was_asked_about_one_station_is_asked_at_the_next_one_too():
    """A move that was asked about and taken away allows nothing at the station shown."""
    right = station("soleus", Side.RIGHT, last=reading("soleus", Side.RIGHT, -40, -30))
    begun = fresh(station("soleus"), right, *both_sides("gastrocnemius"))
    state, _ = typed(begun, "ff5<enter>220<enter>")
    state, _ = typed(state, "i")
    assert [flag.rule for flag in state.flags] == ["big-change"] * 2
    state, _ = typed(state, "<backspace>")
    assert state.allowed == ()


def test_in_lines():
    state = fresh()
    for line in ("5", "2", "20", "i", "l t"):
        for key in keys_of_line(state, line):
            state, _ = step(state, key)
    assert marks(state) == ["no-time", "", "no-time", "no-time"]
    assert state.drafts[1].r2 == (20,)
    assert plan().stations[1].side is Side.RIGHT
