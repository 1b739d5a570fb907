"""The list of many patients is shown as it was the last time, and looked at after that."""

from __future__ import annotations

from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf, index
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.screen import TOO_EARLY
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.opening import screen as opening_screen
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.terminal.typeahead import TypeAhead

from tests.support.app import burst, desk, press, shown
from tests.support.records import patient

DOWN, ENTER = ">", "\n"
NEVER_S = 3600.0


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> LimbscribeApp:
    """The program on a shelf whose list is on the disk; the tests say when it is looked at."""
    monkeypatch.setattr(index, "_MANY", 2)
    monkeypatch.setattr(opening_screen, "SETTLE_S", NEVER_S)
    for code in ("A-1", "C-3"):
        Shelf(tmp_path).create(patient(code))
    Shelf(tmp_path).charts()
    return LimbscribeApp(desk(tmp_path))


def add(app: LimbscribeApp, code: str) -> None:
    """Somebody else adds a patient."""
    Shelf(app.context.shelf.folder).create(patient(code))


def opening_of(app: LimbscribeApp) -> OpeningScreen:
    assert isinstance(app.screen, OpeningScreen)
    return app.screen


def codes(app: LimbscribeApp) -> list[str]:
    return [entry.code for entry in opening_of(app).listing.shown]


async def test_the_first_frame_looks_at_no_chart_and_the_next_at_each(app: LimbscribeApp) -> None:
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        assert codes(app) == ["A-1", "C-3"]
        opening_of(app).settle()
        await press(pilot, "")
        assert codes(app) == ["A-1", "B-2", "C-3"]
        assert any("B-2" in row for row in shown(pilot))


async def test_few_patients_or_no_list_on_the_disk_are_looked_at_first(
    app: LimbscribeApp, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(app, "B-2")
    assert len(app.context.shelf.charts_at_once()) == 2
    (tmp_path / "index.json").unlink()
    assert desk(tmp_path).shelf.charts_at_once() == ()
    app.context.shelf.charts()
    monkeypatch.setattr(index, "_MANY", 4)
    assert desk(tmp_path).shelf.charts_at_once() == ()
    assert len(OpeningScreen(desk(tmp_path)).listing.shown) == 3


async def test_keys_typed_ahead_of_another_list_act_on_no_row(app: LimbscribeApp) -> None:
    """Down and Enter typed where C-3 was below open neither it nor what is below now."""
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        opening_of(app).settle()
        await burst(pilot, DOWN + ENTER)
        opening = opening_of(app)
        assert opening.message == TOO_EARLY
        assert opening.listing.selected
        assert opening.listing.selected.code == "A-1"
        await press(pilot, DOWN + ENTER)
        assert isinstance(app.screen, ChartScreen)
        assert "B-2" in shown(pilot)[0]


async def test_without_that_they_would_act_on_another_one(
    app: LimbscribeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(TypeAhead, "drop_until_seen", lambda *_: None)
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        opening_of(app).settle()
        await burst(pilot, DOWN + ENTER)
        assert isinstance(app.screen, ChartScreen)
        assert "B-2" in shown(pilot)[0]


async def test_keys_typed_ahead_of_the_same_list_are_taken(app: LimbscribeApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        opening_of(app).settle()
        await burst(pilot, DOWN + ENTER)
        assert isinstance(app.screen, ChartScreen)
        assert "C-3" in shown(pilot)[0]


async def test_what_was_chosen_before_stays_chosen(app: LimbscribeApp) -> None:
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, DOWN)
        opening_of(app).settle()
        await press(pilot, ENTER)
        assert isinstance(app.screen, ChartScreen)
        assert "C-3" in shown(pilot)[0]


async def test_a_list_under_another_screen_is_read_when_that_is_closed(app: LimbscribeApp) -> None:
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        opening = opening_of(app)
        await press(pilot, ENTER)
        opening.settle()
        assert isinstance(app.screen, ChartScreen)
        assert len(opening.listing.shown) == 2
        await press(pilot, "q")
        assert codes(app) == ["A-1", "B-2", "C-3"]


async def test_the_look_comes_by_itself(
    app: LimbscribeApp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening_screen, "SETTLE_S", 0.001)
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        for _ in range(500):
            await pilot.pause(0.01)
            if len(codes(app)) == 3:
                break
        assert codes(app) == ["A-1", "B-2", "C-3"]


@pytest.mark.parametrize("keys", ["/b2", "n", "w"])
async def test_what_is_about_every_patient_waits_for_all_of_them(
    app: LimbscribeApp, keys: str
) -> None:
    add(app, "B-2")
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        opening = opening_of(app)
        assert "2 patients so far, 0 open sessions" in shown(pilot)[1]
        await burst(pilot, keys)
        assert [entry.code for entry in opening.listing.entries] == ["A-1", "B-2", "C-3"]
        if keys == "/b2":
            assert codes(app) == ["B-2"]
