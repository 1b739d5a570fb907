"""A toxin treatment typed as one form with a row a muscle and its goals; goals scored later."""

from __future__ import annotations

from datetime import date

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import standing, strike
from limbscribe.core.chart.goals import goal_event, goals_of, score_event, t_words
from limbscribe.core.errors import NotConfirmed, ShelfError
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import Muscle
from limbscribe.core.tardieu.reading import MAX_TEXT
from limbscribe.tui.kit.form import step
from limbscribe.tui.kit.muscle_letters import muscle_named
from limbscribe.tui.kit.paint import filled
from limbscribe.tui.screens.events.goals import score_form
from limbscribe.tui.screens.events.model import (
    Before,
    asked_for,
    event_form,
    goals_told,
    listed,
    problems_of,
)
from limbscribe.tui.screens.events.paint import EventsView, paint_events
from limbscribe.tui.screens.events.screen import EventsScreen
from limbscribe.tui.screens.events.treatment import TreatedRow, goal_parts, row_of, row_text

from tests.support.app import OneScreen, fits, press, shown, text_of
from tests.support.compared import TOXIN, compare_desk
from tests.support.records import MUSCLES, PATIENT, session
from tests.support.treatments import GOOD, HEAD, TODAY, made, typed_into

DAY = date(2026, 2, 10)


# Rows -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("sol l 50", TreatedRow("soleus", "left", "50", "")),
        ("  SOL   R  2.5 ;  two; places ", TreatedRow("soleus", "right", "2.5", "two; places")),
        ("hip flexors left", TreatedRow("hip-flexors", "left", "", "")),
        ("hamstrings, hip 40 right 40", TreatedRow("hamstrings-hip-40", "right", "40", "")),
        ("sol - 50", TreatedRow("soleus", "", "50", "")),
        ("wr fl r 20", TreatedRow("wrist-flexors", "right", "20", "")),
    ],
)
def test_a_row_is_muscle_side_amount_and_note(text: str, row: TreatedRow) -> None:
    assert row_of(text, MUSCLES) == row


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("sol", "the side of Soleus is missing"),
        ("sol 50", "the side of Soleus is missing"),
        ("hip l 50", "'hip' fits Hip flexors, Hip extensors"),
        ("tail l 50", "no muscle group has 'tail'"),
        ("l", "no muscle group has 'l'"),
        ("; a note", "the muscle group is missing"),
    ],
)
def test_a_row_that_is_not_clear_says_why(text: str, what: str) -> None:
    found = row_of(text, MUSCLES)
    assert isinstance(found, Problem)
    assert what in found.what
    assert found.mend


@pytest.mark.parametrize("muscle", MUSCLES.values(), ids=list(MUSCLES))
def test_a_row_spelled_out_is_read_as_it_was(muscle: Muscle) -> None:
    for side in ("left", "right", ""):
        for amount in ("", "50", "2.5"):
            row = TreatedRow(muscle.id, side, amount, "a note" if side else "")
            assert row_of(row_text(row, MUSCLES), MUSCLES) == row


def test_letters_that_begin_a_name_in_its_order_are_clear() -> None:
    """Both words also begin words of "Finger flexors, wrist straight"."""
    assert muscle_named("wri fl", MUSCLES) == "wrist-flexors"
    assert isinstance(muscle_named("wri", MUSCLES), Problem)


def test_a_weight_stands_behind_a_goal() -> None:
    assert goal_parts("washing; 2") == ("washing", "2")
    assert goal_parts("washing; weight 2.5 ") == ("washing", "2.5")
    assert goal_parts("washing; 2 fingers") == ("washing; 2 fingers", "")
    assert goal_parts(" washing ") == ("washing", "")


# What was typed ---------------------------------------------------------------------------


def test_a_treatment_is_an_event_a_row_and_an_event_a_goal() -> None:
    assert problems_of(GOOD, MUSCLES, TODAY) == {}
    given = {"unit": "U", "dilution": "in 2 ml", "guidance": "ultrasound", "product": "Invented A"}
    place, note = ("botulinum-toxin", "2026-11-25"), "second time"
    assert made(GOOD) == [
        Event("e0", *place, "soleus", "left", f"two places; {note}", amount=50.0, **given),
        Event("e1", *place, "gastrocnemius", "right", note, amount=2.5, **given),
        goal_event("e2", "heel on the floor", TODAY, 2.0),
        goal_event("e3", "shoe on without help", TODAY),
    ]


def test_a_treatment_of_which_no_muscle_is_known_is_one_event_without_unit() -> None:
    bare = {**GOOD, "muscle 1": "", "muscle 2": "", "goal 1": "", "goal 2": "", "unit": ""}
    assert problems_of(bare, MUSCLES, TODAY) == {}
    [event] = made(bare)
    assert (event.muscle, event.amount, event.unit) == ("", None, "")
    assert event.product == "Invented A"


