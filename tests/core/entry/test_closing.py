"""What is signed, and the half-typed stations that are cleared before that."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.core.entry.closing import cleared, half_typed, overridden
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.rows import entry_rows
from limbscribe.core.entry.state import Mode, Moment, Save, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.reading import Override

from tests.support.records import state_of


def test_half_typed_is_part_of_a_measurement_and_no_comment():
    assert half_typed(state_of("10\n220\n5\n3")) == (1,)
    assert half_typed(state_of("10\n220\n5")) == (1,)  # digits that were not accepted
    assert half_typed(state_of("10\n220\n")) == ()
    said = state_of("chello\n")
    assert said.drafts[0].comment == "hello"
    assert half_typed(said) == ()


def test_where_typing_went_on_and_nothing_was_taken_is_half_typed_too():
    """Nobody looked: what was said of the stations behind it is in no field."""
    done = state_of("10\n220\n")
    held = step(done, "enter", Moment(done.rhythm.last + 0.1))[0]
    assert half_typed(held) == ()
    dropped = step(held, "5")[0]
    assert half_typed(dropped) == (1,)
    new, effects = cleared(dropped, 1)
    assert (new.hold, new.drafts, effects) == (None, done.drafts, ())


def test_cleared_keeps_comment_pain_and_position_and_can_be_undone():
    state = state_of("10\n2chello\nw3\n")
    new, effects = cleared(state, 0)
    draft = new.drafts[0]
    assert (draft.r1, draft.quality, draft.comment, draft.pain) == ((), None, "hello", 3)
    assert half_typed(new) == ()
    assert [type(effect) for effect in effects] == [Save]
    back = step(new, "u")[0]
    assert back.drafts == state.drafts


def test_the_journal_keeps_what_was_cleared_and_replays_to_the_cleared_state():
    state, docs = begin(state_of("").plan), []
    for key in ("1", "0", "enter", "2"):
        state, effects = step(state, key)
        docs += [save_to_doc(each, "") for each in effects if isinstance(each, Save)]
    new, effects = cleared(state, 0)
    docs += [save_to_doc(each, "") for each in effects if isinstance(each, Save)]
    again, problems = replay(state.plan, docs)
    assert problems == []
    assert again.drafts == new.drafts
    assert [doc["draft"]["r1"] for doc in docs] == [(10,), (10,), ()]


def test_digits_alone_are_dropped_without_a_line_of_the_journal():
    state = state_of("1>5")
    assert state.mode is Mode.FIELDS
    index = state.cursor.station
    new, effects = cleared(state, index)
    assert effects == ()
    assert new.cursor.text is None
    assert not new.drafts[index].has_content


def test_a_done_station_loses_only_digits_on_top_of_it():
    done = state_of("10\n220\n")
    typing = replace(done, cursor=replace(done.cursor, station=0, text="7"))
    assert half_typed(typing) == (0,)
    new, effects = cleared(typing, 0)
    assert (effects, new.drafts) == ((), done.drafts)


def test_overridden_stations_are_counted():
    state = state_of("10\n220\n")
    assert overridden(entry_rows(state)) == 0
    draft = replace(state.drafts[0], overrides=(Override("hard-limit", "seen"),))
    assert overridden(entry_rows(replace(state, drafts=(draft, *state.drafts[1:])))) == 1
