"""The new painters fed with texts that would act on a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.change.compare_words import comparison_lines
from limbscribe.core.change.worklist import Task
from limbscribe.core.shelf import ChartEntry
from limbscribe.core.tardieu.reading import Side
from limbscribe.core.text import visible
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.screens.compare.paint import CompareFrame, paint_compare
from limbscribe.tui.screens.compare.state import VIEWS, CompareData, first_state
from limbscribe.tui.screens.events.model import Listed
from limbscribe.tui.screens.events.paint import EventsView, paint_events
from limbscribe.tui.screens.opening.model import Listing, with_entries
from limbscribe.tui.screens.opening.paint import OpeningView, paint_opening
from limbscribe.tui.screens.opening.work import Work
from rich.cells import cell_len

from tests.support.app import NOW
from tests.support.compared import BASIS, CAST, FIRST, LAST, TOXIN
from tests.support.records import MUSCLES, PATIENT
from tests.system.hostile.strings import ATTACKS, CANARY
from tests.system.hostile.surfaces import Board

SIZES = ((60, 20), (80, 24), (120, 40))


def screens(bad: str, width: int, height: int):
    strange = replace(FIRST.readings[0], muscle=bad, posture=bad, side=Side.RIGHT)
    first = replace(FIRST, readings=(strange, *FIRST.readings), examiner=bad)
    last = replace(LAST, readings=(replace(strange, posture="x"), *LAST.readings))
    events = (replace(TOXIN, note=bad, kind=bad), replace(CAST, muscle=bad, date=bad))
    data = CompareData(replace(PATIENT, code=bad), (first, last), events, BASIS)
    comparison = data.compared(first_state(data))
    rows = comparison.rows
    for view in VIEWS:
        for row in (0, len(rows) - 1):
            state = replace(first_state(data), view=view, row=row)
            frame = CompareFrame(comparison, rows, 2, MUSCLES, bad)
            yield paint_compare(state, frame, width, height)
    yield [((line, ""),) for line in comparison_lines(comparison, {"soleus": bad})][:height]
    listed = tuple(
        Listed(event, event, bad, bad, reason) for event in events for reason in (None, bad)
    )
    for at in range(len(listed)):
        view = EventsView(replace(PATIENT, code=bad), listed, at, bad)
        yield paint_events(view, MUSCLES, width, height)
    entry = ChartEntry("a", bad, bad, bad, 1958, 2, "2026-03-02T10:00:00+01:00")
    work = Work((Task(entry, "due", bad, NOW.date(), True),), 0, True)
    around = OpeningView(NOW, False, Keymap(), work)
    yield paint_opening(with_entries(Listing(), (entry,)), around, width, height)


@pytest.mark.parametrize("size", SIZES)
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
