"""Stations that an amendment adds only so that something can be moved to them."""

from __future__ import annotations

from limbscribe.core.tardieu.reading import Side

from tests.support.amending import begun, typed
from tests.support.records import reading, session
from tests.support.stations import typed as scripted

LEFT, RIGHT = Side.LEFT, Side.RIGHT
FOUND = session(
    "2026-05-02",
    reading("gastrocnemius", LEFT, -5, 12),
    reading("gastrocnemius", RIGHT, -6, 12),
    reading("soleus", LEFT, -5, 12),
    reading("elbow-flexors", LEFT, -60, -10),
)
"""Of soleus and elbow flexors only the left ones are on the list."""

SOLEUS_RIGHT, ELBOW_RIGHT = 4, 5


def test_they_are_behind_the_list():
    plan = begun(FOUND).plan
    assert plan.aside == {SOLEUS_RIGHT, ELBOW_RIGHT}
    names = [plan.stations[index].name for index in sorted(plan.aside)]
    assert names == ["Soleus, Right", "Elbow flexors, Right"]


def test_a_correction_does_not_lead_to_them():
    """The next Enter would say "no catch" of what nobody tested."""
    state = typed(begun(FOUND), ">>>}}")
    state, _ = scripted(state, "<right><right>14<enter>")
    assert state.drafts[3].r2 == (-14,)
    assert state.station.name == "Elbow flexors, Left"
    state, _ = scripted(state, "<enter><home><end>")
    assert state.drafts[SOLEUS_RIGHT] == begun(FOUND).drafts[SOLEUS_RIGHT]
    assert state.cursor.station == 3


def test_the_rest_is_not_theirs():
    state = typed(begun(FOUND), "lp")
    assert state.drafts == begun(FOUND).drafts
    some = session("2026-05-02", *FOUND.readings[:3])
    state = typed(begun(some), "lp")
    tested = [one.name for one, d in zip(state.plan.stations, state.drafts, strict=True) if d.done]
    assert "Elbow flexors, Left" in tested
    assert not {"Soleus, Right", "Elbow flexors, Right"} & set(tested)


def test_one_that_was_begun_is_open_as_any_other():
    state, _ = scripted(typed(begun(FOUND), ">>>>"), "-5<enter>2<home>")
    assert state.open_stations == (SOLEUS_RIGHT,)
    assert state.cursor.station == SOLEUS_RIGHT
    moved = typed(begun(FOUND), ">>i")
    assert moved.drafts[SOLEUS_RIGHT].r2 == (12,)
    assert moved.drafts[SOLEUS_RIGHT].done


def test_each_velocity_has_its_own():
    both = session(
        "2026-05-02",
        reading("soleus", LEFT, -5, 12, fast_velocity="V3"),
        reading("soleus", LEFT, -3, 12, fast_velocity="V2"),
        reading("soleus", RIGHT, -5, 12, fast_velocity="V3"),
    )
    plan = begun(both).plan
    aside = [plan.stations[index] for index in plan.aside]
    assert [(one.side, one.velocity) for one in aside if one.muscle.id == "soleus"] == [
        (RIGHT, "V2")
    ]
