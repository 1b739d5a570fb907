"""The opening screen: list, search, new patient, and beginning a session from it."""

from __future__ import annotations

import getpass
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.change.history import history
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.errors import NotSaved
from limbscribe.core.shelf import ChartEntry, Shelf
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import fit, line, width_of
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.guard.screen import WhoScreen
from limbscribe.tui.screens.opening.model import (
    Listing,
    moved,
    with_entries,
    with_query,
    without_search,
)
from limbscribe.tui.screens.opening.paint import (
    OpeningView,
    opening_hint,
    paint_opening,
    state_words,
)
from limbscribe.tui.screens.opening.patient_form import PatientForm, patient_problems
from limbscribe.tui.screens.opening.screen import OpeningScreen
from limbscribe.tui.screens.setup.screen import SetupScreen

from tests.support.app import NOW, desk, rest, text_of, type_keys
from tests.support.records import earlier, patient
from tests.support.waiting import calls_of

SURE = ("'014", "enter")
"""The ending of K-014, typed again before a session."""

OPEN = "2026-11-25T09:41:00+01:00"


def entry(code: str, **options: str | int) -> ChartEntry:
    """A line of the list."""
    base = ChartEntry(f"id-{code}", code, "stroke", "left", 1958, 2, "2026-05-02T10:00:00+02:00")
    return base._replace(**options)


def listing(*codes: str) -> Listing:
    """A listing of these codes."""
    return with_entries(Listing(), [entry(code) for code in codes])


def painted(
    listing: Listing, width: int = 80, height: int = 24, **options: str | bool
) -> list[str]:
    """The screen as plain text."""
    view = replace(OpeningView(NOW, False, Keymap()), **options)
    rows = [*paint_opening(listing, view, width, height - 1), line(opening_hint(listing, view))]
    rows = [fit(row, width) for row in rows]
    assert len(rows) == height
    assert all(width_of(row) <= width for row in rows)
    return text_of(rows)


def code_of(listing: Listing) -> str:
    assert listing.selected is not None
    return listing.selected.code


# The list as a value ----------------------------------------------------------------------


def test_moving_stops_at_the_ends() -> None:
    three = listing("A-1", "B-2", "C-3")
    assert code_of(moved(three, "up")) == "A-1"
    assert code_of(moved(moved(three, "down"), "down")) == "C-3"
    assert code_of(moved(three, "end")) == "C-3"
    assert moved(Listing(), "down").selected is None


def test_a_search_lists_codes_that_contain_and_selects_one_that_starts() -> None:
    found = with_query(listing("XK-1", "K-014", "B-2"), "k")
    assert [e.code for e in found.shown] == ["XK-1", "K-014"]
    assert code_of(with_query(listing("XK-1", "K-014", "B-2"), "k01")) == "K-014"
    assert code_of(found) == "K-014"
    assert code_of(without_search(found)) == "K-014"
    assert len(without_search(found).shown) == 3


def test_reading_again_keeps_the_selected_patient() -> None:
    three = moved(listing("A-1", "B-2", "C-3"), "down")
    again = with_entries(three, [entry("C-3", open_since=OPEN), entry("A-1"), entry("B-2")])
    assert code_of(again) == "B-2"
    gone = with_entries(three, [entry("A-1"), entry("C-3")])
    assert code_of(gone) == "C-3"


def test_a_patient_to_be_selected_ends_a_search_that_hides_them() -> None:
    narrowed = with_query(listing("A-1", "B-2"), "A")
    new = with_entries(narrowed, [entry("A-1"), entry("B-2"), entry("C-3")], "id-C-3")
    assert code_of(new) == "C-3"


def test_what_ten_thousand_patients_cost_is_a_glance_at_each_of_them() -> None:
    few, many = (listing(*(f"C-{n:05d}" for n in range(count))) for count in (100, 10_000))
    assert "of 10,000 patients" in painted(with_query(many, "0999"))[1]
    for query in ("0", "09", "0999"):
        less, more = (
            calls_of(lambda one=one, query=query: painted(with_query(one, query)))
            for one in (few, many)
        )
        print(query, less, more)
        assert more - less < 8 * 9_900, query


