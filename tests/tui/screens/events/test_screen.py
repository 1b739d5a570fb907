"""Treatment dates: entered in a few keys, struck, shown, and what they label."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from limbscribe.core.change.compare import compare_dates
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import (
    between,
    injection_days,
    next_date,
    parse_event,
    standing,
    strike,
    struck,
    toxin_day,
    toxin_words,
)
from limbscribe.core.exchange.events_csv import write_events
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.form import FormState
from limbscribe.tui.kit.muscle_letters import muscle_named
from limbscribe.tui.kit.paint import filled
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.events.model import (
    Before,
    event_form,
    events_of,
    listed,
    problems_of,
)
from limbscribe.tui.screens.events.paint import EventsView, paint_events

from tests.support.app import OneScreen, fits, press, shown, text_of
from tests.support.compared import BASIS, CAST, FIRST, LAST, SECOND, TOXIN, compare_desk
from tests.support.records import MUSCLES, PATIENT, session

TODAY = date(2026, 11, 25)
GOOD = {
    "kind": "surgery",
    "date": "t",
    "muscle": "sol",
    "side": "left",
    "note": "as told",
    "author": "jt",
}
STRUCK = strike(TOXIN, "e9", " wrong patient ")


# Striking ---------------------------------------------------------------------------------


def test_a_struck_event_no_longer_counts_for_anything() -> None:
    events = (TOXIN, CAST, STRUCK)
    assert struck(events) == {"e1": "wrong patient"}
    assert standing(events) == (CAST,)
    assert toxin_day((TOXIN, CAST), "soleus", Side.LEFT, date(2026, 4, 1)) == 50
    assert toxin_day(events, "soleus", Side.LEFT, date(2026, 4, 1)) is None
    assert between(events, date(2026, 1, 1), date(2026, 12, 1)) == (CAST,)
    assert injection_days(events) == ()
    chart = Chart("c", PATIENT, (FIRST, LAST), (), events, ())
    assert b"botulinum" not in write_events([chart])
    found = compare_dates(chart, BASIS)
    assert not isinstance(found, Problem)
    assert found.events == (CAST,)
    assert all(row.toxin == (None, None) for row in found.rows)


def test_a_struck_next_date_gives_way_to_the_one_before() -> None:
    early, late = (Event(f"n{n}", "next-date", f"2026-12-0{n}", "", "", "") for n in (1, 2))
    assert next_date((early, late)) == late
    assert next_date((early, late, strike(late, "s", "typed twice"))) == early


def test_no_file_and_no_form_can_strike() -> None:
    found = parse_event({"date": "2026-03-02", "kind": "struck"}, "e", MUSCLES)
    assert isinstance(found, list)


# An event as it is typed ------------------------------------------------------------------


def made(values: dict[str, str]) -> Event:
    """The one event of a form of another kind than toxin."""
    [event] = events_of(values, MUSCLES, TODAY, lambda place: f"e{place + 7}")
    return event


def test_what_was_typed_becomes_an_event() -> None:
    assert problems_of(GOOD, MUSCLES, TODAY) == {}
    assert made(GOOD) == Event("e7", "surgery", "2026-11-25", "soleus", "left", "as told")
    bare = {**GOOD, "kind": "cast-on", "date": "-14", "muscle": "", "side": "", "note": ""}
    assert made(bare) == Event("e7", "cast-on", "2026-11-11", "", "", "")


@pytest.mark.parametrize(
    ("name", "text", "what"),
    [
        ("kind", "", "nothing is chosen"),
        ("date", "03/04/2026", "more than one day"),
        ("date", "+1", "in the future"),
        ("muscle", "hip", "fits Hip flexors, Hip extensors"),
        ("muscle", "tail", "no muscle group has 'tail'"),
        ("note", "safe\u202ednim", "hidden character"),
        ("author", "", "initials are missing"),
        ("author", "Jo Doe", "no initials"),
    ],
)
def test_what_is_wrong_is_told_at_its_field(name: str, text: str, what: str) -> None:
    found = problems_of({**GOOD, name: text}, MUSCLES, TODAY)
    assert list(found) == [name]
    assert what in found[name].what
    assert found[name].mend


def test_a_next_date_lies_ahead() -> None:
    ahead = {**GOOD, "kind": "next-date", "date": "+28"}
    assert problems_of(ahead, MUSCLES, TODAY) == {}
    assert made(ahead).date == "2026-12-23"
    assert (
        "cannot be in the past" in problems_of({**ahead, "date": "-1"}, MUSCLES, TODAY)["date"].what
    )


@pytest.mark.parametrize("id_", list(MUSCLES))
def test_every_muscle_group_is_named_by_its_name_and_its_abbreviation(id_: str) -> None:
    muscle = MUSCLES[id_]
    for text in (muscle.name, muscle.name.upper(), muscle.abbreviation, id_):
        assert muscle_named(text, MUSCLES) == id_
    letters = " ".join(word[:4] for word in muscle.name.split())
    found = muscle_named(letters, MUSCLES)
    assert found == id_ or (isinstance(found, Problem) and muscle.name in found.what)


# The list ---------------------------------------------------------------------------------


def test_a_struck_event_stays_in_sight_with_its_reason() -> None:
    chart = Chart("c", PATIENT, (), (), (CAST, TOXIN, STRUCK), ())
    events = listed(chart)
    assert [(one.event.id, one.struck) for one in events] == [("e1", "wrong patient"), ("e2", None)]
    view = EventsView(PATIENT, events, 0, "n")
    text = text_of(paint_events(view, MUSCLES, 80, 24))
    assert "1 event" in text[0]
    assert text[2].startswith("> ~ 10 Feb 2026")
    assert text[2].endswith("struck")
    assert "~ struck, it does not count: wrong patient" in "\n".join(text)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_the_list_fits_every_window(size: tuple[int, int]) -> None:
    many = tuple(replace(TOXIN, id=str(n), note="n" * 300) for n in range(50))
    for events in ((), many, (TOXIN, STRUCK)):
        chart = Chart("c", PATIENT, (), (), events, ())
        for at in (0, max(0, len(listed(chart)) - 1)):
            view = EventsView(PATIENT, listed(chart), at, "n")
            rows = paint_events(view, MUSCLES, *size)
            assert fits(filled(rows, size[1]) if not events else rows, *size)


# Keys -------------------------------------------------------------------------------------


async def test_an_event_is_entered_repeated_and_struck(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "e")
        assert "No treatment date is on record" in "".join(shown(pilot))
        await press(pilot, "nsur\n-14\nsol\nl\n\njt\n")
        assert "11 Nov 2026 surgery, Soleus, Left" in "\n".join(shown(pilot))
        assert "entered by JT, 25 Nov 2026 12:00" in "\n".join(shown(pilot))
        await press(pilot, "n\n\ngastro\nl\n\n\n")
        stored = desk.shelf.load(chart_id)
        assert [(e.kind, e.date, e.muscle, e.side) for e in stored.events] == [
            ("surgery", "2026-11-11", "soleus", "left"),
            ("surgery", "2026-11-11", "gastrocnemius", "left"),
        ]
        assert [w.author for w in stored.written if w.table == "events"] == ["JT", "JT"]
        await press(pilot, "xwrong muscle\n\n")
        assert "the event is struck" in "\n".join(shown(pilot))
        assert "~ struck, it does not count: wrong muscle" in "\n".join(shown(pilot))
        await press(pilot, "x")
        assert "struck already" in "\n".join(shown(pilot))
        stored = desk.shelf.load(chart_id)
        assert [event.muscle for event in standing(stored.events)] == ["soleus"]
        assert stored.problems == ()
        await press(pilot, "q")
        assert isinstance(app.screen, ChartScreen)


async def test_wrong_letters_keep_the_form_and_say_why(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "en")
        await press(pilot, "b\n03/04/2026\n")
        assert "more than one day" in "\n".join(shown(pilot))
        assert desk.shelf.load(chart_id).events == ()


async def test_an_event_that_cannot_be_stored_stays_in_the_form(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "ensur\nt\nsol\nl\n\njt\n")
        text = "\n".join(shown(pilot))
        assert "new treatment date" in text
        assert "has this chart open" in text
        opened.leave()
        await press(pilot, "\n")
        assert "the event is stored" in "\n".join(shown(pilot))
    assert len(desk.shelf.load(chart_id).events) == 1


def test_the_form_offers_kind_date_and_author_of_the_one_before() -> None:
    form: FormState = event_form(MUSCLES, TODAY, Before("surgery", "2026-11-01", "JT"))
    assert form.values["kind"] == "surgery"
    assert form.values["date"] == "2026-11-01"
    assert [field.name for field in form.fields if field.taken_over] == ["kind", "date", "author"]


# Labels -----------------------------------------------------------------------------------


def test_a_session_is_labelled_per_muscle_and_side() -> None:
    day = date(2026, 3, 12)
    assert toxin_words((TOXIN,), "soleus", Side.LEFT, day) == "toxin day 30 (peak)"
    assert toxin_words((TOXIN,), "soleus", Side.RIGHT, day) == ""
    assert toxin_words((TOXIN,), "hamstrings", Side.LEFT, day) == ""
    assert toxin_words((replace(TOXIN, muscle="", side=""),), "hamstrings", Side.RIGHT, day)


async def test_the_chart_tells_the_toxin_day_of_the_selected_station(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path, FIRST, SECOND, LAST, events=(TOXIN,))
    app = OneScreen(ChartScreen(desk, chart_id, ("soleus", Side.LEFT)))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "vv")
        assert "toxin day 50 (waning)" in "\n".join(shown(pilot))
        await press(pilot, "[[")
        assert "toxin day" not in "\n".join(shown(pilot))


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_the_entry_tells_the_toxin_day_only_where_there_was_an_injection(
    tmp_path, size: tuple[int, int]
) -> None:
    desk, chart_id = compare_desk(tmp_path, FIRST, events=(TOXIN,))
    opened = desk.shelf.start(chart_id, session("2026-03-12"), "CD")
    app = OneScreen(EntryScreen(desk, desk.shelf.load(chart_id), opened))
    async with app.run_test(size=size) as pilot:
        assert "toxin day" not in "\n".join(shown(pilot))
        await press(pilot, "gsol\n")
        lines = shown(pilot)
        [at] = [n for n, text in enumerate(lines) if "toxin day 30 (peak)" in text]
        assert "on 02 Jan 2026" in lines[at - 1]


def test_the_new_keys_are_bound_once() -> None:
    keymap = Keymap()
    assert keymap.action("chart", "x") == "compare"
    assert keymap.action("chart", "e") == "events"
    assert keymap.action("opening", "w") == "work"
    for screen in ("compare", "events"):
        keys = [key for binding in keymap.of(screen) for key in binding.keys]
        assert len(keys) == len(set(keys)) > 8
