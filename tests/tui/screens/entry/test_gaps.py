"""The tens of the gaps on the body chart of the entry, in place of the states."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.entry.state import EntryState
from limbscribe.core.tardieu.measurement_error import error_of_readings
from limbscribe.core.tardieu.reading import Side
from limbscribe.core.tardieu.reference import Reference
from limbscribe.tui.kit.body import CHART_WIDTH, body_rows, legend_rows, spot_of, strip_row
from limbscribe.tui.kit.paint import Row, width_of
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests.support.app import OneScreen, desk_on, press, shown, text_of
from tests.support.records import MUSCLES, session, state_of


def sign_at(rows: list[Row], muscle: str, side: Side) -> tuple[str, str]:
    """The sign of a place on the figures, and its style."""
    view, y, x = spot_of(MUSCLES[muscle], side)
    at = x + (0 if view == "front" else CHART_WIDTH - 17)
    for text, style in rows[y + 1]:
        if at < len(text):
            return text[at], style
        at -= len(text)
    raise AssertionError(muscle)


def calf(state: EntryState, side: Side) -> tuple[str, str]:
    return sign_at(body_rows(state, gaps=True), "gastrocnemius", side)


@pytest.mark.parametrize(
    ("keys", "sign"),
    [
        ("-20\n215\n", "3"),  # 15 - -20 = 35
        ("-20\n2-11\n", "0"),  # 9
        ("\n115\n", "-"),
        ("np", "x"),
        ("-20\n>", "?"),
        (">", "."),
    ],
)
def test_each_state_of_a_gap_has_its_sign(keys: str, sign: str):
    """The first station is the gastrocnemius, Left; R1, quality, R2 are typed in this order."""
    assert calf(state_of(keys), Side.LEFT)[0] == sign


def test_r2_short_of_the_reference_is_underlined():
    """Short is what one reading's error does not explain; without a reference nothing is."""
    error = error_of_readings(5, 1)
    for r2, mean, style in (
        (20, None, "bold"),
        (20, 20 + error, "bold"),
        (20, 20 + error + 1, "title"),
    ):
        state = state_of(f"-20\n2{r2}\n")
        first = state.plan.stations[0]
        if mean is not None:
            reference = Reference("m", mean, 5, None, None, 0, 99, "any", "passive", "", "", "")
            first = replace(first, reference=reference)
        plan = replace(state.plan, stations=(first, *state.plan.stations[1:]))
        assert calf(replace(state, plan=plan), Side.LEFT) == ("4", style)
    assert ("R2 short", "title") in legend_rows(gaps=True)[0]


def test_the_current_station_and_the_side_stay_in_sight():
    state = state_of("-20\n215\n")
    assert calf(state, Side.RIGHT) == calf(state_of("-20\n215\n<>"), Side.RIGHT)
    rows = body_rows(state, gaps=True)
    assert "@" in "".join(text_of(rows))
    assert all(width_of(row) == CHART_WIDTH for row in rows)
    assert all(width_of(row) <= CHART_WIDTH for row in legend_rows(gaps=True))
    assert text_of([strip_row(state, 60, gaps=True)]) == ["gap tens 3@.."]
    assert text_of([strip_row(state, 60)]) == ["stations *@.."]


async def test_a_key_turns_it_on_and_off_and_keeps_what_is_typed(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    screen = EntryScreen(desk, desk.shelf.load(chart_id), opened)
    async with OneScreen(screen).run_test(size=(80, 24)) as pilot:
        await press(pilot, "-20\n215\n1")
        before, state = shown(pilot), screen.state
        await press(pilot, "#")
        gaps = shown(pilot)
        assert gaps[19].startswith("gap tens  R2 short")
        assert screen.state.drafts == state.drafts
        assert screen.state.cursor == state.cursor
        await press(pilot, "#")
        assert shown(pilot) == before
