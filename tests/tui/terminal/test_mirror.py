"""A change is written to the terminal in few bytes, and the terminal then shows all of it."""

from __future__ import annotations

from pathlib import Path

import pyte
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.tui.kit.paint import STYLES, Row, fit
from limbscribe.tui.terminal.mirror import CLEAR, ERASE, Mirror
from rich.console import Console
from rich.segment import Segment
from textual.strip import Strip

from tests.support.terminal import Terminal, shelf_args

WIDTH = 40

STYLED = st.sampled_from(("", "bold", "dim", "here", "field", "ask"))
SPANS = st.tuples(st.text("ab c  \u2502\u65e5", max_size=12), STYLED)
ROWS = st.lists(SPANS, max_size=4).map(lambda spans: fit(tuple(spans), WIDTH))
SCREENS = st.lists(st.lists(ROWS, min_size=3, max_size=3), min_size=1, max_size=5)

CONSOLE = Console(force_terminal=True, color_system="256", width=WIDTH)


def strips(rows: list[Row]) -> list[Strip]:
    """Rows as the canvas hands them on."""
    return [
        Strip([Segment(text, STYLES[style]) for text, style in row]).adjust_cell_length(WIDTH)
        for row in rows
    ]


def written(mirror: Mirror, *rows: Row) -> str:
    return mirror.update(strips(list(rows)), WIDTH, CONSOLE)


def shown(*pieces: str, lines: int = 3) -> list[list[tuple[object, ...]]]:
    """Every cell of a terminal after what was written to it: what it looks like."""
    pyte.graphics.TEXT[2] = "+italics"  # it knows no dim letters: here they are slanted
    screen = pyte.Screen(WIDTH, lines)
    stream = pyte.Stream(screen)
    for text in pieces:
        stream.feed(text)
    return [
        [(c.data, c.data != " " and (c.bold, c.italics, c.fg), c.reverse, c.underscore)
         for c in (screen.buffer[y][x] for x in range(WIDTH))]
        for y in range(lines)
    ]  # fmt: skip


@given(SCREENS)
def test_every_screen_looks_as_if_it_had_been_drawn_alone(screens: list[list[Row]]) -> None:
    """Whatever was there before: cells, styles, wide characters, blanks that were erased."""
    mirror, pieces = Mirror(), []
    for rows in screens:
        pieces.append(written(mirror, *rows))
        alone = written(Mirror(), *rows)
        assert shown(*pieces) == shown(alone)
        plain = "".join(f"\x1b[{y + 1}H{row.render(CONSOLE)}" for y, row in enumerate(strips(rows)))
        assert shown(alone) == shown(plain)


@given(SCREENS)
def test_what_is_there_already_is_not_written(screens: list[list[Row]]) -> None:
    mirror = Mirror()
    for rows in screens:
        written(mirror, *rows)
        assert written(mirror, *rows) == ""


def row(text: str, style: str = "") -> Row:
    return fit(((text, style),), WIDTH)


def test_only_the_changed_cells_are_written() -> None:
    mirror = Mirror()
    written(mirror, row("x" * 30 + "1"), row("a" + " " * 30 + "b"))
    assert written(mirror, row("x" * 30 + "2"), row("a" + " " * 30 + "b")) == "\x1b[1;31H2"
    far = written(mirror, row("x" * 30 + "2"), row("c" + " " * 30 + "d"))
    assert far == "\x1b[2Hc\x1b[30Cd"
    near = written(mirror, row("y" + "x" * 4 + "y" + "x" * 24 + "2"), row("c" + " " * 30 + "d"))
    assert near == "\x1b[1Hyxxxxy"


def test_a_blank_end_is_erased_and_a_blank_screen_costs_nothing() -> None:
    mirror = Mirror()
    assert written(mirror, row(""), row("")) == CLEAR
    written(mirror, row("words to the end of the row"), row(""))
    assert written(mirror, row("words"), row("")) == f"\x1b[1;7H{ERASE}"
    reverse = written(mirror, row("words" + " " * 35, "here"), row(""))
    assert ERASE not in reverse
    assert "words" + " " * 35 in reverse


def test_a_terminal_that_was_lost_is_written_whole() -> None:
    mirror = Mirror()
    first = written(mirror, row("one"), row("two"))
    assert first.startswith(CLEAR)
    mirror.lost()
    assert written(mirror, row("one"), row("two")) == first
    taller = mirror.update(strips([row("one"), row("two"), row("three")]), WIDTH, CONSOLE)
    assert taller.startswith(CLEAR)
    assert "three" in taller


def test_a_terminal_scribbled_over_is_drawn_anew_by_a_key(demo_copy: Path) -> None:
    """And one of another size by itself; a way there and back leaves the same picture."""
    terminal = Terminal(*shelf_args(demo_copy))
    terminal.wait_for("4 patients")
    terminal.rest()
    before = terminal.text()
    terminal._stream.feed(b"\x1b[5;10Hsomebody else\x1b[12;1Hwrites here\x1b[1;1H")
    assert terminal.text() != before
    terminal.send("\x0c")
    terminal.rest()
    assert terminal.text() == before
    for columns, lines in ((100, 30), (60, 20), (80, 24)):
        terminal.resize(columns, lines)
        terminal.rest()
        terminal.wait_for("4 patients")
    assert terminal.text() == before
    size = len(terminal.raw)
    terminal.send("<end><enter>")
    terminal.wait_for("[trend]")
    terminal.send("?")
    terminal.wait_for("Help: Chart")
    terminal.send("qq")
    terminal.wait_for("4 patients")
    terminal.send("<home>")
    terminal.rest()
    assert terminal.text() == before
    assert 1_000 < len(terminal.raw) - size < 12_000
    terminal.kill()
