"""The entry screen: painted at every size, driven by keys, saved before it is shown."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.chart.session import seal_holds
from limbscribe.core.entry.plan import make_plan, settled
from limbscribe.core.entry.prompts import REASON_LETTERS
from limbscribe.core.entry.state import Mode, begin
from limbscribe.core.errors import NotSaved
from limbscribe.core.tardieu.figure import FIGURE, column
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import NOT_TESTED, Side
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.kit.body import CHART_WIDTH, MARKS, WIDTH, body_rows, mark_of
from limbscribe.tui.kit.paint import line, width_of
from limbscribe.tui.screens.entry.layout import View, message_rows, paint_entry
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests.support.app import desk, text_of, type_keys
from tests.support.records import CHECKLISTS, MUSCLES, earlier, patient
from tests.support.stations import typed

LOWER = next(checklist for checklist in CHECKLISTS if checklist.id == "lower-limb")
FOOT = (("Enter", "key"), (" accept", ""))
HEAD = ("K-014", "session 2", "25 Nov 2026", "examiner JT", "recorder AB")


def entry(checklist=LOWER):
    return begin(make_plan(settled(checklist, "", MUSCLES), patient(), 2026, MUSCLES))


def view(state, trend=()) -> View:
    return View(state, HEAD, [line(text) for text in trend], 0.0, FOOT)


def screen_text(state, width=80, height=24, trend=()) -> str:
    return "\n".join(text_of(paint_entry(view(state, trend), width, height)))


# Painting -----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (100, 30), (120, 40), (200, 60)])
@pytest.mark.parametrize(
    "script",
    ["", "-45<enter>2", "30<enter>220<enter>", "n", "n3", "04", "w11<enter>", "csome words"],
)
def test_every_size_is_filled_exactly(size, script):
    """No row too wide, none missing: Textual would wrap or leave old characters behind."""
    state, _ = typed(entry(), script)
    rows = paint_entry(view(state, ["trend"] * 30), *size)
    assert len(rows) == size[1]
    assert all(width_of(row) <= size[0] for row in rows)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_what_must_be_seen_at_once(size):
    text = screen_text(entry(), *size)
    station = entry().station
    for word in ("K-014", "session 2", "0 of 24 done", "Hip flexors, LEFT", "R1 V3 deg", "quality"):
        assert word in text
    assert "greater trochanter" in text
    assert station.scale.id in text
    assert "25 Nov 2026" in text


def test_side_is_always_in_full():
    for index, station in enumerate(entry().plan.stations):
        state = replace(entry(), cursor=replace(entry().cursor, station=index))
        first = text_of(paint_entry(view(state), 80, 24))[1]
        assert station.side.word.upper() in first


def test_longest_texts_of_every_station_stay_on_the_screen():
    """Landmarks and scales of every muscle group fit beside the figures at 80x24."""
    items = tuple(replace(LOWER.items[0], muscle=muscle) for muscle in shipped_muscles())
    state = entry(replace(LOWER, items=items))
    for index, station in enumerate(state.plan.stations):
        here = replace(state, cursor=replace(state.cursor, station=index))
        text = screen_text(here).replace("\n", " ")
        for words in (station.muscle.axis, station.muscle.fixed_arm, station.muscle.moving_arm):
            for word in words.split():
                assert word in text, (station.name, word)
        assert "R2 V1 deg" in text


def test_body_chart_has_a_place_for_every_muscle_and_side():
    items = tuple(replace(LOWER.items[0], muscle=muscle) for muscle in shipped_muscles())
    state = entry(replace(LOWER, items=items))
    rows = text_of(body_rows(state))
    marks = "".join(rows[1:])
    assert marks.count(".") + marks.count("@") == len(state.plan.stations) == 2 * len(items)
    assert all(width_of(row) == CHART_WIDTH for row in body_rows(state))


def test_figure_has_no_character_that_is_a_mark():
    drawn = set("".join(FIGURE))
    assert drawn.isdisjoint(sign for sign, _ in MARKS.values())
    assert all(len(row) == WIDTH for row in FIGURE)


def test_sides_of_the_figures():
    """Facing the patient, the right side is on the viewer's left; from behind it is not."""
    assert column("front", Side.RIGHT, 6) == 2
    assert column("front", Side.LEFT, 6) == 14
    assert column("back", Side.RIGHT, 6) == 14
    assert column("back", Side.LEFT, 6) == 2


