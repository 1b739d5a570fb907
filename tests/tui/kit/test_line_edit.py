"""One line of text with a cursor: keys, limits, and how it looks."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.text import visible
from limbscribe.tui.keys.keymap import KEYS, Keymap
from limbscribe.tui.kit.line_edit import (
    DIGITS,
    EDITS,
    EMPTY,
    LineEdit,
    edited,
    inserted,
    line_at,
    line_spans,
)
from limbscribe.tui.kit.paint import STYLES, width_of
from rich.cells import cell_len

LINES = st.builds(
    LineEdit, st.text("aZ 9\u0301\u4e2d", max_size=9), st.text("bY\u4e2d", max_size=9)
)


def keyed(line: LineEdit, *actions: str) -> LineEdit:
    """The line after actions; one character is typed."""
    for action in actions:
        new = inserted(line, action, 40) if len(action) == 1 else edited(line, action)
        assert isinstance(new, LineEdit)
        line = new
    return line


@pytest.mark.parametrize(
    ("actions", "before", "after"),
    [
        (("left",), "ab", "c"),
        (("left", "left", "x"), "ax", "bc"),
        (("home", "x"), "x", "abc"),
        (("home", "right", "right"), "ab", "c"),
        (("home", "end"), "abc", ""),
        (("left", "backspace"), "a", "c"),
        (("home", "delete"), "", "bc"),
        (("left", "left", "delete"), "a", "c"),
        (("delete",), "ab", ""),
        (("clear",), "", ""),
        (("left", "clear", "x"), "x", ""),
        (("home", "left"), "", "abc"),
        (("right",), "abc", ""),
        (("home", "backspace"), "", "abc"),
    ],
)
def test_keys_edit_at_the_cursor(actions: tuple[str, ...], before: str, after: str) -> None:
    assert keyed(LineEdit("abc"), *actions) == LineEdit(before, after)


def test_the_keys_do_nothing_in_an_empty_line() -> None:
    for action in EDITS:
        assert edited(EMPTY, action) == EMPTY


def test_a_mark_goes_with_its_letter() -> None:
    line = LineEdit("ae\u0301")
    assert keyed(line, "left") == LineEdit("a", "e\u0301")
    assert keyed(line, "left", "right") == line
    assert keyed(line, "left", "delete") == LineEdit("a")


def test_a_text_with_some_of_it_behind_the_cursor() -> None:
    assert line_at("abc", 1) == LineEdit("ab", "c")
    assert line_at("abc", 9) == LineEdit("", "abc")
    assert line_at("abc", 0) == LineEdit("abc")


def test_limits_are_the_callers() -> None:
    assert inserted(LineEdit("12", "4"), "3", 4, DIGITS) == LineEdit("123", "4")
    assert inserted(LineEdit("1"), "x", 4, DIGITS, "'Year'") == "only digits go into 'Year'"
    assert inserted(LineEdit("1"), "\u0663", 4, DIGITS) == "only digits go into this line"
    assert inserted(LineEdit("ab", "c"), "d", 3) == "this line takes at most 3 characters"
    assert inserted(LineEdit("ab"), "cd", 3) == "this line takes at most 3 characters"
    assert inserted(LineEdit("ab"), "\x1b", 9) == "this cannot be typed here"


@given(LINES, st.lists(st.sampled_from(sorted(EDITS)), max_size=20))
def test_moving_keeps_the_text_and_nothing_is_made_up(line: LineEdit, actions: list[str]) -> None:
    for action in actions:
        new = edited(line, action)
        if action in ("left", "right", "home", "end"):
            assert new.text == line.text
        else:
            assert len(new.text) <= len(line.text)
        line = new


@given(LINES, st.integers(8, 30), st.sampled_from(("", "bold", "here")))
def test_the_cursor_is_in_sight_in_any_width(line: LineEdit, width: int, style: str) -> None:
    spans = line_spans(line, width, style)
    assert width_of(spans) <= width
    cursor = "field" if style == "here" and line.after else "here"
    marked = [text for text, found in spans if found == cursor and found != style]
    shown = "".join(text for text, _ in spans)
    if style != "here" or line.after:
        assert marked == [line.after[0] if line.after else "_"]
    else:
        assert shown.endswith("_")
    whole = visible(line.text)
    if cell_len(whole) < width:
        assert shown.removesuffix("" if line.after else "_") == whole


def test_a_line_too_long_shows_what_is_around_the_cursor() -> None:
    def shown(line: LineEdit) -> str:
        return "".join(text for text, _ in line_spans(line, 10))

    assert shown(LineEdit("abcdefghijklm")) == "…fghijklm_"
    assert shown(LineEdit("", "abcdefghijklm")) == "abcdefghi…"
    assert shown(LineEdit("abcdefgh", "ijklmnop")) == "…defghijk…"


def test_the_cursor_is_seen_without_colours() -> None:
    assert STYLES["here"].reverse
    assert not STYLES["field"].reverse
    assert STYLES["field"].underline
    for style in ("here", "field"):
        assert STYLES[style].color is None


@pytest.mark.parametrize("screen", ["form", "patient", "locked", "opening", "checklist"])
def test_every_place_to_type_has_the_keys_of_a_line(screen: str) -> None:
    keymap = Keymap()
    wanted = {"left", "right", "home", "end", "delete", "backspace"}
    assert {keymap.action(screen, key) for key in wanted} == wanted
    assert keymap.action(screen, "ctrl+u") == "clear"
    assert keymap.action(screen, "ctrl+h") == "backspace"


def test_delete_is_backspace_where_it_has_no_binding_of_its_own() -> None:
    keymap = Keymap()
    bound = {key.id.partition(".")[0] for key in KEYS if "delete" in key.keys}
    assert bound == {
        *("form", "patient", "locked", "opening"),
        *("checklist", "sign", "adopt", "pace"),
    }
    assert keymap.action("entry", "delete") == "backspace"
    assert keymap.action("pace", "delete") == "delete"
