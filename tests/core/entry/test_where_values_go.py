"""A value goes to the station and field that was meant; each of these was found by use."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.state import Field, Mode, Save
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.screens.entry.keys import for_reducer

from tests.support.records import reading
from tests.support.stations import NEUTRAL, both_sides, fresh, plan, station, typed

ONE, OTHER = "5<enter>220<enter>", "7<enter>219<enter>"
"""A whole station: R1, quality and R2."""

ONE_LIST = both_sides("hamstrings", scale=NEUTRAL)


@pytest.mark.parametrize("key", [*"0123456789-+.,", "<enter>", "<tab>"])
def test_a_value_behind_the_last_station_replaces_none(key: str):
    done, _ = typed(fresh(*ONE_LIST), ONE + OTHER)
    assert not done.open_stations
    held, _ = typed(done, key)
    assert held.hold
    assert typed(held, "7<enter>")[0].drafts == done.drafts
    corrected, _ = typed(held, "<up>6<enter>")
    assert corrected.drafts[0].r1 == (6,), "who goes to a station corrects it"


def test_a_value_behind_the_rest_marked_not_tested_or_a_session_resumed_replaces_none():
    state, effects = typed(fresh(*ONE_LIST), ONE + "lt")
    assert not state.open_stations
    assert typed(state, "7")[0].hold
    docs = [save_to_doc(each, "") for each in effects if isinstance(each, Save)]
    again, _ = replay(state.plan, docs)
    assert typed(again, "7")[0].hold


@pytest.mark.parametrize("way", ["<up>", "<home>", "gham left<enter>"])
def test_a_station_that_is_begun_is_gone_to_where_it_lacks_a_value(way: str):
    begun, _ = typed(fresh(*both_sides("hamstrings", "soleus")), "5<enter>2<pagedown>")
    back, _ = typed(begun, way * (2 if way == "<up>" else 1))
    assert (back.cursor.station, back.field) == (0, Field.R2)
    done, _ = typed(back, "20<enter><up><up>")
    assert (done.drafts[0].r1, done.drafts[0].r2) == ((5,), (20,))
    assert typed(done, "<home>")[0].cursor.station != 0


def test_a_backspace_right_behind_a_dropped_key_puts_that_one_right():
    held, _ = typed(fresh(), "5<enter>9" + "4")
    at_once, effects = typed(held, "<backspace>", apart=0.6)
    assert at_once.hold == held.hold
    assert effects, "it rings"
    assert typed(at_once, "<backspace>")[0].hold is None, "who has read why takes it away"


def test_a_backspace_behind_a_finished_station_goes_back_to_its_last_field():
    finished, _ = typed(fresh(), ONE)
    back, _ = typed(finished, "<backspace>")
    assert (back.cursor.station, back.field) == (0, Field.R2)
    assert typed(back, "18<enter>")[0].drafts[0].r2 == (18,)
    begun, _ = typed(finished, "3<backspace><backspace>")
    assert begun.cursor.station == 1, "not once something was typed in the new one"


def test_undo_shows_the_value_that_is_stored_again():
    stored, _ = typed(fresh(), "5<enter>")
    undone, _ = typed(stored, "<left>8<enter>u")
    assert undone.drafts[0].r1 == (5,)
    assert undone.cursor.text is None
    assert typed(undone, "<enter>")[0].drafts[0].r1 == (5,)


def test_capital_letters_of_caps_lock_are_the_small_ones_but_in_a_text():
    keymap, state = Keymap(), fresh()
    assert [keymap.action("entry", key) for key in "NUR"] == ["n", "u", "review"]
    assert for_reducer(replace(state, mode=Mode.REASON), "P", "p") == "p"
    assert for_reducer(replace(state, mode=Mode.COMMENT), "P", "p") == "P"


def test_a_velocity_that_is_a_station_of_its_own_is_not_taken_by_another():
    slow = replace(station(), velocity="V2")
    both = fresh(replace(slow, velocity="V3"), slow)
    refused, effects = typed(both, "f")
    assert refused.drafts == both.drafts
    assert effects


def test_last_values_tell_no_catch_from_not_tested():
    there = reading("hamstrings", Side.LEFT, None, 20, quality=0)
    none, unread = station(last=there), station(last=replace(there, quality=2))
    untested = station(last=replace(there, quality=None, r1_tries=()))
    found = [plan(each).stations[0].last_words[:2] for each in (none, untested, unread)]
    assert found == [("none", "0"), (".", "."), (".", "2")]
