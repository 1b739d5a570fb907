"""A list in a window: its cursor stays inside, and the selected row is in sight."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.kit.scroll import (
    STEPS,
    centred,
    clamped,
    clamped_top,
    first_shown,
    moved,
    moving,
    pointer_row,
    scroll_row,
    scrolled,
)

COUNTS, ROOMS = st.integers(0, 60), st.integers(1, 30)


@pytest.mark.parametrize(
    ("at", "action", "wanted"),
    [
        (3, "up", 2),
        (3, "down", 4),
        (0, "up", 0),
        (19, "down", 19),
        (9, "pageup", 4),
        (3, "pageup", 0),
        (9, "pagedown", 14),
        (17, "pagedown", 19),
        (9, "home", 0),
        (9, "end", 19),
    ],
)
def test_a_cursor_moves_and_stops_at_the_ends(at: int, action: str, wanted: int) -> None:
    assert moved(at, action, 20, page=5) == wanted


@pytest.mark.parametrize(
    ("top", "action", "count", "wanted"),
    [
        (0, "up", 50, 0),
        (25, "pagedown", 50, 30),
        (0, "pagedown", 50, 19),
        (30, "pageup", 50, 11),
        (0, "down", 10, 0),
        (7, "home", 50, 0),
        (7, "end", 50, 30),
    ],
)
def test_a_text_scrolls_and_stops_at_the_ends(top, action, count, wanted) -> None:
    assert scrolled(top, action, count, room=20) == wanted


def test_a_list_scrolls_no_more_than_needed() -> None:
    assert first_shown(0, 3, 5, 20) == 0
    assert first_shown(0, 7, 5, 20) == 3
    assert first_shown(3, 4, 5, 20) == 3
    assert first_shown(9, 4, 5, 20) == 4
    assert first_shown(18, 19, 5, 20) == 15
    assert first_shown(3, 0, 30, 20) == 0


def test_the_selected_row_is_in_the_middle_where_it_can_be() -> None:
    assert [centred(at, 5, 20) for at in (0, 2, 10, 19)] == [0, 0, 8, 15]
    assert centred(3, 30, 20) == 0


@given(COUNTS, ROOMS, st.integers(-5, 70), st.sampled_from(STEPS))
def test_whatever_the_list_the_cursor_is_inside_and_in_sight(
    count: int, room: int, start: int, action: str
) -> None:
    at = moved(clamped(start, count), action, count, room)
    assert 0 <= at < max(1, count)
    for top in (first_shown(start, at, room, count), centred(at, room, count)):
        assert top <= at < top + room
        assert top == clamped_top(top, count, room)
    assert 0 <= scrolled(clamped_top(start, count, room), action, count, room) <= max(0, count - 1)


def test_every_step_has_its_entry_in_a_table_of_actions() -> None:
    taken: list[str] = []
    table = moving(taken.append)
    for action in STEPS:
        table[action]()
    assert taken == list(STEPS)


def test_a_rule_says_what_is_in_sight_only_when_not_all_is() -> None:
    assert scroll_row(5, 10, 30, 40)[0][0].startswith("- 6 to 15 of 30 -")
    assert scroll_row(25, 10, 30, 40)[0][0].startswith("- 26 to 30 of 30 -")
    assert set(scroll_row(0, 10, 10, 40)[0][0]) == {"-"}
    assert width_of(scroll_row(5, 10, 30, 40)) == 40


def test_the_selected_row_has_a_pointer_and_is_cut_to_the_window() -> None:
    chosen, other = pointer_row("station", True, 20), pointer_row("station", False, 20, "bold")
    assert [row[0] for row in (chosen, other)] == [("> station", "here"), ("  station", "bold")]
    assert width_of(pointer_row("x" * 40, True, 20)) == 20