@pytest.mark.parametrize(
    ("field", "text", "wrong", "what"),
    [
        ("muscle 1", "sol l 50 U", "muscle 1", "'50 U' is not an amount"),
        ("muscle 1", "sol l -5", "muscle 1", "'-5' is not an amount"),
        ("muscle 1", "sol l 1,000", "muscle 1", "1,000 can be 1000 or 1"),
        ("muscle 1", "sol", "muscle 1", "the side of Soleus is missing"),
        ("muscle 1", "sol l 50; a\u202eb", "muscle 1", "hidden character"),
        ("unit", "", "unit", "it is missing"),
        ("product", "a\u202eb", "product", "hidden character"),
        ("note", "n" * (MAX_TEXT + 1), "note", "characters"),
        ("goal 1", "washing; 0", "goal 1", "'0' is no weight"),
        ("goal 1", "g" * (MAX_TEXT + 1), "goal 1", "characters"),
        ("date", "+1", "date", "in the future"),
        ("author", "", "author", "initials are missing"),
    ],
)
def test_what_is_wrong_with_a_treatment_is_told_at_its_field(
    field: str, text: str, wrong: str, what: str
) -> None:
    plain = {"muscle 1": "sol l 50"} if field in ("note", "product") else {}
    found = problems_of({**GOOD, **plain, field: text}, MUSCLES, TODAY)
    assert wrong in found
    assert what in found[wrong].what
    assert set(found) <= {wrong, "muscle 1"}


def test_a_row_opens_behind_a_filled_one_and_an_empty_one_ends() -> None:
    form = typed_into(event_form(MUSCLES, TODAY, Before()), HEAD)
    assert [field.name for field in form.fields][-2:] == ["muscle 1", "goal 1"]
    form = typed_into(form, "sol l 50\ngas l 75\n")
    assert form.current.name == "muscle 3"
    form = typed_into(form, "\n")
    assert form.current.name == "goal 1"
    form = typed_into(form, "washing\n")
    assert form.current.name == "goal 2"
    assert form.outcome == ""
    assert typed_into(form, "\n").outcome == "taken"


def test_rows_come_back_when_another_kind_was_chosen_by_mistake() -> None:
    form = event_form(MUSCLES, TODAY, Before())
    kept = {}
    for key in (*HEAD, *"sol l 50\n", *["previous"] * 9, "s", "u", "r"):
        action = "next" if key == "\n" else key if key == "previous" else ""
        form = asked_for(step(form, key, action), Before(), kept, MUSCLES)
        kept |= {field.name: field for field in form.fields}
    assert form.values["kind"] == "surgery"
    assert "muscle 1" not in form.values
    form = asked_for(step(form, "b", ""), Before(), kept, MUSCLES)
    assert form.values["muscle 1"] == "sol l 50"


# Keys -------------------------------------------------------------------------------------


async def test_three_muscles_and_two_goals_are_stored_at_once_scored_and_struck(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path)
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, f"n{HEAD}sol l 50; two places\n")
        assert "Muscle 1    Soleus Left 50; two places" in "\n".join(shown(pilot))
        await press(pilot, "gas l 7,50")
        assert "Read as: Gastrocnemius, Left, 7.5 U" in "\n".join(shown(pilot))
        await press(pilot, "0")
        assert "So far: 7,500 can be 7500 or 7.5: type 7500 or 7.5." in "\n".join(shown(pilot))
        await press(pilot, "\b\b\b\b5")
        assert "Read as: Gastrocnemius, Left, 75 U" in "\n".join(shown(pilot))
        await press(pilot, "\nham l 100\n\nheel on the floor; 2\nshoe on\n")
        assert desk.shelf.load(chart_id).events == ()
        await press(pilot, "\n")
        screen = "\n".join(shown(pilot))
        assert "stored: 3 events and 2 goals" in screen
        assert "50 U, Invented A, dilution in 2 ml, guidance" in " ".join(screen.split())
        stored = desk.shelf.load(chart_id)
        assert [(e.kind, e.muscle, e.amount) for e in stored.events] == [
            ("botulinum-toxin", "soleus", 50.0),
            ("botulinum-toxin", "gastrocnemius", 75.0),
            ("botulinum-toxin", "hamstrings", 100.0),
            ("goal", "", None),
            ("goal", "", None),
        ]
        assert len({w.at for w in stored.written if w.table == "events"}) == 1
        await press(pilot, "s")  # two goals: it is not clear which
        assert "select the row of a goal" in "\n".join(shown(pilot))
        await press(pilot, "gheel\ns1\n")
        assert "'1' is no score" in "\n".join(shown(pilot))
        await press(pilot, "\b-1\n-30\n")
        assert "the goal was set later, on 11 Nov 2026" in "\n".join(shown(pilot))


