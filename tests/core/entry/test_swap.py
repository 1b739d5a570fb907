"""Left and right of a closed session exchanged: one step, with checks anew, and back again."""

from __future__ import annotations

from dataclasses import replace

import pytest
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import (
    amending_checklist,
    amendment_of,
    begin_amending,
    changes,
)
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.plan import make_plan
from limbscribe.core.entry.several import SWAPPED, swap_sides
from limbscribe.core.entry.state import Bell, Save
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.reading import Side

from tests.support.amending import begun, typed
from tests.support.records import MUSCLES, PATIENT, reading, session
from tests.support.stations import DEFICIT

LEFT, RIGHT = Side.LEFT, Side.RIGHT


def closed() -> Session:
    """Two sides of one muscle group, and one side of two others."""
    return session(
        "2026-01-02",
        reading("gastrocnemius", LEFT, -20, 5, comment="warm", pain=3, posture="sitting"),
        reading("gastrocnemius", RIGHT, -5, 10, fast_velocity="V2", scale=DEFICIT),
        reading("soleus", LEFT, None, None, quality=None, not_tested="pain", r1_tries=()),
        reading("hamstrings", RIGHT, 30, 60),
    )


def test_all_that_a_reading_says_goes_to_the_other_side():
    found = closed()
    start = begun(found)
    now, effects = swap_sides(start, start)
    given, withdrawn = amendment_of(changes(start, now, found.readings))
    bare = {replace(one, flags=()) for one in given}
    assert bare == {replace(one, side=one.side.other, flags=()) for one in found.readings}
    assert set(withdrawn) == {one.station for one in found.readings} - {
        one.station for one in given
    }
    assert len([each for each in effects if isinstance(each, Save)]) == 1
    assert now.message.startswith(f"{SWAPPED} at 3 stations")


def test_it_is_one_step_to_undo_and_the_journal_gives_it_back():
    start = begun(closed())
    now, effects = swap_sides(start, start)
    back, undo = step(now, "u")
    again, redo = step(back, "y")
    assert (back.drafts, back.plan) == (start.drafts, start.plan)
    assert (again.drafts, again.plan) == (now.drafts, now.plan)
    docs = [save_to_doc(each, "") for each in (*effects, *undo, *redo) if isinstance(each, Save)]
    for count, wanted in ((1, now), (2, back), (3, again)):
        told, problems = replay(start.plan, docs[:count], start)
        assert (problems, told.drafts, told.plan) == ([], wanted.drafts, wanted.plan)


def test_twice_leaves_nothing_to_save():
    found = closed()
    start = begun(found)
    once, _ = swap_sides(start, start)
    twice, _ = swap_sides(once, start)
    assert changes(start, once, found.readings)
    assert changes(start, twice, found.readings) == ()


def test_last_values_are_those_of_the_side_it_goes_to():
    """Right was always stiff: entered on the left it is flagged, exchanged it is not."""
    before = session(
        "2025-10-02",
        reading("gastrocnemius", LEFT, 0, 10),
        reading("gastrocnemius", RIGHT, -30, -20),
    )
    wrong = session(
        "2026-01-02",
        reading("gastrocnemius", LEFT, -30, -20),
        reading("gastrocnemius", RIGHT, 0, 10),
    )
    listed = amending_checklist(wrong)
    plan = make_plan(listed, PATIENT, 2026, MUSCLES, (before,))
    start = begin_amending(plan, wrong.readings)
    right, _ = swap_sides(start, start)
    rules = {flag.rule for draft in right.drafts for flag in draft.heard}
    turned = begin_amending(plan, before.readings)
    bad, _ = swap_sides(turned, turned)
    worse = {flag.rule for draft in bad.drafts for flag in draft.heard}
    assert worse - rules, "what differs from last time is flagged anew"
    assert "flagged now: Gastrocnemius" in bad.message


@pytest.mark.parametrize(
    ("keys", "why"), [("1", "is not accepted yet"), ("k", "stopwatch is running")]
)
def test_what_is_half_typed_comes_first(keys: str, why: str):
    start = begun(closed())
    state = typed(start, keys)
    now, effects = swap_sides(state, start)
    assert why in now.message
    assert isinstance(effects[-1], Bell)
    assert now.drafts == start.drafts


def test_a_station_without_other_side_stops_it():
    """Amendments begun by earlier versions have no station to move it to."""
    found = closed()
    plan = make_plan(found.checklist, PATIENT, 2026, MUSCLES)
    start = begin_amending(plan, found.readings[:3])
    now, _ = swap_sides(start, start)
    assert "the other side of Soleus, Left is not on this list" in now.message
    assert now.drafts == start.drafts


def test_it_begins_at_the_station_pointed_at():
    found = closed()
    plan = make_plan(amending_checklist(found), PATIENT, 2026, MUSCLES)
    for one in found.readings:
        state = begin_amending(plan, found.readings, one.station)
        assert (state.station.muscle.id, state.station.side) == one.station[:2]
    state = begin_amending(plan, found.readings, ("elbow-flexors", LEFT, None))
    assert state.station.muscle.id == "elbow-flexors"