def test_marks_tell_every_state_without_colour():
    state, _ = typed(entry(), "<enter>020<enter>np30<enter>220<enter>oyes<enter>")
    assert [mark_of(state, index) for index in range(4)] == [
        "done",
        "not tested",
        "flagged",
        "open",
    ]
    assert len({sign for sign, _ in MARKS.values()}) == len(MARKS)


def test_flags_speak_in_words():
    state, _ = typed(entry(), "20<enter>210<enter>")
    text = screen_text(state)
    assert "IMPOSSIBLE: R1 20 lies 10 deg beyond R2 10" in text
    foot = text.splitlines()[-1]
    assert "Backspace takes it away" in foot
    assert "o override: why" in foot
    assert "Enter" not in foot, "an impossible reading is not accepted by Enter"


@pytest.mark.parametrize(
    ("script", "shown", "why"),
    [
        ("04", "04", "no digit goes behind a leading 0: 4 was refused"),
        ("4.", "4.", "angles are whole degrees: . was refused"),
        ("1234", "1234", "an angle has at most 3 digits: 4 was refused"),
        ("5<enter>9", "9_", "quality is 0 to 4"),
        ("5<enter>2<enter><enter>", "_", "R2 is missing"),
        ("w11<enter>", "11_", "pain is 0 to 10, not 11"),
        ("w1234", "1234_", "digits only here, 3 at most"),
        ("n9", "", "one of the letters"),
        ("gzz<enter>", "zz_", "no station with these letters"),
    ],
)
def test_what_was_refused_stays_on_the_screen_until_it_is_taken_away(script, shown, why):
    state, _ = typed(entry(), script)
    for more in ("", "7", "<enter>", "7<enter>2-5<enter>"):
        held, _ = typed(state, more)
        text = screen_text(held)
        assert shown in text, more
        assert why in text, more
        assert "Backspace takes it away" in text.splitlines()[-1]
        assert held.drafts == state.drafts
    away = screen_text(typed(state, "<backspace>")[0])
    assert script.startswith("g") or why not in away
    assert "takes it away" not in away


def test_gap_is_never_shown_alone():
    state, _ = typed(entry(), "5<enter>220<enter><up>")
    text = screen_text(state)
    assert "gap 15 deg" in text
    assert " 5 " in text
    assert " 20 " in text


def test_prompts_show_what_is_typed():
    for script, words in (
        ("n", "not tested: 1 p pain"),
        ("cwarm", "comment: warm_"),
        ("cwam<left>r", "comment: warm"),
        ("crm<home>wa", "comment: warm"),
        ("w7", "pain 0 to 10: 7_"),
        ("gham", "Hamstrings, Left"),
        ("k", "0 s running"),
    ):
        state, _ = typed(entry(), script)
        assert words in "\n".join(text_of(message_rows(view(state), 80)))


@pytest.mark.parametrize("width", [60, 80, 120])
def test_every_reason_is_whole_on_two_rows_with_its_digit_and_letter(width):
    state, _ = typed(entry(), "n")
    rows = message_rows(view(state), width)
    assert all(width_of(row) <= width for row in rows)
    for number, (letter, id_) in enumerate(REASON_LETTERS.items(), 1):
        reason = f"{number} {letter} {NOT_TESTED[id_]}"
        assert any(reason in text for text in text_of(rows)), reason


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_a_station_is_read_back_above_the_keys_that_confirm_it(size):
    begun = entry()
    begun = replace(begun, plan=replace(begun.plan, read_back=True))
    text = screen_text(typed(begun, "-45<enter>2-10<enter>")[0], *size).replace("\n", " ")
    assert "Left Hip flexors: R1 minus 45, quality 2, R2 minus 10" in text
    assert "Enter confirm  Backspace back to the field  u undo" in text


