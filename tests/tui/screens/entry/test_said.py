"""What the entry shows by itself: the sentence, the next station, the grades, the sides."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.entry.said import GRADES
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.entry.layout import View, paint_entry, resting_rows
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests.support.app import desk_on, fits, press, shown, text_of
from tests.support.records import MUSCLES, session, state_of


def painted(keys: str, size: tuple[int, int] = (80, 24), **more) -> list[str]:
    rows = paint_entry(View(state_of(keys), ("INV-07",), (), 0.0, (), **more), *size)
    assert fits(rows, *size)
    return text_of(rows)


async def test_the_sentence_stays_until_the_line_is_needed(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
        await app.push_screen(EntryScreen(desk, desk.shelf.load(chart_id), opened))
        await press(pilot, "10\n220\n")
        stored = "Stored: Left Gastrocnemius: R1 10, quality 2, R2 20, gap 10 deg."
        assert shown(pilot)[22] == stored
        assert shown(pilot)[21] == "2 of 4  next Soleus, Left"
        assert shown(pilot)[23].startswith("Enter no catch")
        assert shown(pilot)[23].endswith("r review")
        await press(pilot, "5")
        assert shown(pilot)[22] == stored
        assert shown(pilot)[23].startswith("Enter accept")
        await press(pilot, "\n")
        assert shown(pilot)[22] == "R1 5, Gastrocnemius, Right"


def test_the_grades_take_the_free_rows_at_the_quality_only():
    """Once the keys have come to rest; elsewhere the trend is there."""

    def at_rest(keys: str) -> list[str]:
        view = View(state_of(keys), ("INV-07",), (), 0.0, ())
        below = resting_rows(view, 80, 24, lambda width, height: ["the trend"] * height)
        return text_of(paint_entry(replace(view, below=below), 80, 24))

    rows = at_rest("10\n")
    for words in GRADES[:5]:
        assert any(words in row for row in rows)
    assert not any("the trend" in row for row in rows)
    for keys in ("10", "10\n2"):
        assert not any(GRADES[0] in row for row in at_rest(keys))
        assert any("the trend" in row for row in at_rest(keys))
    assert not any(GRADES[0] in row for row in painted("10\n"))


def test_the_side_is_at_the_edge_on_its_side():
    left, right = painted(""), painted(">")
    assert left[2].startswith("LEFT ")
    assert not any(row.endswith(" RIGHT") for row in left)
    assert right[1].endswith("Gastrocnemius, RIGHT                  RIGHT")
    assert len(right[1]) == 80
    assert not any(row.startswith("LEFT") for row in right)


@pytest.mark.parametrize("muscle", sorted(MUSCLES))
def test_no_name_is_cut_for_the_label(muscle: str):
    assert width_of(((f"{MUSCLES[muscle].name}, RIGHT RIGHT", ""),)) <= 44


def test_a_small_window_has_both_labels_too():
    assert painted("", (60, 20))[2].startswith("LEFT Gastrocnemius, LEFT")
    assert painted(">", (60, 20))[2].endswith(" RIGHT")


def test_the_turn_comes_before_the_name_that_a_narrow_window_may_cut():
    items = (Item("elbow-flexors", "left"), Item("hip-flexors", "left"))
    state = state_of("", Checklist("t", "Turning", items))
    rows = text_of(paint_entry(View(state, ("INV-07",), (), 0.0, ()), 60, 20))
    assert "1 of 2  turn: supine  next Hip flexors, Left" in rows
