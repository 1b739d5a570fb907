"""Signing: what is signed, whose initials, half-typed stations, and a disk that refuses."""

from __future__ import annotations

import errno
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.errors import NotSaved, Unsynced
from limbscribe.core.shelf import writing
from limbscribe.core.shelf.opened import OpenSession
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.context import Signed
from limbscribe.tui.kit.line_edit import Prompt
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.report.screen import ReportScreen
from limbscribe.tui.screens.review.screen import ReviewScreen
from limbscribe.tui.screens.review.signing import sign_step
from limbscribe.tui.screens.review.view import half_typed_words

from tests.support.app import desk_on, press, shown, type_keys
from tests.support.records import session

DONE = "10\n220\n5\n315\nnrnr"
"""Every station of the short checklist: two measured, two not tested."""


async def entry_on(app: LimbscribeApp, chart_id: str) -> EntryScreen:
    """The entry of a new session over the list of patients, as the flow opens it."""
    desk = app.context
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    screen = EntryScreen(desk, desk.shelf.load(chart_id), opened)
    await app.push_screen(screen)
    return screen


def text_on(pilot) -> str:
    """The screen as one text."""
    return " ".join(" ".join(shown(pilot)).split())


@pytest.mark.parametrize("there", ["list", "chart"])
async def test_afterwards_it_says_who_signed_and_r_opens_the_report(tmp_path: Path, there: str):
    """In the list, where r means raters otherwise, and in the chart."""
    desk, _ = desk_on(tmp_path, session("2026-12-24"), session("2026-01-02"))
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        if there == "chart":
            await press(pilot, "\n")
        await press(pilot, "s")
        await press(pilot, "-07\n")
        await press(pilot, "ef\ngh")
        await pilot.press("f2")
        await press(pilot, "y")
        await press(pilot, DONE)
        await press(pilot, "r")
        await press(pilot, "s")
        await press(pilot, "ak\n\n")
        assert "session 3 signed by AK; r report" in text_on(pilot)
        assert app.screen.name_in_keymap == {"list": "opening", "chart": "chart"}[there]
        await press(pilot, "r")
        assert isinstance(app.screen, ReportScreen)
        assert "25 Nov 2026" in text_on(pilot)


