"""The timed speed in the record: kept with undo, and absent where it always was absent."""

from __future__ import annotations

import json
from dataclasses import replace

from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.session import (
    Seal,
    Session,
    canonical,
    seal_holds,
    sealed,
    session_from_doc,
    session_to_doc,
)
from limbscribe.core.entry.accept import keep_speed
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.readings import reading_of, session_readings
from limbscribe.core.entry.state import Save
from limbscribe.core.exchange.json_export import chart_doc
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side, reading_from_doc, reading_to_doc

from tests.support.records import PATIENT, session, state_of
from tests.support.records import reading as made_reading
from tests.support.stations import fresh, typed

WALL = "2026-11-25T09:41:00+01:00"
OLD_KEYS = {
    *("muscle", "side", "posture", "scale", "fast_velocity", "r1", "r2", "quality"),
    *("r1_tries", "r2_tries", "clonus_s", "pain", "not_tested", "not_tested_note", "comment"),
    *("flags", "overrides", "entered"),
}


def soleus(**more):
    return made_reading("soleus", Side.LEFT, 5, 20, **more)


def test_a_reading_without_speed_has_the_old_document():
    doc = reading_to_doc(soleus())
    assert set(doc) == OLD_KEYS
    assert reading_from_doc(doc) == soleus()


def test_a_reading_with_speed_goes_round():
    timed = soleus(speed_deg_s=312)
    doc = reading_to_doc(timed)
    assert set(doc) == OLD_KEYS | {"speed_deg_s"}
    assert reading_from_doc(json.loads(canonical(doc))) == timed


def invented(**more) -> Session:
    """A session that depends on no data file."""
    scale = AngleScale("neutral-zero", 1, 0)
    entered = "2026-01-02T10:00:00+01:00"
    reading = Reading(
        *("soleus", Side.LEFT, "supine, knee bent", scale, "V3", 5, 20, 2, (5,), (20,)),
        entered=entered,
    )
    checklist = Checklist("short", "Short one", (Item("soleus", "left"),))
    readings = (replace(reading, **more),)
    return Session("a1", entered, "AB", "CD", checklist, readings=readings)


def test_a_seal_from_before_holds():
    """The hash was printed by the program as it was before readings had a speed."""
    old = "433e6f5a6944d704616cff428a7fea8e080f2f2caf194923d7b3bbcdb336101a"
    seal = Seal("CD", "2026-01-02T11:00:00+01:00", "", old)
    assert seal_holds(replace(invented(), seal=seal))
    assert not seal_holds(replace(invented(speed_deg_s=312), seal=seal))


def test_the_speed_is_sealed_with_the_reading():
    timed = sealed(invented(speed_deg_s=312), "CD", WALL, "")
    assert seal_holds(timed)
    assert session_from_doc(json.loads(canonical(session_to_doc(timed)))) == timed
    assert not seal_holds(replace(timed, readings=invented(speed_deg_s=313).readings))
    assert not seal_holds(replace(timed, readings=invented().readings))


def test_keeping_is_one_step_with_undo_and_redo():
    state, _ = typed(fresh(), "-60<enter>2-3")
    before = state
    state, effects = keep_speed(state, 312)
    assert [type(effect) for effect in effects] == [Save]
    assert state.draft.speed_deg_s == 312
    assert state.cursor == before.cursor
    assert state.message == "speed 312 deg/s, Hamstrings, Left"
    cleared, _ = typed(state, "u")
    assert (cleared.drafts, cleared.cursor.text) == (state.drafts, None), "typed digits go first"
    undone, _ = typed(cleared, "u")
    assert undone.drafts == before.drafts
    assert replace(undone.cursor, fresh=False) == before.cursor
    again, _ = typed(undone, "y")
    assert again.drafts == state.drafts
    committed, _ = typed(state, "5<enter>")
    assert session_readings(committed)[0].speed_deg_s == 312
    assert session_readings(committed)[0].r2 == -35


def test_a_speed_alone_is_not_lost():
    state, _ = keep_speed(fresh(), 90)
    assert state.draft.has_content
    assert [reading.speed_deg_s for reading in session_readings(state)] == [90]


def journal(effects):
    saves = [effect for effect in effects if isinstance(effect, Save)]
    return [json.loads(canonical(save_to_doc(save, WALL))) for save in saves]


def test_the_journal_replays_with_and_without_speeds():
    state, effects = typed(fresh(), "-60<enter>2")
    docs = journal(effects)
    assert all("speed_deg_s" not in doc.get("draft", {}) for doc in docs)
    assert replay(state.plan, docs)[0].drafts == state.drafts
    state, more = keep_speed(state, 312)
    undone, undo = typed(state, "u")
    assert len(undo) == 1
    docs += journal(more)
    assert docs[-1]["draft"]["speed_deg_s"] == 312
    assert replay(state.plan, docs) == (replace(state, message=""), [])
    assert replay(state.plan, docs + journal(undo))[0].drafts == undone.drafts


def test_a_draft_written_out_with_an_empty_speed_is_taken_as_well():
    state, effects = typed(fresh(), "-60<enter>2")
    docs = journal(effects)
    for doc in docs:
        doc["draft"]["speed_deg_s"] = None
    assert replay(state.plan, docs)[0].drafts == state.drafts


def test_flags_that_stop_do_not_stop_the_speed_and_come_again():
    state = state_of("25\n210\n")
    assert state.flags
    kept, effects = keep_speed(state, 200)
    assert any(isinstance(effect, Save) for effect in effects)
    assert reading_of(kept, 0).speed_deg_s == 200
    assert kept.cursor.text == "10"
    assert typed(kept, "<enter>")[0].hold, "the hold is not ended by another screen"
    again, _ = typed(kept, "<backspace>10<enter>")
    assert [flag.rule for flag in again.flags] == [flag.rule for flag in state.flags]


def test_the_json_export_has_the_speed():
    other = made_reading("gastrocnemius", Side.LEFT, 5, 20, speed_deg_s=312)
    one = session("2026-01-02", soleus(), other)
    chart = Chart("c1", PATIENT, (one,), (), (), ())
    doc = chart_doc(chart, shipped_muscles())
    assert [r["speed_deg_s"] for r in doc["sessions"][0]["readings"]] == [None, 312]
