"""The screens for raters, checklists, reports, pace and comparisons, fed with hostile texts.

The comparison and the treatment dates stand in tests/system/hostile/test_change_screens.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import pytest
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.entry.state import cursor_at
from limbscribe.core.text import visible
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.line_edit import LineEdit
from limbscribe.tui.kit.long_text import paint_long
from limbscribe.tui.kit.long_text import rows_of as figure_rows
from limbscribe.tui.kit.paint import Row, message_rows
from limbscribe.tui.screens.lists.model import Editing
from limbscribe.tui.screens.lists.paint import paint_editor, paint_lists
from limbscribe.tui.screens.pace.paint import paint_pace
from limbscribe.tui.screens.pace.state import Box, PaceState
from limbscribe.tui.screens.raters.view import Entry, paint_overview
from limbscribe.tui.screens.report.paint import ReportState, clipboard_text, paint_report, text_rows
from rich.cells import cell_len

from tests.support.records import MUSCLES, state_of

from .strings import ATTACKS, CANARY
from .surfaces import Board


def screens(bad: str, width: int, height: int) -> Iterator[Sequence[Row]]:
    """Each later screen with hostile text wherever data can be."""
    entries = (Entry(bad, (bad,) * 7, bad), Entry("", (), f"table {bad}"))
    for at in (0, 1):
        yield paint_overview(entries, at, width, height)
    yield paint_long(bad, figure_rows((bad, f"    {bad}"), width), 0, width, height)
    items = tuple(Item(muscle, posture=bad) for muscle in ("soleus", "hamstrings"))
    checklist = Checklist(bad, bad, items)
    yield paint_lists([(checklist, bad)], 0, width, height)
    yield message_rows(bad, width)
    for asking in ("", "add", "name"):
        editing = Editing(checklist, MUSCLES, asking=asking, typed=LineEdit(bad, bad))
        yield paint_editor(editing, Keymap(), width, height)
    rows = text_rows(f"{bad}\n\f{bad}", width)
    yield paint_report(ReportState(), rows, bad, width, height)
    entry = state_of("")
    station = replace(entry, cursor=cursor_at(entry, 0)).station
    boxes = (Box("10"), Box("90"), Box("170"), Box("3"))
    pace = PaceState(bad, station.muscle, station.scale, True, boxes)
    yield paint_pace(pace, 0.0, width, height)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_nothing_that_acts_comes_through(size: tuple[int, int]) -> None:
    board = Board(*size, False)
    seen = 0
    for attack in ATTACKS:
        for rows in screens(attack, *size):
            for drawn in board.drawn(rows):
                assert visible(drawn) == drawn, attack
                assert cell_len(drawn) == size[0]
                seen += CANARY in drawn
    assert seen > len(ATTACKS), "the hostile text was not shown at all"


@pytest.mark.parametrize("attack", ATTACKS)
def test_what_is_copied_cannot_act(attack: str) -> None:
    copied = clipboard_text(f"{attack}\n{attack}\f{attack}")
    assert all(visible(one) == one for one in copied.split("\n"))