# What is shown ----------------------------------------------------------------------------


def test_a_row_says_everything_in_words() -> None:
    shown = painted(listing("K-014"))
    assert "25 Nov 2026" in shown[0]
    assert shown[3].split() == [">", "K-014", "after", "stroke", "Left", "2", "02", "May", "2026"]
    assert "K-014: s sets up a session" in shown[-1]


def test_an_open_session_is_told_with_time_and_recorder() -> None:
    opened = entry("K-014", open_since=OPEN, open_recorder="JT")
    assert state_words(opened, NOW) == "open since 09:41 (JT)"
    earlier = opened._replace(open_since="2026-11-24T16:00:00+01:00")
    assert state_words(earlier, NOW) == "open since 24 Nov 2026 (JT)"
    shown = painted(with_entries(Listing(), [opened, entry("B-2")]))
    assert "2 patients, 1 open session" in shown[1]
    assert "open since 09:41 (JT)" in shown[3]
    assert "s resumes the session open since 09:41 (JT)" in shown[-1]


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_the_code_and_the_open_session_are_whole_in_every_window(size: tuple[int, int]) -> None:
    code = "X" * 24
    opened = entry(code, open_since=OPEN, open_recorder="JT")
    row = painted(with_entries(Listing(), [opened]), *size)[3]
    assert f"> {code}" in row
    assert "open since 09:41 (JT)" in row


def test_the_demonstration_says_so_and_an_empty_shelf_says_how_to_begin() -> None:
    assert painted(listing("K-014"), demo=True)[1].startswith("DEMONSTRATION")
    empty = " ".join(painted(Listing()))
    assert "no patients" in empty
    assert "Press n to add the first one" in empty


def test_text_of_a_strange_chart_cannot_act_on_the_terminal() -> None:
    shown = painted(with_entries(Listing(), [entry("K-014", diagnosis="\x1b[2J")]))
    assert "\x1b" not in "".join(shown)


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"code": ""}, "code"),
        ({"code": "Jo Doe"}, "code"),
        ({"code": "k-014"}, "code"),
        ({"code": "A1", "born": "2027"}, "born"),
        ({"code": "A1", "height_cm": "12"}, "height_cm"),
    ],
)
def test_wrong_patients_are_told_at_their_field(values: dict[str, str], field: str) -> None:
    problems = patient_problems(values, NOW.date(), {"K-014"})
    assert set(problems) == {field}
    assert problems[field].mend


# With a screen ----------------------------------------------------------------------------


async def test_a_new_patient_is_added_selected_and_set_up(tmp_path: Path) -> None:
    app = LimbscribeApp(desk(tmp_path))
    async with app.run_test() as pilot:
        await type_keys(pilot, "n")
        assert isinstance(app.screen, PatientForm)
        await type_keys(pilot, "'k-014", "enter", "'1958", "enter", "f", "enter", "f2")
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        assert code_of(opening.listing) == "K-014"
        assert "s sets up the first session" in opening.message
        await type_keys(pilot, "s")
        assert isinstance(app.screen, SetupScreen), "who has just typed the code is not asked"
        assert "K-014" in app.screen.subject
        await type_keys(pilot, "escape", "s")
        assert isinstance(app.screen, WhoScreen), "the second time it is not directly after"
    (added,) = app.context.shelf.charts()
    assert added.birth_year == 1958
    created = history(app.context.shelf.load(added.id))[0]
    assert (created.kind, created.who) == ("created", getpass.getuser())
    assert created.at == NOW.isoformat(timespec="seconds")


