"""Stored text that is printed cannot steer a terminal."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.text import hidden_character, visible


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
