"""The report screen: preview, forms, saving, copying."""

from __future__ import annotations

import stat
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.config.catalogue import Catalogue
from limbscribe.core.config.settings import Settings
from limbscribe.core.report.forms import FORMS, rendered
from limbscribe.core.report.model import Report
from limbscribe.core.shelf import Shelf
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.kit.scroll import scrolled
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.report.paint import (
    FOLD,
    ReportState,
    clipboard_text,
    next_form,
    paint_report,
    text_rows,
)
from limbscribe.tui.screens.report.saving import offered, save
from limbscribe.tui.screens.report.screen import ReportScreen

from tests.support.app import OneScreen, press, shown
from tests.support.records import CHECKLIST, MUSCLES, PATIENT
from tests.support.reports import CODE, chart_in


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A home folder of the test's own."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.setenv("HOME", str(folder))
    return folder


@pytest.fixture
def desk(tmp_path: Path) -> tuple[Context, str]:
    """A desk with the tiny chart, and the chart's id."""
    chart = chart_in(tmp_path)
    catalogue = Catalogue(MUSCLES, (CHECKLIST,), Settings(), ())
    return Context(Shelf(tmp_path / "shelf"), catalogue, Keymap(), Flow()), chart.id


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("form", FORMS)
def test_preview_fits_and_loses_nothing(size: tuple[int, int], form: str, hostile: Report):
    width, height = size
    rows = text_rows(rendered(hostile, form), width)
    state = ReportState(form)
    seen: list[str] = []
    for _ in range(len(rows)):
        painted = paint_report(state, rows, "title", width, height)
        assert len(painted) <= height
        assert all(width_of(row) <= width for row in painted)
        seen += ["".join(text for text, _ in row) for row in painted[FOLD:]]
        top = scrolled(state.top, "pagedown", len(rows), height - FOLD)
        if top == state.top:
            break
        state = replace(state, top=top)
    assert {"".join(text for text, _ in row) for row in rows} <= set(seen) | {""}


def test_forms_go_round():
    state, seen = ReportState(), []
    for _ in FORMS:
        seen.append(state.form)
        state = next_form(ReportState(state.form, 5))
    assert seen == list(FORMS)
    assert state == ReportState()


@pytest.mark.parametrize("form", FORMS)
def test_copied_text_is_the_report_and_can_steer_nothing(form: str, hostile: Report):
    text = rendered(hostile, form)
    copied = clipboard_text(text)
    assert copied == text.replace("\f", "\n")
    assert all(char == "\n" or char.isprintable() for char in copied)
    assert clipboard_text("a\x1b]0;b\x07\fc\n") == "a\\u001b]0;b\\u0007\nc\n"


def test_offered_name_is_free_and_without_the_code(home: Path):
    first = offered("html", "2026-04-01")
    assert Path(first).parent == home
    assert CODE not in first
    Path(first).write_text("mine")
    second = offered("html", "2026-04-01")
    assert second != first
    assert not Path(second).exists()


def test_saving_never_replaces_and_says_what_went_wrong(home: Path):
    path = home / "a.txt"
    assert save("~/a.txt", "caf\u00e9".encode()) == ""
    assert path.read_text("utf-8") == "caf\u00e9"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert "exists and was not touched" in save(str(path), b"other")
    (home / "link").symlink_to(home / "elsewhere")
    assert "was not touched: a symbolic link" in save(str(home / "link"), b"other")
    assert not (home / "elsewhere").exists()
    assert "No such file" in save(str(home / "no" / "a.txt"), b"x")
    assert "was not written" in save("a\0b", b"x")
    assert "no path" in save("", b"x")
    assert path.read_text("utf-8") == "caf\u00e9"


async def test_from_the_chart_to_a_file(desk: tuple[Context, str], home: Path):
    app = OneScreen(ChartScreen(*desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "r")
        assert isinstance(app.screen, ReportScreen)
        assert f"{CODE}  report of the session of 01 Apr 2026" in shown(pilot)[0]
        await press(pilot, "ff")
        assert "HTML form" in shown(pilot)[1]
        await press(pilot, "s")
        assert any("save the report" in row for row in shown(pilot))
        await press(pilot, "\n")
        path = home / "report-2026-04-01.html"
        assert isinstance(app.screen, ReportScreen)
        assert path.read_text("utf-8") == app.screen.text
        assert any("saved to" in row for row in shown(pilot))
        await press(pilot, "q")
        assert isinstance(app.screen, ChartScreen)


async def test_the_page_is_in_the_language_of_the_settings_and_the_screen_in_english(
    desk: tuple[Context, str], home: Path
):
    context, chart_id = desk
    catalogue = replace(context.catalogue, settings=Settings(language="de"))
    app = OneScreen(ChartScreen(replace(context, catalogue=catalogue), chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "r")
        assert isinstance(app.screen, ReportScreen)
        assert f"{CODE}  report of the session of 01 Apr 2026" in shown(pilot)[0]
        assert "Sitzung 3 von 3, 01.04.2026" in shown(pilot)[2]
        await press(pilot, "v")
        assert app.screen.state.full
        assert "session 3 of 3, 01 Apr 2026" in shown(pilot)[2]


async def test_the_chosen_session_is_reported(desk: tuple[Context, str]):
    app = OneScreen(ChartScreen(*desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "vv{r")
        assert isinstance(app.screen, ReportScreen)
        assert "02 Feb 2026" in shown(pilot)[0]


async def test_copying_saves_too_and_promises_nothing(
    desk: tuple[Context, str], home: Path, monkeypatch: pytest.MonkeyPatch
):
    app = OneScreen(ChartScreen(*desk))
    sent: list[str] = []
    monkeypatch.setattr(app, "copy_to_clipboard", sent.append)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "rfffc")
        assert isinstance(app.screen, ReportScreen)
        path = home / "report-2026-04-01-short.txt"
        assert sent == [app.screen.text]
        assert path.read_text("utf-8") == app.screen.text
        told = f"sent to the terminal's clipboard; also saved to {path}"
        assert told in " ".join(app.screen.message.split())
        await press(pilot, "%")
        assert "does nothing here" in shown(pilot)[-2]


async def test_copying_says_when_saving_failed(
    desk: tuple[Context, str], home: Path, monkeypatch: pytest.MonkeyPatch
):
    home.rmdir()
    app = OneScreen(ChartScreen(*desk))
    monkeypatch.setattr(app, "copy_to_clipboard", lambda text: None)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "rc")
        assert isinstance(app.screen, ReportScreen)
        assert "was not written (No such file or directory)" in app.screen.message


async def test_a_chart_without_closed_sessions_has_no_report(tmp_path: Path):
    shelf = Shelf(tmp_path / "shelf")
    chart_id = shelf.create(PATIENT)
    catalogue = Catalogue(MUSCLES, (CHECKLIST,), Settings(), ())
    app = OneScreen(ChartScreen(Context(shelf, catalogue, Keymap(), Flow()), chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "r")
        assert isinstance(app.screen, ChartScreen)
        assert any("there is no closed session" in row for row in shown(pilot))