async def test_a_session_is_started_left_and_resumed(tmp_path: Path) -> None:
    here = desk(tmp_path)
    here.shelf.create(patient("B-2"))
    chart_id = here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "/", "'14", "enter", "s", *SURE)
        await type_keys(pilot, "'jt", "enter", "'ab", "enter", "l", "f2", "y")
        assert isinstance(app.screen, EntryScreen)
        assert here.shelf.has_open(chart_id)
        await type_keys(pilot, "q")
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        selected = opening.listing.selected
        assert selected is not None
        assert (selected.code, selected.open_recorder) == ("K-014", "AB")
        await type_keys(pilot, "s", *SURE)
        assert isinstance(app.screen, EntryScreen)
        await type_keys(pilot, "q")
    assert here.shelf.load(chart_id).sessions == ()


async def test_a_chart_held_by_somebody_else_is_told_and_shown_not_opened(tmp_path: Path) -> None:
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    held = Shelf(tmp_path).start(chart_id, earlier(), "XY")
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE)
        assert isinstance(app.screen, ChartScreen)
        told = " ".join(" ".join(text_of(app.screen.paint(80, 24))).split())
        assert "XY has this chart open for entry on" in told
        assert "nothing was changed" in told
        held.leave()
        await type_keys(pilot, "q")
        assert isinstance(app.screen, OpeningScreen)
        await type_keys(pilot, "s", *SURE, "y")
        assert isinstance(app.screen, EntryScreen)


async def test_what_was_typed_survives_a_session_that_cannot_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = desk(tmp_path)
    here.shelf.create(patient())

    def full(*_: object) -> None:
        raise NotSaved("The disk is full")

    monkeypatch.setattr(Shelf, "start", full)
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE, "'jt", "enter", "'ab", "enter", "l", "f2", "y")
        again = app.screen
        assert isinstance(again, SetupScreen)
        assert again.form.values["examiner"] == "jt"
        assert "The disk is full" in again.message


async def test_an_open_session_with_a_vanished_muscle_is_refused_in_words(tmp_path: Path) -> None:
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    odd = Checklist("odd", "Odd", (Item("tail-wagger", "left", "V3", "neutral-zero", "x"),))
    here.shelf.start(chart_id, replace(earlier(), checklist=odd), "AB").leave()
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE)
        assert isinstance(app.screen, OpeningScreen)
        assert "tail-wagger" in app.screen.message
    here.shelf.resume(chart_id, "AB").leave()


async def test_a_left_over_journal_is_told_and_the_list_is_read_again(tmp_path: Path) -> None:
    here = desk(tmp_path)
    chart_id = here.shelf.create(patient())
    opened = here.shelf.start(chart_id, earlier(), "AB")
    opened.leave()
    here.shelf.add_closed(chart_id, [earlier()], "AB", OPEN)
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        await type_keys(pilot, "s", *SURE)
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        assert "nothing was lost" in opening.message
        selected = opening.listing.selected
        assert selected is not None
        assert (selected.open_since, selected.sessions) == ("", 1)


async def test_keys_without_a_patient_are_refused_with_a_way_out(tmp_path: Path) -> None:
    app = LimbscribeApp(desk(tmp_path))
    async with app.run_test() as pilot:
        for key in ("s", "enter", "/"):
            await type_keys(pilot, key)
            assert isinstance(app.screen, OpeningScreen)
            assert "n adds one" in app.screen.message


async def test_letters_that_no_code_contains_are_refused(tmp_path: Path) -> None:
    here = desk(tmp_path)
    here.shelf.create(patient())
    app = LimbscribeApp(here)
    async with app.run_test() as pilot:
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        await type_keys(pilot, "/", "'kz")
        assert opening.listing.query == "K"
        assert "no code contains 'KZ'" in opening.message
        await type_keys(pilot, "backspace", "backspace")
        assert not opening.listing.searching


async def test_a_session_can_be_asked_for_by_code(tmp_path: Path) -> None:
    here: Context = desk(tmp_path)
    here.shelf.create(patient("B-2"))
    here.shelf.create(patient())
    app = LimbscribeApp(here, "K-014")
    async with app.run_test() as pilot:
        await rest(pilot)
        assert isinstance(app.screen, WhoScreen)
        await type_keys(pilot, *SURE)
        assert isinstance(app.screen, SetupScreen)
        assert "K-014" in app.screen.subject
