"""Stored text that is printed cannot steer a terminal."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.text import cut, folded, hidden_character, padded, visible, width_of


@pytest.mark.parametrize(
    ("raw", "shown"),
    [
        ("Ödem, Knie", "Ödem, Knie"),
        ("\x1b]52;c;UFdO\x1b\\", "\\u001b]52;c;UFdO\\u001b\\"),
        ("a\x9bb", "a\\u009bb"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u200bb", "a\\u200bb"),
        ("a\u2028b", "a\\u2028b"),
        ("a\ud800b", "a\\ud800b"),
        ("a\r\n\tb", "a\\r\\n\\tb"),
        ("a\U000e0001b", "a\\U000e0001b"),
    ],
)
def test_characters_that_act_become_escapes(raw: str, shown: str) -> None:
    assert visible(raw) == shown


@given(st.text(st.characters(exclude_categories=())))
def test_nothing_that_acts_is_left(text: str) -> None:
    kinds = {unicodedata.category(char) for char in visible(text)}
    assert not kinds & {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}


def test_the_first_hidden_character_is_named_and_line_breaks_are_not_hidden() -> None:
    assert hidden_character("two\r\nlines\tand a tab") == ""
    assert hidden_character("a\nb\x07c\x1b") == "\\u0007"


@pytest.mark.parametrize(
    ("text", "cells"),
    [("Knie", 4), ("Knöchel", 7), ("膝屈筋", 6), ("e\u0301", 1), ("ก\u0e31", 1), ("क\u093f", 1)],
)
def test_a_wide_letter_takes_two_cells_and_a_mark_none(text: str, cells: int) -> None:
    assert width_of(text) == cells
    assert padded(text, 9) == text + " " * (9 - cells)
    assert padded(text, 9, right=True) == " " * (9 - cells) + text


def test_no_wide_letter_is_parted_by_a_cut() -> None:
    assert [cut("膝屈筋", width) for width in (1, 3, 4, 6)] == ["", "膝", "膝屈", "膝屈筋"]
    assert folded("膝屈筋 Knie", 5, "- ", "  ") == ["- 膝", "  屈", "  筋", "  Kni", "  e"]
