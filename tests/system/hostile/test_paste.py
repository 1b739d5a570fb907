"""Pasted text is never taken for keys, whatever is in it and however it arrives."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.tui.terminal.paste import END, START, SUBSTITUTE, PasteFilter, PasteParser
from textual import events
from textual.message import Message

from .strings import ATTACKS, mixture


def pieces(text: str, random: Random) -> list[str]:
    """The text as a slow line delivers it."""
    cuts = sorted(random.randrange(len(text) + 1) for _ in range(random.randrange(6)))
    return [text[a:b] for a, b in zip([0, *cuts], [*cuts, len(text)], strict=True) if a < b]


def parsed(text: str, seed: int) -> list[Message]:
    """What the parser makes of it."""
    parser = PasteParser()
    return [m for piece in pieces(text, Random(seed)) for m in parser.feed(piece)]


@pytest.mark.parametrize("attack", ATTACKS)
def test_a_paste_is_one_paste_and_no_key(attack: str) -> None:
    for seed in range(12):
        found = parsed(f"{START}{attack}q{END}", seed)
        keys = [event for event in found if isinstance(event, events.Key)]
        assert keys == []


def test_what_follows_a_paste_is_keys_again() -> None:
    random = Random(1)
    for seed in range(400):
        inside = mixture(random).replace(END, "").replace("\0", "")
        if inside.endswith("\x1b"):
            inside += "."
        found = parsed(f"a{START}{inside}{END}bc", seed)
        shown = [m.key if isinstance(m, events.Key) else m for m in found]
        assert (shown[0], shown[-2:]) == ("a", ["b", "c"])
        [paste] = [m for m in shown if isinstance(m, events.Paste)]
        assert paste.text == inside.replace("\x1b", SUBSTITUTE)


@given(st.text(st.sampled_from("\x1b[20~1a"), max_size=40), st.randoms(use_true_random=False))
def test_without_a_paste_everything_passes_at_once(text: str, random: Random) -> None:
    if START in text:
        return
    whole = PasteFilter()
    assert "".join(whole.through(piece) for piece in pieces(text, random)) == text


def test_the_pieces_make_no_difference() -> None:
    random = Random(2)
    for _ in range(400):
        text = "".join(random.choice((START, END, "\x1b", "[", "2", "0", "x")) for _ in range(12))
        whole = PasteFilter().through(text)
        parts = PasteFilter()
        assert "".join(parts.through(char) for char in text) == whole