async def test_any_other_key_takes_the_report_key_back(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        app.screen._signed = (chart_id, Signed("gone", "session 1 signed by AK"))
        await press(pilot, ">r")
        assert app.screen.name_in_keymap == "raters"


@pytest.mark.parametrize("typed", ["", "?", "a b", "  "])
def test_what_is_no_initials_signs_nothing(typed: str):
    answer = Prompt()
    for key in typed:
        answer = sign_step(answer, key, "")
    answer = sign_step(answer, "enter", "accept")
    assert answer.outcome == ""
    assert "nothing was signed" in answer.message
    assert answer.line.text == typed.upper()


@pytest.mark.parametrize(
    ("typed", "author"),
    [("cd\n", "CD"), ("ab\n", "AB"), ("c\n", ""), ("c\nx\n", ""), ("c\n\n", "C")],
)
async def test_initials_of_neither_recorder_nor_examiner_are_asked_about_once(
    tmp_path: Path, typed: str, author: str
):
    """The recorder CD and the examiner AB sign with one Enter; others, or a slip, with two."""
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await entry_on(app, chart_id)
        await press(pilot, DONE)
        await press(pilot, "r")
        await press(pilot, "s")
        await press(pilot, typed)
        if not author:
            assert "is not who measured or typed: Enter again signs as C" in text_on(pilot)
    signed = [one.seal.author for one in desk.shelf.load(chart_id).sessions if one.seal]
    assert signed == ([author] if author else [])


async def test_the_page_counts_what_is_signed(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        await entry_on(app, chart_id)
        await press(pilot, "10\n220\nnr")
        await press(pilot, "r")
        await press(pilot, "s")
        text = text_on(pilot)
    for part in (
        "* 1 done",
        "n 1 not tested",
        ". 2 open: stay without values for good",
        "! 0 flagged",
    ):
        assert part in text
    assert "0 overridden" in text
    assert "recorder's initials: _" in text


async def test_half_typed_stations_come_first_and_c_clears_and_signs(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, "10\n220\n5\n3")
        await press(pilot, "r")
        assert shown(pilot)[4].split()[:3] == [">.", "Gastrocnemius", "Right"]
        assert "1 station is half-typed" in text_on(pilot)
        await press(pilot, "s")
        assert "Not signed: 1 station is half-typed" in text_on(pilot)
        await press(pilot, "\n")
        assert app.screen is screen
        assert screen.state.cursor.station == 1
        await press(pilot, "r")
        await press(pilot, "sck\n")  # initials typed blind behind a refused s
        assert (app.screen, screen.state.drafts[1].r1) == (screen, (5,))
        await press(pilot, "r")
        await type_keys(pilot, "f2")
        assert "c comes before this key" in text_on(pilot)
        await press(pilot, "c")
        await type_keys(pilot, "f2")
        assert "recorder's initials: _" in text_on(pilot)
        assert ". 3 open" in text_on(pilot)
        await press(pilot, "ak\n\n")
    found = desk.shelf.load(chart_id).sessions
    assert [(each.side.word, each.r1, each.r2) for each in found[0].readings] == [("Left", 10, 20)]


async def test_a_full_disk_stays_on_the_page_and_says_the_way_out(tmp_path: Path, monkeypatch):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)

    def full(*_: object) -> None:
        raise NotSaved("The session was not saved because the disk is full")

    async with app.run_test(size=(80, 24)) as pilot:
        await entry_on(app, chart_id)
        await press(pilot, DONE)
        await press(pilot, "r")
        await press(pilot, "s")
        with monkeypatch.context() as broken:
            broken.setattr(OpenSession, "close", full)
            await press(pilot, "ak\n\n")
            assert isinstance(app.screen, ReviewScreen)
            text = text_on(pilot)
            assert "the disk is full. Enter signs again. Esc goes back to the review" in text
            assert "the session stays open and can be resumed" in text
            assert "initials: AK_" in text
        assert desk.shelf.load(chart_id).sessions == ()
        await press(pilot, "\n")
        assert not isinstance(app.screen, ReviewScreen)
    assert desk.shelf.load(chart_id).sessions[0].seal.author == "AK"


async def test_what_the_disk_did_not_confirm_is_saved_once_more(tmp_path: Path, monkeypatch):
    """It is in the chart by then, as it was signed first: no word that it stays open."""
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    keep = writing.keep_session

    def unsure(*args: Any) -> None:
        keep(*args)
        raise Unsynced(errno.EIO, "not flushed")

    async with app.run_test(size=(80, 24)) as pilot:
        await entry_on(app, chart_id)
        await press(pilot, DONE)
        await press(pilot, "rs")
        monkeypatch.setattr(writing, "keep_session", unsure)
        await press(pilot, "ak\n\n")
        text = text_on(pilot)
        assert "switching the machine off. Enter saves once more." in text
        assert "stays open" not in text
        monkeypatch.setattr(writing, "keep_session", keep)
        await type_keys(pilot, "ctrl+u", "'zz", "enter", "enter")
        assert not isinstance(app.screen, ReviewScreen)
    assert [one.seal.author for one in desk.shelf.load(chart_id).sessions] == ["AK"]


async def test_clearing_that_cannot_be_saved_clears_nothing(tmp_path: Path, monkeypatch):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)

    def full(*_: object) -> None:
        raise NotSaved("Not saved because the disk is full")

    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, "10\n2")
        await press(pilot, "r")
        monkeypatch.setattr(OpenSession, "append", full)
        await press(pilot, "c")
        await type_keys(pilot, "f2")
        assert "the disk is full" in text_on(pilot)
        assert screen.state.drafts[0].r1 == (10,)
        assert "recorder's initials" not in text_on(pilot)


def test_the_words_name_digits_that_were_not_accepted():
    words = half_typed_words(2, "45", "Enter", "c")
    assert words.startswith("2 stations are half-typed (45 is not accepted yet). Enter goes to the")
    assert "c clears them" in words


async def test_escape_goes_back_to_the_table_and_q_to_the_entry(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path)
    app = LimbscribeApp(desk)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await entry_on(app, chart_id)
        await press(pilot, DONE)
        await press(pilot, "r")
        await press(pilot, "s")
        await press(pilot, "a")
        await type_keys(pilot, "escape")
        assert "Review before closing" in shown(pilot)[0]
        await press(pilot, "q")
        assert app.screen is screen
