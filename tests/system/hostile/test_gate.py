"""The gate, and every screen behind it: nothing that acts on a terminal comes out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.text import MOST_MARKS, visible
from limbscribe.tui.kit.paint import STYLES, fit, harmless, tail, width_of, wrap
from limbscribe.tui.terminal.characters import to_ascii
from limbscribe.tui.terminal.mirror import Mirror
from rich.cells import cell_len
from rich.console import Console
from rich.segment import Segment
from textual.strip import Strip
from wcwidth import wcwidth

from tests.support.sizes import and_deep, size

from .strings import ATTACKS, CANARY, clean, hostile_strings
from .surfaces import PAINTERS, Board, every_screen

ANY = st.text(st.characters(exclude_categories=()), max_size=60)
ALIKE = st.text(st.sampled_from("ea \u0301\u0323\u65e5"), max_size=8)
"""Texts that often begin and end alike."""

SIZES = ((60, 20), (80, 24), (120, 40))


# The gate ---------------------------------------------------------------------------------


def test_the_oracle_sees_every_attack() -> None:
    """Without this the tests below could pass because nothing hostile was tried."""
    strong = [attack for attack in ATTACKS if not clean(attack)]
    assert len(strong) > 30
    assert all(CANARY in attack for attack in ATTACKS)


@given(ANY)
def test_what_passes_is_clean_and_passes_again_unchanged(text: str) -> None:
    shown = visible(text)
    assert clean(shown)
    assert visible(shown) == shown


def test_every_character_there_is() -> None:
    """Alone and between letters: clean, and as wide as another table of widths says."""
    disagree: list[str] = []
    # From U+20000 on there are only ideographs, tags, selectors and private characters.
    for code in (*range(0x20000), *range(0x20000, 0xE0000, 0x101), *range(0xE0000, 0xE0400)):
        char = chr(code)
        shown = visible(f"a{char}b")
        assert clean(shown), hex(code)
        assert clean(visible(char)), hex(code)
        if shown == f"a{char}b" and wcwidth(char) != cell_len(char):
            disagree.append(hex(code))
    assert len(disagree) <= WIDTHS_IN_DISPUTE, disagree


WIDTHS_IN_DISPUTE = 0


def test_marks_do_not_pile_up_and_do_not_stand_on_what_is_not_theirs() -> None:
    piled = visible("e" + "\u0301" * 50)
    assert piled.count("\u0301") == MOST_MARKS
    assert visible("\u0301x").startswith("\\u0301")
    assert visible("Zoe\u0308, a\u0323\u0302") == "Zoe\u0308, a\u0323\u0302"


# Rows -------------------------------------------------------------------------------------


@given(ANY, st.integers(4, 40))
def test_rows_keep_their_width(text: str, width: int) -> None:
    row = fit(harmless(((text, ""), ("|", "bold"))), width)
    assert width_of(row) == width
    assert all(cell_len("".join(one for one, _ in row)) <= width for row in wrap(text, width))
    assert cell_len(tail(text, width)) <= width
    assert len(to_ascii(visible(text))) == cell_len(visible(text))


@given(ANY, st.integers(2, 30))
def test_wrapping_loses_no_character(text: str, width: int) -> None:
    wrapped = "".join(one for row in wrap(text, width) for one, _ in row)
    assert wrapped.replace(" ", "") == "".join(visible(text).split())


@given(ALIKE, ALIKE)
def test_a_changed_row_is_written_in_whole_characters(one: str, two: str) -> None:
    before, after = (fit(harmless(((text, ""),)), 40) for text in (one, two))
    if before == after:
        return
    mirror, console = Mirror(), Console(force_terminal=True, color_system=None, width=40)
    mirror.update([strip(before)], 40, console)
    written = mirror.update([strip(after)], 40, console)
    told = "".join(text for text, _ in after)
    if any(cell_len(char) != 1 for text, _ in (*before, *after) for char in text):
        assert told.rstrip() in written
        return
    pairs = zip(cells(before), cells(after), strict=True)
    assert all(new in (*written, " ") for old, new in pairs if old != new)


def strip(row: tuple[tuple[str, str], ...]) -> Strip:
    """A row as the canvas hands it on."""
    return Strip([Segment(text) for text, _ in row])


def cells(row: tuple[tuple[str, str], ...]) -> list[str]:
    """What stands in each cell, marks with what they stand on."""
    found: list[str] = []
    for text, _ in row:
        for char in text:
            if cell_len(char):
                found += [char, *[""] * (cell_len(char) - 1)]
            elif found:
                found[-1] += char
    return found


# Screens ----------------------------------------------------------------------------------


class Source:
    """Gives out hostile strings one after the other, and knows how many."""

    def __init__(self, wanted: int, seed: int) -> None:
        self.given = 0
        self._strings: Iterator[str] = hostile_strings(10**9, seed)
        self._wanted = wanted

    def __call__(self) -> str:
        """The next string."""
        self.given += 1
        return next(self._strings)

    @property
    def done(self) -> bool:
        """Whether as many were given out as were wanted."""
        return self.given >= self._wanted


@pytest.mark.parametrize("wanted", and_deep(1000, 2000, 50_000))
@pytest.mark.parametrize("ascii_only", [False, True])
def test_no_screen_lets_anything_through(ascii_only: bool, wanted: int) -> None:
    source = Source(wanted, seed=7 + ascii_only)
    lines: Counter[str] = Counter()
    canaries = 0
    turn = 0
    while not source.done:
        width, height = SIZES[turn % len(SIZES)]
        board = Board(width, height, ascii_only)
        for name, rows in every_screen(source, width, height):
            for drawn in board.drawn(rows):
                assert clean(drawn), (name, drawn)
                assert cell_len(drawn) == width, (name, drawn)
                assert not ascii_only or drawn.isascii(), (name, drawn)
                canaries += CANARY in drawn
                lines[name.split(",")[0]] += 1
        turn += 1
    print(f"\n{source.given} strings, {sum(lines.values())} lines: {dict(lines)}")
    assert len(lines) >= len(PAINTERS)
    assert canaries > source.given // 20, "the hostile text was not shown at all"


def test_the_canvas_alone_is_enough() -> None:
    """Painters may forget the gate: the last point does not."""
    board = Board(80, 24, False)
    for attack in ATTACKS:
        rows = [((attack, style), (attack, "")) for style in STYLES]
        for drawn in board.drawn(rows):
            assert clean(drawn)
            assert cell_len(drawn) == 80


def test_screens_of_huge_texts_are_painted() -> None:
    """Far more than anybody can store (500 characters): slow is allowed, hanging would hang us."""
    unit = ATTACKS[0] + "\u65e5\u0301 "
    huge = unit * (size(10_000, 10_000, 100_000) // len(unit))
    board = Board(80, 24, False)
    for paint in PAINTERS:
        name, rows = next(paint(lambda: huge, 80, 24))
        drawn = board.drawn(rows)
        assert drawn, name
        assert all(clean(line) for line in drawn)
