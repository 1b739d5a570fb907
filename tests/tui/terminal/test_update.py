"""A change is written to the terminal in few bytes, and the terminal then shows all of it."""

from __future__ import annotations

import pyte
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.tui.kit.canvas import changed
from limbscribe.tui.kit.paint import STYLES, Row, fit
from limbscribe.tui.terminal.update import TightUpdate
from rich.console import Console
from rich.segment import Segment
from textual._compositor import ChopsUpdate
from textual.strip import Strip

WIDTH = 40

SPANS = st.tuples(st.text("ab c\u2502\u65e5", max_size=12), st.sampled_from(("", "bold", "dim")))
ROWS = st.lists(SPANS, max_size=4).map(lambda spans: fit(tuple(spans), WIDTH))
SCREENS = st.lists(st.tuples(ROWS, ROWS), min_size=1, max_size=4)

CONSOLE = Console(force_terminal=True, color_system="256", width=WIDTH)


def strip_of(row: Row) -> Strip:
    return Strip([Segment(text, STYLES[style]) for text, style in row]).adjust_cell_length(WIDTH)


def update(rows: list[Row], spans: list[tuple[int, int, int]]) -> ChopsUpdate:
    """What Textual makes of one widget that fills the screen."""
    return ChopsUpdate([{0: strip_of(row)} for row in rows], spans, [[WIDTH]] * len(rows))


def everything(rows: list[Row]) -> str:
    spans = [(y, 0, WIDTH) for y in range(len(rows))]
    return update(rows, spans).render_segments(CONSOLE)


def shown(*written: str, lines: int) -> list[list[tuple[str, bool]]]:
    """Character and boldness of every cell of a terminal after what was written to it."""
    screen = pyte.Screen(WIDTH, lines)
    stream = pyte.Stream(screen)
    for text in written:
        stream.feed(text.replace("\n", "\r\n"))
    return [
        [(screen.buffer[y][x].data, screen.buffer[y][x].bold) for x in range(WIDTH)]
        for y in range(lines)
    ]


@given(SCREENS)
def test_the_changed_stretches_are_all_that_is_needed(rows: list[tuple[Row, Row]]) -> None:
    before, after = [one for one, _ in rows], [two for _, two in rows]
    spans = [
        (y, start, end)
        for y, (one, two) in enumerate(rows)
        if one != two
        for start, end in changed(one, two, WIDTH)
    ]
    if not spans:
        return
    tight = TightUpdate.of(update(after, spans)).render_segments(CONSOLE)
    lines = len(rows)
    assert shown(everything(before), tight, lines=lines) == shown(everything(after), lines=lines)


def test_what_did_not_change_is_not_written() -> None:
    one = (("x" * 30, "dim"), ("1", "bold"), (" " * 9, ""))
    two = (("x" * 30, "dim"), ("2", "bold"), (" " * 9, ""))
    spans = [(0, start, end) for start, end in changed(one, two, WIDTH)]
    assert spans == [(0, 30, 31)]
    tight = TightUpdate.of(update([two], spans)).render_segments(CONSOLE)
    assert "x" not in tight
    assert "2" in tight
    assert len(tight) < 25


def test_far_changes_of_a_row_are_two_stretches_and_near_ones_are_one() -> None:
    row = (("a" + " " * 30 + "b" + " " * 8, ""),)
    far = (("c" + " " * 30 + "d" + " " * 8, ""),)
    assert changed(row, far, WIDTH) == [(0, 1), (31, 32)]
    near = (("c" + " " * 4 + "d" + " " * 25 + "b" + " " * 8, ""),)
    assert changed(row, near, WIDTH) == [(0, 6)]
