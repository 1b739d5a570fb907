"""An Enter that accepted what was asked is doubted where what follows reads as "no catch"."""

from __future__ import annotations

import pytest
from limbscribe.core.entry.linear import hold_ways, keys_of_line
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.state import EntryState, Save
from limbscribe.core.tardieu.reading import Side

from tests.support.records import reading
from tests.support.stations import NEUTRAL, both_sides, fresh, station, typed

ASKED = "23<enter>220<enter>"
"""R1 beyond R2 by no more than two readings differ: it is asked about once."""


def accepted(**options: object) -> EntryState:
    """The first station's R2 was asked about, and an Enter came; the second one is in front."""
    state = typed(fresh(*both_sides("soleus", scale=NEUTRAL), **options), f"{ASKED}<enter>")[0]
    assert state.drafts[0].done
    assert state.cursor.station == 1
    return state


@pytest.mark.parametrize("typed_on", ["02", "112<enter>", "18<enter>", "300<enter>", "2."])
def test_what_reads_as_a_grade_or_is_refused_opens_the_station_again(typed_on):
    state = typed(accepted(), typed_on)[0]
    assert state.hold
    assert [draft.done for draft in state.drafts] == [False, False]
    assert state.drafts[0].r2 == (20,), "what was typed is kept"
    more = typed(state, "<enter>25<enter>1")[0]
    assert more.drafts == state.drafts, "typed on, it stays open"


@pytest.mark.parametrize("typed_on", ["112<enter>", "18<enter>"])
def test_backspace_keeps_the_value_and_what_was_typed(typed_on):
    state = typed(accepted(), f"{typed_on}<backspace>")[0]
    assert (state.hold, state.drafts[0].done) == (None, True)
    on = typed(state, "<enter>")[0]
    assert on.hold is None or on.flags, "asked once"
    assert on.drafts[0].done


@pytest.mark.parametrize("typed_on", ["20<enter>", "5<enter>", "15<enter>", "<up>"])
def test_another_catch_or_a_look_around_ends_the_doubt(typed_on):
    first = both_sides("soleus", scale=NEUTRAL)[0]
    last = reading("soleus", Side.RIGHT, 15, 25)
    second = station("soleus", Side.RIGHT, NEUTRAL, last=last)
    state = typed(fresh(first, second), f"{ASKED}<enter>{typed_on}")[0]
    assert state.hold is None
    assert not state.doubt
    assert state.drafts[0].done


def test_what_is_not_asked_about_is_not_doubted():
    state = typed(fresh(*both_sides("soleus", scale=NEUTRAL)), "10<enter>220<enter>112<enter>")[0]
    assert state.drafts[0].done
    assert state.drafts[1].r1 in ((112,), ())
    assert not state.doubt


def test_both_ways_of_typing_say_how_to_answer():
    held = typed(accepted(), "112<enter>")[0]
    assert held.message == "Enter accepted R2 20, Soleus, Left: was it meant?"
    assert hold_ways(held) == "u says that it was, then answer once more"
    keys = keys_of_line(held, "u")
    assert keys == ("backspace", "u"), "the answer goes, as another line brings it"
    assert typed(held, "<backspace>u")[0].drafts[0].done


def test_with_one_try_no_catch_follows_an_accepted_value_without_more_keys():
    state = typed(accepted(), "<enter>0")[0]
    assert state.drafts[0].done
    assert state.drafts[1].r1 == (None,)


def test_with_several_tries_the_first_of_their_enters_may_have_been_the_one_that_accepted():
    script = "13<enter>13<enter>220<enter>40<enter>"
    held = typed(fresh(*both_sides("soleus", scale=NEUTRAL), tries=2), f"{script}<enter><enter>")[0]
    assert held.hold
    assert not held.drafts[0].done
    kept = typed(held, "<backspace><enter><enter>0")[0]
    assert kept.drafts[0].done
    assert (kept.drafts[1].r1, kept.drafts[1].quality) == ((None,), 0)


def test_the_read_back_does_not_end_the_doubt():
    state = fresh(*both_sides("soleus", scale=NEUTRAL), read_back=True)
    held = typed(state, f"{ASKED}<enter><enter>112<enter>")[0]
    assert held.hold
    assert not held.drafts[0].done


def test_in_slow_first_order_a_lone_grade_is_no_catch():
    last = reading("soleus", Side.LEFT, 15, 90)
    state = fresh(station("soleus", Side.LEFT, NEUTRAL, last=last), field_order="slow-first")
    asked = typed(state, "20<enter>")[0]
    assert [flag.rule for flag in asked.flags] == ["big-change"]
    held = typed(asked, "<enter>1<enter>")[0]
    assert held.hold
    assert held.drafts[0].r1 == ()
    assert typed(asked, "<enter>15<enter>")[0].drafts[0].r1 == (15,)


def test_undo_takes_the_accepted_value_back_in_one_step_and_a_replay_agrees():
    state, effects = typed(
        fresh(*both_sides("soleus", scale=NEUTRAL)), f"{ASKED}<enter>112<enter><backspace>"
    )
    saves = [effect for effect in effects if isinstance(effect, Save)]
    again, problems = replay(state.plan, [save_to_doc(save, "") for save in saves])
    assert not problems
    assert (again.drafts, again.past) == (state.drafts, state.past)
    undone = typed(state, "uu")[0]
    assert undone.drafts[0].r2 == ()


def test_undo_in_a_hold_takes_back_only_what_was_refused():
    """Nothing typed is shown there, so what an undo would take back is not what was meant."""
    held = typed(fresh(*both_sides("soleus", scale=NEUTRAL)), "5<enter><enter>")[0]
    assert held.hold
    free = typed(held, "u")[0]
    assert (free.hold, free.drafts[0].r1) == (None, (5,))
    assert typed(free, "u")[0].drafts[0].r1 == ()


@pytest.mark.parametrize(("tries", "holds"), [(1, True), (2, True), (3, False), (5, False)])
def test_one_enter_for_each_planned_try_without_a_catch(tries, holds):
    enters = "<enter>" * (2 if tries == 1 else max(3, tries))
    state = typed(fresh(station("soleus", scale=NEUTRAL), tries=tries), enters)[0]
    assert (state.hold is not None) is holds
    if not holds:
        assert typed(state, "0")[0].drafts[0].quality == 0
