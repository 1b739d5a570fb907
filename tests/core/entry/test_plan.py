"""What the plan remembers of earlier sessions, and what it never does."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.core.change.trend import series_of, stations_seen
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import (
    Session,
    seal_holds,
    sealed,
    session_from_doc,
    session_to_doc,
)
from limbscribe.core.entry.plan import last_reading, make_plan, settled
from limbscribe.core.entry.state import begin
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

MUSCLES = shipped_muscles()
LIST = Checklist("x", "X", (Item("hamstrings"), Item("elbow-flexors", sides="affected")))
ADULT = Patient("AB-12", birth_year=1990, sex="female")


def session(day: str, *readings: Reading) -> Session:
    return Session(day, f"{day}T09:00:00+01:00", "KM", "JT", LIST, readings=readings)


def hamstrings(r1: int | None, r2: int | None, scale="deficit", side=Side.LEFT, **more) -> Reading:
    posture = more.pop("posture", MUSCLES["hamstrings"].posture_words)
    found = MUSCLES["hamstrings"].scale(scale)
    return Reading("hamstrings", side, posture, found, r1=r1, r2=r2, **more)


def test_everything_is_settled_before_a_session():
    items = settled(LIST, "right", MUSCLES).items
    assert [(item.muscle, item.sides) for item in items] == [
        ("hamstrings", "left"),
        ("hamstrings", "right"),
        ("elbow-flexors", "right"),
    ]
    for item in items:
        muscle = MUSCLES[item.muscle]
        assert item.fast_velocity == muscle.velocity
        assert item.scale == muscle.default_scale
        assert item.posture == muscle.posture_words


def test_scale_posture_and_velocity_are_remembered_a_station_at_a_time():
    earlier = [
        session("2026-05-02", hamstrings(45, 10, posture="side lying", fast_velocity="V2")),
        session("2026-06-02", Reading("soleus", Side.LEFT, "supine", MUSCLES["soleus"].scale())),
    ]
    left, right, _ = settled(LIST, "right", MUSCLES, earlier).items
    assert (left.scale, left.posture, left.fast_velocity) == ("deficit", "side lying", "V2")
    assert right.scale == MUSCLES["hamstrings"].default_scale
    plan = make_plan(settled(LIST, "right", MUSCLES, earlier), ADULT, 2026, MUSCLES, earlier)
    assert plan.stations[0].remembered == "02 May 2026"
    assert plan.stations[1].remembered == ""


def test_the_checklist_goes_before_memory_and_memory_before_the_clinics_default():
    own = Checklist("x", "X", (Item("hamstrings", scale="straight-180"),))
    earlier = [session("2026-05-02", hamstrings(45, 10))]
    scales = {"hamstrings": "neutral-zero"}
    assert settled(own, "", MUSCLES, earlier, scales).items[0].scale == "straight-180"
    assert settled(LIST, "", MUSCLES, earlier, scales).items[0].scale == "deficit"
    assert settled(LIST, "", MUSCLES, earlier, scales).items[1].scale == "neutral-zero"


def test_an_old_angle_is_never_a_new_one():
    earlier = [session("2026-05-02", hamstrings(45, 10, quality=2))]
    plan = make_plan(settled(LIST, "left", MUSCLES, earlier), ADULT, 2026, MUSCLES, earlier)
    assert plan.stations[0].last == earlier[0].readings[0]
    for draft in begin(plan).drafts:
        assert (draft.r1, draft.r2, draft.quality) == ((), (), None)


def test_last_reading_is_the_latest_with_an_angle():
    earlier = [
        session("2026-05-02", hamstrings(45, 10)),
        session("2026-06-02", hamstrings(40, 9)),
        session("2026-07-02", hamstrings(None, None, not_tested="pain")),
    ]
    found = last_reading(earlier, "hamstrings", Side.LEFT, "V3")
    assert found is not None
    assert (found[0].r1, found[1]) == (40, "02 Jun 2026")
    assert last_reading(earlier, "hamstrings", Side.RIGHT, "V3") is None
    assert last_reading(earlier, "hamstrings", Side.LEFT, "V2") == found


def test_reference_follows_age_and_sex():
    plan = make_plan(settled(LIST, "left", MUSCLES), ADULT, 2026, MUSCLES)
    assert plan.stations[2].reference_range is not None
    nameless = make_plan(settled(LIST, "left", MUSCLES), Patient("AB-12"), 2026, MUSCLES)
    assert nameless.stations[2].reference_range is None
    assert "birth year" in str(nameless.stations[2].reference)


def test_no_velocity_is_remembered_where_the_other_one_is_a_station_too():
    both = Checklist("x", "X", (Item("hamstrings", fast_velocity="V2"), Item("hamstrings")))
    earlier = [session("2026-05-02", hamstrings(45, 10, fast_velocity="V2"))]
    items = settled(both, "right", MUSCLES, earlier).items
    assert [item.fast_velocity for item in items] == ["V2", "V2", "V3", "V3"]


def test_other_side_and_other_velocity():
    both = Checklist("x", "X", (Item("hamstrings"), Item("hamstrings", fast_velocity="V2")))
    plan = make_plan(settled(both, "", MUSCLES), ADULT, 2026, MUSCLES)
    assert [plan.other_side(i) for i in range(4)] == [1, 0, 3, 2]
    assert [plan.other_velocity(i) for i in range(4)] == [2, 3, 0, 1]


def test_seal_notices_any_change():
    one = sealed(session("2026-05-02", hamstrings(45, 10)), "JT", "2026-05-02T10:00:00+01:00", "")
    assert seal_holds(one)
    assert session_from_doc(session_to_doc(one)) == one
    assert not seal_holds(replace(one, examiner="XX"))
    assert not seal_holds(replace(one, readings=(hamstrings(44, 10),)))
    assert one.seal is not None
    assert not seal_holds(replace(one, seal=replace(one.seal, parent="f" * 64)))
    assert not seal_holds(session("2026-05-02"))


def test_series_is_up_for_more_stretch_in_every_scale():
    earlier = [
        session("2026-05-02", hamstrings(45, 10, "deficit")),
        session("2026-06-02", hamstrings(150, 175, "straight-180")),
    ]
    series = series_of(earlier, "hamstrings", Side.LEFT)
    assert [(p.r1, p.r2, p.gap) for p in series.points] == [(-45, -10, 35), (-30, -5, 25)]
    assert stations_seen(earlier) == (("hamstrings", Side.LEFT),)
    assert not series_of(earlier, "hamstrings", Side.RIGHT).drawable