async def test_a_goal_is_scored_and_a_row_a_goal_and_a_score_are_struck(tmp_path) -> None:
    events = (TOXIN, goal_event("g1", "heel on the floor", DAY), goal_event("g2", "shoe on", DAY))
    desk, chart_id = compare_desk(tmp_path, events=events)
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "gheel\ns-1\n\njt\n")
        assert "T score 40.0 from 1 of 2 goals" in "\n".join(shown(pilot))
        assert "-1 (less than expected): heel on the floor" in "\n".join(shown(pilot))
        stored = desk.shelf.load(chart_id).events
        assert [(e.kind, e.date, e.note) for e in stored[3:]] == [
            ("goal-score", "2026-11-25", "g1 -1")
        ]
        await press(pilot, "gshoe\ns+1\n\n\n")  # the author is offered
        assert t_words(goals_of(desk.shelf.load(chart_id).events)) == "T score 50.0 from 2 goals"
        await press(pilot, "ggoal scored\nxwrong\n\n")
        assert t_words(goals_of(desk.shelf.load(chart_id).events)) == (
            "T score 60.0 from 1 of 2 goals"
        )
        await press(pilot, "gshoe\nxnot agreed\n\n")
        assert [g.id for g in goals_of(desk.shelf.load(chart_id).events)] == ["g1"]
        assert "struck: shoe on" in "\n".join(shown(pilot))
        await press(pilot, "gbot\nxanother patient\n\n")
        assert "Its goals still count" in "\n".join(shown(pilot))
        await press(pilot, "a")
        assert "select a treatment that was not struck" in "\n".join(shown(pilot))


async def test_a_goal_is_added_later(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path, events=(TOXIN,))
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "aheel on the floor\n0\n")
        assert "'0' is no weight" in "\n".join(shown(pilot))
        await press(pilot, "\b2\njt\n")
        assert "stored: 1 goal" in "\n".join(shown(pilot))
        assert desk.shelf.load(chart_id).events[1:] == (
            goal_event(desk.shelf.load(chart_id).events[1].id, "heel on the floor", DAY, 2.0),
        )


async def test_nothing_typed_is_lost_when_a_treatment_cannot_be_stored(
    tmp_path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, chart_id = compare_desk(tmp_path)
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    app = OneScreen(EventsScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, f"n{HEAD}sol l 50\ngas l 75\n\nheel\n\n")
        screen = "\n".join(shown(pilot))
        assert "has this chart open" in screen
        assert "Gastrocnemius Left 75" in screen
        assert desk.shelf.load(chart_id).events == ()
        opened.leave()
        add = type(desk.shelf).add_events

        def unconfirmed(*args: object) -> None:
            add(*args)
            raise NotConfirmed("The set of events is written, but the disk did not confirm it")

        monkeypatch.setattr(type(desk.shelf), "add_events", unconfirmed)
        await press(pilot, "\n")
        assert "did not confirm" in "\n".join(shown(pilot))
        monkeypatch.setattr(type(desk.shelf), "add_events", add)
        await press(pilot, "\n")
        assert "stored: 2 events and 1 goal" in "\n".join(shown(pilot))
    chart = desk.shelf.load(chart_id)
    assert len(chart.events) == 3  # saved twice, there once
    assert chart.problems == ()


def test_several_events_are_stored_all_or_none(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path, events=(TOXIN,))
    one = Event("n1", "pump", "2026-03-01", "", "", "")
    with pytest.raises(ShelfError, match="already"):
        desk.shelf.add_events(chart_id, [one, TOXIN], "JT")
    assert desk.shelf.load(chart_id).events == (TOXIN,)


# The list ---------------------------------------------------------------------------------


def test_goals_and_scores_are_listed_in_words_and_struck_ones_stay(tmp_path) -> None:
    goal, gone = goal_event("g1", "heel", DAY, 2.0), goal_event("g2", "shoe", DAY)
    first, later = score_event("s1", "g1", -1, DAY), score_event("s2", "g2", 2, TODAY)
    events = (TOXIN, goal, gone, first, later, strike(gone, "x", "not agreed"))
    chart = Chart("c", PATIENT, (), (), events, ())
    rows = listed(chart)
    assert [(one.shown.note, one.struck) for one in rows if one.event.kind != TOXIN.kind] == [
        ("-1 (less than expected): heel, weight 2", None),
        ("shoe", "not agreed"),
        ("-1 (less than expected): heel", None),
        ("+2 (much more than expected): shoe", None),
    ]
    assert standing(chart.events) == (TOXIN,)
    told = "treatment of 10 Feb 2026: T score 40.0 from 1 goal"
    assert [goals_told(chart, one.event) for one in rows] == [told, told, told, told, ""]
    text = "\n".join(
        text_of(paint_events(EventsView(PATIENT, rows, 1, "n", told), MUSCLES, 80, 24))
    )
    assert "1 event, 1 goal" in text
    assert told in text


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_a_list_of_long_goals_fits_every_window(size: tuple[int, int]) -> None:
    events = [TOXIN, *(goal_event(f"g{n}", "g " * 250, DAY, 9.0) for n in range(30))]
    chart = Chart("c", PATIENT, (), (), tuple(events), ())
    for at in (0, 15, 30):
        view = EventsView(PATIENT, listed(chart), at, "n", "told " * 20)
        assert fits(filled(paint_events(view, MUSCLES, *size), size[1]), *size)


def test_every_level_is_named_where_a_goal_is_scored() -> None:
    [goal] = goals_of([goal_event("g1", "heel", DAY)])
    hint = score_form(goal, TODAY, "").fields[0].hint
    for words in ("-2 (much less than expected)", "0 (expected level)", "+1 (more than expected)"):
        assert words in hint
