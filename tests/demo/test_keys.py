"""Keystroke files: what they mean, and what they say when they are broken."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.demo.keys import NAMED, parse_keys


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("", ()),
        ("13 <enter>", ("1", "3", "enter")),
        ("-5<enter>2", ("-", "5", "enter", "2")),
        ("# 1 2 3\n4\n  # 5\n\n6", ("4", "6")),
        ("1 # 2", ("1", "#", "2")),
        ('c "a <b # c" <enter>', ("c", *"a <b # c", "enter")),
        ('"" 1', ("1",)),
        ("<quote><pageup><up>", ('"', "pageup", "up")),
        ("1\r\n2\r\n", ("1", "2")),
        ("\t1 \t 2", ("1", "2")),
        ('"ü"', ("ü",)),
    ],
)
def test_what_is_typed(text, keys):
    assert parse_keys(text, "x.keys") == keys


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("1 <entre>", "no key is called <entre>"),
        ("<>", "no key is called <>"),
        ("<Enter>", "no key is called <Enter>"),
        ("2 <enter", "an angle bracket opened here is never closed"),
        ('c "half', "a quote opened here is never closed"),
        ("1\x1b2", "'\\x1b' is no key"),
        ('"a\tb"', "'\\t' is no key"),
    ],
)
def test_a_problem_names_its_line(line, what):
    found = parse_keys(f"# first\n1\n{line}\n2\n", "x.keys")
    assert isinstance(found, list)
    assert [(problem.where, problem.what) for problem in found] == [("x.keys line 3", what)]
    assert found[0].mend


def test_every_broken_line_is_told():
    found = parse_keys('<a>\n1\n"b\n', "x.keys")
    assert isinstance(found, list)
    assert [problem.where for problem in found] == ["x.keys line 1", "x.keys line 3"]


def test_every_key_of_the_reducer_can_be_written():
    """Each name of a key that core.entry takes stands for itself; all others are characters."""
    text = " ".join(f"<{name}>" for name in NAMED if name != "quote")
    assert parse_keys(text, "x.keys") == tuple(name for name in NAMED if name != "quote")
    assert set(NAMED) >= {
        *("enter", "tab", "backspace", "escape", "up", "down", "left", "right"),
        *("pageup", "pagedown", "home", "end"),
    }


@given(st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=30))
def test_any_printable_text_can_be_quoted(text):
    text = "".join(character for character in text if character.isprintable())
    quoted = '"' + text.replace('"', '"<quote>"') + '"'
    assert parse_keys(quoted, "x.keys") == tuple(text)
