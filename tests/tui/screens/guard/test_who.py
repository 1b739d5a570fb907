"""The question which patient this is, before a session is started or resumed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.line_edit import LineEdit, Prompt
from limbscribe.tui.kit.paint import MOST_MESSAGE_ROWS, width_of
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.guard.screen import ResumeScreen, WhoScreen
from limbscribe.tui.screens.guard.who import Who, paint_who, question, step, who_of
from limbscribe.tui.screens.opening.patient_form import PatientForm
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.setup.screen import SetupScreen

from tests.support.app import desk, rest, shown, text_of, type_keys
from tests.support.records import earlier, patient

FACTS = (("birth year", "1958"), ("affected side", "Left"), ("next", "a new session is set up"))
WHO = Who("K-014", FACTS)
OPEN = ("2026-11-25T09:41:00+01:00", "JT")


def after(keys: str, code: str = "K-014") -> Prompt:
    """The answer after keys; > is Enter, < is Backspace, ! leaves."""
    names = {">": ("enter", "accept"), "<": ("backspace", "backspace"), "!": ("escape", "leave")}
    answer = Prompt()
    for char in keys:
        answer = step(answer, code, *names.get(char, (char, "")))
    return answer


def test_only_the_ending_goes_on() -> None:
    assert after("014>").outcome == "accepted"
    assert after("015<4>").outcome == "accepted"
    for wrong in (">", "14>", "K-014>", "015>", "041>", "O14>", " 14>"):
        answer = after(wrong)
        assert (answer.outcome, answer.line.text) == ("", "")
        assert "K-014" in answer.message


def test_a_wrong_answer_says_so_and_the_right_one_after_it_counts() -> None:
    assert "015 is not how K-014 ends, so nothing was opened" in after("015>").message
    assert after("015>014>").outcome == "accepted"
    assert after("015>0").message == ""


def test_a_short_code_is_typed_whole_and_small_letters_will_do() -> None:
    assert after("a1>", "A1").outcome == "accepted"
    assert after("1>", "A1").outcome == ""
    assert question("A1") == "type all characters of A1 to go on"
    assert question("AB1") == "type all characters of AB1 to go on"
    assert question("AB12") == "type the last three characters of AB12 to go on"
    assert after("b1x>", "AB1X").outcome == "accepted"


def test_leaving_opens_nothing_and_nothing_longer_than_the_code_is_taken() -> None:
    assert after("01!").outcome == "left"
    assert after("012345678").line.text == "01234"
    assert after("<").message


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("code", ["A1", "K-014", "X" * 24])
def test_all_that_tells_patients_apart_is_in_sight(size: tuple[int, int], code: str) -> None:
    who = replace(
        who_of(_chart(), OPEN),
        code=code,
    )
    rows = paint_who(who, Prompt(LineEdit("01")), size[0])
    text = text_of(rows)
    assert len(rows) <= size[1] - MOST_MESSAGE_ROWS - 1
    assert all(width_of(row) <= size[0] for row in rows)
    whole = " ".join(" ".join(text).split())
    for words in ("1958", "after stroke", "Left", "02 May 2026, examiner JT, recorder AB"):
        assert words in whole
    assert "session open since 25 Nov 2026 09:41 (recorder JT) is resumed" in whole
    assert question(code) in whole
    assert "> 01_" in whole


def _chart():
    from limbscribe.core.chart.chart import Chart

    return Chart("a", patient(), (earlier(),), (), (), ())


# With screens -----------------------------------------------------------------------------


async def test_a_wrong_answer_takes_no_lock_and_stays(tmp_path: Path) -> None:
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", "'015", "enter")
        assert isinstance(app.screen, WhoScreen)
        Shelf(tmp_path).start(chart_id, earlier(), "XY").leave()
        await type_keys(pilot, "escape")
        assert isinstance(app.screen, OpeningScreen)
        selected = app.screen.listing.selected
        assert selected is not None
        assert selected.open_recorder == "AB"


async def test_resuming_asks_too(tmp_path: Path) -> None:
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    here.shelf.start(chart_id, earlier(), "AB").leave()
    app = LimbscribeApp(here, "K-014")
    async with app.run_test() as pilot:
        await rest(pilot)
        asking = app.screen
        assert isinstance(asking, WhoScreen)
        assert "is resumed" in asking.who.facts[-1][1]
        await type_keys(pilot, "'014", "enter", "y")
        assert isinstance(app.screen, EntryScreen)
        await type_keys(pilot, "q")


@pytest.mark.parametrize(
    ("started", "later", "asks"),
    [
        ("2026-11-24T23:59:00+01:00", False, True),
        ("2026-11-25T00:01:00+01:00", False, False),
        ("2026-05-02T10:15:00+01:00", True, False),
    ],
)
async def test_a_session_of_another_day_is_gone_on_with_only_after_a_question(
    tmp_path: Path, started: str, later: bool, asks: bool
) -> None:
    """One that is typed in later on purpose has another day anyway and asks nothing."""
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    conditions = replace(earlier().conditions, typed_later=OPEN[0] if later else "")
    begun = replace(earlier(), started=started, conditions=conditions)
    here.shelf.start(chart_id, begun, "AB").leave()
    app = LimbscribeApp(here)
    async with app.run_test(size=(80, 24)) as pilot:
        await type_keys(pilot, "s", "'014", "enter")
        assert isinstance(app.screen, ResumeScreen) == asks
        if asks:
            told = " ".join(" ".join(shown(pilot)).split())
            assert "Begun 24 Nov 2026 by recorder AB, examiner JT. Today is 25 Nov 2026." in told
            await type_keys(pilot, "enter", "1")
            assert isinstance(app.screen, ResumeScreen), "only its own key goes on"
            await type_keys(pilot, "q")
            assert isinstance(app.screen, OpeningScreen)
            here.shelf.resume(chart_id, "AB").leave()  # and nobody holds the chart
            await type_keys(pilot, "s", "'014", "enter", "y")
        assert isinstance(app.screen, EntryScreen)
        await type_keys(pilot, "r", "s")
        told = " ".join(" ".join(shown(pilot)).split())
        if app.screen.name_in_keymap == "sign":
            assert ("Begun 24 Nov 2026; today is 25 Nov 2026." in told) == asks


async def test_a_pasted_ending_is_refused(tmp_path: Path) -> None:
    from textual import events

    here = desk(tmp_path)
    here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s")
        app.screen.post_message(events.Paste("014"))
        await rest(pilot)
        await type_keys(pilot, "enter")
        assert isinstance(app.screen, WhoScreen)
        await type_keys(pilot, "'014", "enter")
        assert isinstance(app.screen, SetupScreen)


async def test_a_new_code_one_slip_from_another_is_asked_about_once(tmp_path: Path) -> None:
    here = desk(tmp_path)
    for code in ("K-014", "K-041", "B-2"):
        here.shelf.create(patient(code))
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "n", "'k-o14", "f2")
        form = app.screen
        assert isinstance(form, PatientForm)
        assert "K-O14 is one slip of typing away from K-014, K-041" in form.message
        # Another key in between, and it is asked again.
        await type_keys(pilot, "down", "f2")
        assert app.screen is form
        await type_keys(pilot, "f2")
        assert isinstance(app.screen, OpeningScreen)
    assert "K-O14" in {entry.code for entry in here.shelf.charts()}


async def test_a_code_that_is_near_no_other_is_taken_at_once(tmp_path: Path) -> None:
    here = desk(tmp_path)
    here.shelf.create(patient("K-014"))
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "n", "'k-025", "f2")
        assert isinstance(app.screen, OpeningScreen)
    assert len(here.shelf.charts()) == 2
