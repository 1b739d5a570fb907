"""The numbers of the pace screen are edited at a cursor."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.screens.pace.paint import paint_pace
from limbscribe.tui.screens.pace.state import SECONDS, START, step

from tests.tui.screens.pace.test_pace import pace_of, typed


def test_the_cursor_goes_into_a_number():
    """Left, a digit, Delete and Home work inside the digits, and the sign stays apart."""
    state, _ = typed(pace_of(), "12")
    for key in ("left", "5", "home", "delete"):
        state, _ = step(state, key, Keymap().action("pace", key), 0.0)
    assert state.boxes[START].digits == "52"
    assert state.boxes[START].line.after == "52"
    _, effects = step(state, "ctrl+u", "clear", 0.0)
    assert effects == ()
    state, effects = step(replace(state, at=SECONDS), "left", "left", 0.0)
    assert not state.boxes[SECONDS].offered
    cleared, _ = step(state, "ctrl+u", "clear", 0.0)
    assert cleared.boxes[SECONDS].value is None
    assert step(cleared, "delete", "delete", 0.0)[1] == ("bell",)


def test_the_cursor_is_seen_inside_a_number():
    state, _ = typed(pace_of(), "120")
    state, _ = step(state, "left", "left", 0.0)
    [row] = [
        row
        for row in paint_pace(state, 0.0, 80, 24)
        if "start of the" in "".join(t for t, _ in row)
    ]
    assert ("0", "field") in row
