"""The invented clinic: sound as a shelf, plausible as data, and typed as its script says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.checklist import stations_of
from limbscribe.core.chart.session import Session, seal_holds
from limbscribe.core.entry.log import replay
from limbscribe.core.entry.readings import session_readings
from limbscribe.core.entry.state import Bell, EntryState, Finished, Save
from limbscribe.core.entry.step import step
from limbscribe.core.exchange.import_plan import ImportRules
from limbscribe.core.exchange.importing import Outcome, import_csv
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.demo.clinic import (
    DATA,
    LEFT_OFF_AT,
    OPEN_CODE,
    STARTED,
    build_demo,
    demo_keys,
    demo_patients,
    demo_session,
    first_state,
    moment_of,
)

MUSCLES = shipped_muscles()
OTHER_POSTURES = {("DEMO-02", "hip-adductors", "supine, hip straight, knee 90")}
"""The one reading that was meant to be taken in another position."""


@pytest.fixture(scope="module")
def charts(demo_shelf: Path) -> dict[str, Chart]:
    shelf = Shelf(demo_shelf)
    return {entry.code: shelf.load(entry.id) for entry in shelf.charts()}


def readings(charts: dict[str, Chart]) -> Iterator[tuple[str, Session, Reading]]:
    for code, chart in charts.items():
        for session in chart.by_date:
            for reading in session.readings:
                yield code, session, reading


def course(chart: Chart, muscle: str, side: str) -> list[Reading]:
    found = [session.reading_of(muscle, side) for session in chart.by_date]
    return [reading for reading in found if reading]


def typed_to_the_end(chart: Chart) -> tuple[EntryState, list[object]]:
    session = demo_session(chart, MUSCLES)
    state = first_state(chart, session, MUSCLES)
    effects: list[object] = []
    for number, key in enumerate(demo_keys()):
        state, new = step(state, key, moment_of(number))
        effects += new
    return state, effects


# The shelf ------------------------------------------------------------------------------


def test_what_is_on_the_shelf(demo_shelf, charts):
    sessions = {code: len(chart.sessions) for code, chart in charts.items()}
    assert sessions == {"DEMO-01": 6, "DEMO-02": 5, "DEMO-03": 5, "DEMO-04": 2}
    assert sum(1 for _ in readings(charts)) == 280
    opened = [entry.code for entry in Shelf(demo_shelf).charts() if entry.open_since]
    assert opened == [OPEN_CODE]


def test_every_chart_is_sound(demo_shelf, charts):
    assert verify(demo_shelf) == ()
    for chart in charts.values():
        assert chart.problems == ()
        assert all(seal_holds(session) for session in chart.sessions)
        assert all(session.source == "import" for session in chart.sessions)


def test_the_patients_are_those_of_the_file(charts):
    assert [chart.patient for _, chart in sorted(charts.items())] == list(demo_patients())
    ages = {patient.code: patient.age_in(2026) for patient in demo_patients()}
    assert ages == {"DEMO-01": 58, "DEMO-02": 32, "DEMO-03": 7, "DEMO-04": 45}
    assert all(patient.diagnosis and patient.height_cm for patient in demo_patients())


def test_importing_the_readings_again_adds_nothing(demo_copy):
    data = (DATA / "readings.csv").read_bytes()
    again = import_csv(data, "readings.csv", Shelf(demo_copy), ImportRules(MUSCLES), STARTED)
    assert isinstance(again, Outcome)
    assert (again.rows, again.already, again.stored, len(again.refused)) == (280, 280, 0, 0)


def test_own_settings_do_not_reach_the_demo(tmp_path, monkeypatch):
    """With a limit of 1 deg nearly every reading would be flagged as a large change."""
    (tmp_path / "config.toml").write_text("change = 1\nreading_error = 1\n", "utf-8")
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path))
    build_demo(tmp_path / "shelf")
    shelf = Shelf(tmp_path / "shelf")
    loaded = {entry.code: shelf.load(entry.id) for entry in shelf.charts()}
    assert sum(len(reading.flags) for _, _, reading in readings(loaded)) == 1


# The readings ---------------------------------------------------------------------------


def test_the_only_flag_is_the_one_meant(charts):
    flags = [
        (code, session.started[:10], reading.muscle, flag.rule, flag.level)
        for code, session, reading in readings(charts)
        for flag in reading.flags
    ]
    assert flags == [("DEMO-01", "2026-06-16", "wrist-flexors", "sign-opposite", "unlikely")]


def test_every_session_lies_between_january_and_the_open_one(charts):
    for code, chart in charts.items():
        starts = [session.when for session in chart.by_date]
        assert starts[0] >= datetime(2026, 1, 1, tzinfo=UTC)
        assert starts[-1] < STARTED
        apart = [later - sooner for sooner, later in pairwise(starts)]
        longest = 8 if code == "DEMO-01" else 14
        assert all(timedelta(weeks=4) <= gap <= timedelta(weeks=longest) for gap in apart)


def test_people_are_initials_and_never_one_person(charts):
    people = {(session.examiner, session.recorder) for _, session, _ in readings(charts)}
    assert len(people) > 3
    for examiner, recorder in people:
        assert re.fullmatch(r"[A-Z]{2}", examiner)
        assert re.fullmatch(r"[A-Z]{2}", recorder)
        assert examiner != recorder


def test_angles_lie_inside_the_joint_on_a_scale_of_the_muscle(charts):
    for code, _, reading in readings(charts):
        muscle = MUSCLES[reading.muscle]
        assert reading.scale in muscle.scales
        if (code, reading.muscle, reading.posture) not in OTHER_POSTURES:
            assert reading.posture == muscle.posture_words
        for stretch in (reading.r1_stretch, reading.r2_stretch):
            assert stretch is None or muscle.low <= stretch <= muscle.high
        assert reading.gap is None or reading.gap >= 3


def test_scales_in_use(charts):
    used = {(code, reading.muscle, reading.scale.id) for code, _, reading in readings(charts)}
    assert ("DEMO-03", "hamstrings", "deficit") in used
    assert ("DEMO-03", "gastrocnemius", "neutral-zero") in used
    assert {scale for code, _, scale in used if code == "DEMO-04"} == {
        "straight-180",
        "plantigrade-90",
    }


def test_the_numbers_look_read_and_not_rounded(charts):
    angles = [
        angle
        for _, _, reading in readings(charts)
        for angle in (reading.r1, reading.r2)
        if angle is not None
    ]
    fives = sum(angle % 5 == 0 for angle in angles) / len(angles)
    assert 0.2 < fives < 0.4
    assert {angle % 10 for angle in angles} == set(range(10))


def test_after_stroke_the_catch_comes_later_for_a_while(charts):
    """The slow range stays within reading error meanwhile, and the catch drifts back."""
    for muscle in ("elbow-flexors", "wrist-flexors", "gastrocnemius", "soleus"):
        found = course(charts["DEMO-01"], muscle, "right")
        catches = [reading.r1_stretch or 0 for reading in found]
        ranges = [reading.r2_stretch or 0 for reading in found]
        assert min(catches[2:4]) >= catches[0] + 9
        assert catches[3] > catches[4] > catches[5]
        assert max(ranges) - min(ranges) <= 5
    found = course(charts["DEMO-01"], "elbow-flexors", "left")
    assert [reading.r1 for reading in found] == [None] * 6


def test_after_brain_injury_the_gap_shrinks_because_the_range_does(charts):
    found = course(charts["DEMO-02"], "gastrocnemius", "left")
    ranges = [reading.r2_stretch or 0 for reading in found]
    gaps = [reading.gap or 0 for reading in found]
    assert ranges == sorted(set(ranges), reverse=True)
    assert gaps == sorted(gaps, reverse=True)
    assert gaps[0] - gaps[-1] >= 10
    soleus = course(charts["DEMO-02"], "soleus", "right")
    assert [reading.quality for reading in soleus] == [3] * 5
    assert all(reading.clonus_s and 0 < reading.clonus_s < 10 for reading in soleus)


def test_the_child_loses_range_slowly(charts):
    chart = charts["DEMO-03"]
    for muscle in ("hip-adductors", "rectus-femoris", "hamstrings", "gastrocnemius", "soleus"):
        for side in ("left", "right"):
            ranges = [
                reading.r2_stretch
                for reading in course(chart, muscle, side)
                if reading.r2_stretch is not None
            ]
            assert 3 <= ranges[0] - ranges[-1] <= 10


def test_pain_and_stations_not_tested_are_there(charts):
    reasons = {reading.not_tested for _, _, reading in readings(charts)}
    assert reasons >= {"pain", "no-time", "refused", "resisted"}
    assert any(reading.pain for _, _, reading in readings(charts))
    kept = [r for _, _, r in readings(charts) if r.not_tested and r.r2 is not None]
    assert kept, "some slow ranges were measured where the fast stretch was not"


def test_the_child_went_through_the_checklist_in_order(charts):
    checklist = charts["DEMO-03"].by_date[0].checklist
    assert [(item.muscle, side) for item, side in stations_of(checklist)][::7] == [
        ("hip-adductors", Side.LEFT),
        ("hip-adductors", Side.RIGHT),
    ]


# The open session -----------------------------------------------------------------------


def test_the_open_session_can_be_resumed_half_way(demo_copy):
    shelf = Shelf(demo_copy)
    chart = shelf.load(shelf.find(OPEN_CODE) or "")
    opened = shelf.resume(chart.id, "TT")
    try:
        plan = first_state(chart, opened.session, MUSCLES).plan
        state, problems = replay(plan, opened.entries)
    finally:
        opened.leave()
    assert (problems, opened.problems) == ([], ())
    assert (state.cursor.station, state.cursor.place) == LEFT_OFF_AT
    assert state.station.name == "Hamstrings, Right"
    assert state.draft.r1 == (-53,)
    assert len(state.open_stations) == 11
    assert "undo" in [entry["op"] for entry in opened.entries]
    assert opened.session.examiner == "VZ"
    assert opened.session.conditions.cautions_read


# The script -----------------------------------------------------------------------------


def promised() -> list[str]:
    """What the comments of the script say each station holds."""
    text = (DATA / "session.keys").read_text("utf-8")
    return re.findall(r"^# = (.+)$", text, re.MULTILINE)


def told(reading: Reading) -> str:
    """A reading as the script's comments write it."""
    parts = [f"{reading.muscle} {reading.side}: {reading.fast_velocity}"]
    if reading.not_tested:
        parts.append(f"not tested {reading.not_tested}")
    else:
        parts.append("no catch" if reading.r1 is None else f"R1 {reading.r1}")
        parts += [f"quality {reading.quality}", f"R2 {reading.r2}"]
    if reading.pain is not None:
        parts.append(f"pain {reading.pain}")
    if reading.clonus_s is not None:
        parts.append(f"clonus {reading.clonus_s}")
    if reading.comment:
        parts.append(f"comment {reading.comment}")
    return ", ".join(parts)


def test_the_script_ends_with_every_station_done(charts):
    state, effects = typed_to_the_end(charts[OPEN_CODE])
    assert state.open_stations == ()
    assert isinstance(effects[-1], Finished)
    assert len(state.drafts) == 24


def test_the_script_holds_what_its_comments_say(charts):
    state, _ = typed_to_the_end(charts[OPEN_CODE])
    assert [told(reading) for reading in session_readings(state)] == promised()


def test_the_script_meets_one_impossible_and_one_unlikely_entry(charts):
    """The first is corrected and leaves no trace, the second stands with its flag."""
    state, effects = typed_to_the_end(charts[OPEN_CODE])
    assert [effect.text for effect in effects if isinstance(effect, Bell)] == [
        "R1 20 lies 8 deg beyond R2 12",
        "R1 8: the sign was opposite, -10",
    ]
    left = [(r.muscle, r.side, f.rule) for r in session_readings(state) for f in r.flags]
    assert left == [("gastrocnemius", Side.RIGHT, "sign-opposite")]
    assert [e.op for e in effects if isinstance(e, Save) and e.op != "do"] == ["undo"]
