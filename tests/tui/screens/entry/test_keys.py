"""Which key of the entry is meant where a profile has bound a key that numbers are typed with."""

from __future__ import annotations

import pytest
from limbscribe.core.entry.state import EntryState, Field
from limbscribe.core.entry.step import step
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer

from tests.support.records import state_of

PAD = Keymap(profile_keys("number-pad"))


def press(state: EntryState, *keys: str) -> EntryState:
    """Type keys of the number pad."""
    for key in keys:
        state, _ = step(state, for_reducer(state, key, PAD.action("entry", key)))
    return state


@pytest.mark.parametrize(
    "before",
    ["4", "45", "4\nu", "4\n{", "10\n2{"],
    ids=["a digit", "two", "undone", "moved back to", "a quality moved back to"],
)
def test_a_point_behind_digits_in_sight_is_refused(before: str):
    state = state_of(before)
    held = press(state, ".")
    assert held.hold
    assert "whole degrees" in held.hold.why
    assert (held.cursor, held.drafts) == (state.cursor, state.drafts)
    assert press(held, ".", "5", "enter").cursor == held.cursor, "nor is it Backspace in a hold"


def test_a_point_in_an_empty_field_is_backspace():
    assert press(state_of("10\n"), ".").field is Field.R1
    assert press(state_of("-"), ".").cursor.signed is False
    assert press(state_of("w"), ".").mode is press(state_of(""), "0").mode


def test_a_plus_is_a_sign_before_digits_and_one_more_try_after_them():
    assert press(state_of(""), "+", "5", "enter").drafts[0].r1 == (5,)
    presigned = state_of(">>>")  # elbow flexors, where minus is preset
    assert presigned.station.scale.presign
    assert press(presigned, "+", "5", "enter").drafts[3].r1 == (5,)
    assert press(presigned, "5", "enter").drafts[3].r1 == (-5,)
    assert press(state_of(""), "5", "+", "7", "enter").drafts[0].r1 == (5, 7)