def test_a_flag_in_a_prompt_offers_only_what_works_there():
    state, _ = typed(entry(), "5<enter>3k12<enter>")
    assert state.mode is Mode.CLONUS
    foot = screen_text(state).splitlines()[-1]
    assert foot.split() == ["Backspace", "takes", "it", "away", "o", "override:", "why"]


def test_control_characters_in_a_comment_are_made_visible():
    state = entry()
    bad = replace(state.draft, comment="red\x1b[31m\u202etext\x07")
    state = replace(state, drafts=(bad, *state.drafts[1:]))
    text = screen_text(state)
    assert not any(ord(character) < 32 and character != "\n" for character in text)
    assert "\u202e" not in text


# Driven -------------------------------------------------------------------------------------


def opened(tmp_path: Path, checklist=LOWER):
    """A desk, a chart and its open session."""
    made = desk(tmp_path / "shelf")
    chart_id = made.shelf.create(patient())
    ready = replace(
        earlier("b2", "2026-11-25T09:41:00+01:00"), checklist=settled(checklist, "", MUSCLES)
    )
    return made, chart_id, made.shelf.start(chart_id, ready, "AB")


async def test_keys_go_through_the_journal_and_the_session_is_closed(tmp_path):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        await type_keys(pilot, "'5", "enter", "'2", "'20", "enter")
        assert screen.state.drafts[0].done
        await type_keys(pilot, "tab", "'0", "'15", "enter", "'r")
        await type_keys(pilot, "'s", "'ak", "enter", "enter")
        assert app.screen is not screen
    chart = made.shelf.load(chart_id)
    assert [(r.r1, r.quality, r.r2) for r in chart.sessions[0].readings] == [
        (5, 2, 20),
        (None, 0, 15),
    ]
    assert seal_holds(chart.sessions[0])
    assert chart.sessions[0].seal.author == "AK"
    assert not made.shelf.has_open(chart_id)


async def test_leaving_and_resuming_finds_the_same_field(tmp_path):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        await type_keys(pilot, "'5", "enter", "'2", "'q")
        again = EntryScreen(made, made.shelf.load(chart_id), made.shelf.resume(chart_id, "AB"))
        await app.push_screen(again)
        assert again.state.drafts == screen.state.drafts
        assert again.state.field == "r2"
        assert len(again.state.past) == 2


async def test_half_typed_digits_ask_before_leaving(tmp_path):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        await type_keys(pilot, "'45", "'q")
        assert app.screen is screen
        assert "not accepted yet" in screen.state.message
        await type_keys(pilot, "'q")
        assert app.screen is not screen


async def test_what_cannot_be_saved_is_not_shown_as_accepted(tmp_path, monkeypatch):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)

    def full(entry) -> None:
        raise NotSaved("Not saved: no space left. What was accepted before is safe.")

    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        monkeypatch.setattr(session_open, "append", full)
        await type_keys(pilot, "'5", "enter")
        assert screen.state.drafts[0].r1 == ()
        assert screen.state.cursor.text == "5"
        assert "Not saved" in screen.state.message
        monkeypatch.undo()
        await type_keys(pilot, "enter")
        assert screen.state.drafts[0].r1 == (5,)


async def test_pasted_numbers_are_refused_and_pasted_words_are_text(tmp_path):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        screen.pasted("45\n2\n")
        assert screen.state.cursor.text is None
        await type_keys(pilot, "'c")
        screen.pasted("two\nlines q")
        assert screen.state.mode is Mode.COMMENT
        assert screen.state.prompt == "two lines q"


async def test_trend_and_help_come_back_to_the_same_field(tmp_path):
    made, chart_id, session_open = opened(tmp_path)
    app = LimbscribeApp(made)
    async with app.run_test() as pilot:
        screen = EntryScreen(made, made.shelf.load(chart_id), session_open)
        await app.push_screen(screen)
        await type_keys(pilot, "'5", "enter")
        for key in ("'d", "'?"):
            await type_keys(pilot, key)
            assert app.screen is not screen
            await type_keys(pilot, "'q")
            assert app.screen is screen
        assert screen.state.field == "quality"
