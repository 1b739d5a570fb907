"""Going to a row by letters of its name, the same in every list."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.tardieu.reading import Side
from limbscribe.core.text import names
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.compare.screen import CompareScreen

from tests.support.app import OneScreen, desk_on, press, shown, type_keys
from tests.support.records import reading, session


@pytest.mark.parametrize(
    ("letters", "found"),
    [
        ("gas r", True),
        ("R gas", True),
        ("troc", False),
        ("", False),
        ("  ", False),
        ("hip add", False),
    ],
)
def test_each_word_begins_a_word_of_the_name(letters: str, found: bool):
    assert names("Gastrocnemius Gastroc Right", letters) is found


async def test_letters_choose_a_row_and_everything_else_ends_them(tmp_path: Path):
    """Enter stays, an arrow moves on from there, letters that mean nothing are not typed."""
    joints = [(muscle, side) for muscle in ("gastrocnemius", "soleus") for side in Side]
    one = session("2026-02-02", *(reading(*joint, 0, 5) for joint in joints))
    app = OneScreen(ChartScreen(*desk_on(tmp_path, one, session("2026-03-02", *one.readings))))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "gso r")
        assert shown(pilot)[2].endswith("Soleus, Right (4 of 4)")
        assert "go to: so r_" in shown(pilot)[-2]
        await press(pilot, "x")  # compare, were it not a letter
        assert "no row has a word that begins like 'so rx': nothing was typed" in shown(pilot)[-2]
        await type_keys(pilot, "backspace", "l")
        assert shown(pilot)[2].endswith("Soleus, Left (3 of 4)")
        await press(pilot, "\n")
        assert not shown(pilot)[-2]
        await press(pilot, "gga<")
        assert shown(pilot)[2].endswith("Gastrocnemius, Left (1 of 4)")
        await type_keys(pilot, "end")
        assert shown(pilot)[2].endswith("Soleus, Right (4 of 4)")
        await type_keys(pilot, "home", "g", "backspace", "down")
        assert shown(pilot)[2].endswith("Gastrocnemius, Right (2 of 4)")
        await press(pilot, "vvggas l")
        assert any(row.startswith(">*  Gastrocnemius") and "Left" in row for row in shown(pilot))
        await press(pilot, "\nxgsol\n")
        assert isinstance(app.screen, CompareScreen)
        assert app.screen.state.row == 2
        await press(pilot, "vg")
        await press(pilot, "ga r")
        assert app.screen.state.row == 1
