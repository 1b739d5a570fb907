"""Two sessions of a chart side by side, as data for a table and as JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from limbscribe.core.change.compare import Basis, Comparison, choose_sessions, compare_dates
from limbscribe.core.change.compare_doc import HEADER, WIDTHS, cells, comparison_doc, heading
from limbscribe.core.change.compare_words import event_lines
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.config.settings import Settings
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.change_cases import DEFICIT, FIGURE, GAP_FIGURE, NEUTRAL, reading, session

MUSCLES = shipped_muscles()
OWN = tuple(replace(figure, own=True) for figure in (FIGURE, GAP_FIGURE))
BASIS = Basis(MUSCLES, Settings(own_measurement_error=True), OWN)
CHILD = Patient("P-01", 2018, "female", "cerebral-palsy")
TOXIN = Event("e1", "botulinum-toxin", "2026-03-10", "hamstrings", "left", "as told")


def of(muscle: str, side: Side, r1: int | None, r2: int | None, **changed: object) -> Reading:
    posture = MUSCLES[muscle].posture_words
    one = reading(r1, r2, NEUTRAL, **changed)  # type: ignore[arg-type]
    return replace(one, muscle=muscle, side=side, posture=posture)


FIRST = session(
    of("hamstrings", Side.LEFT, -60, -30),
    of("hamstrings", Side.RIGHT, -60, -20),
    of("soleus", Side.LEFT, -10, 5),
    of("toe-flexors", Side.LEFT, 0, 20),
)
SECOND = session(
    of("hamstrings", Side.LEFT, -55, -30),
    started="2026-04-13T10:00:00+02:00",
)
LAST = session(
    replace(of("hamstrings", Side.LEFT, -32, -28), scale=DEFICIT, r1=32, r2=28),
    of("hamstrings", Side.RIGHT, -60, -40),
    of("soleus", Side.LEFT, -10, 5, quality=3),
    of("elbow-flexors", Side.LEFT, -40, 0),
    started="2026-05-04T14:00:00+02:00",
    examiner="EX",
)


def chart(*sessions: Session, events: tuple[Event, ...] = (TOXIN,)) -> Chart:
    return Chart("c", CHILD, sessions, (), events, ())


def compared(first: str = "", last: str = "", basis: Basis = BASIS) -> Comparison:
    found = compare_dates(chart(FIRST, SECOND, LAST), basis, first, last)
    assert isinstance(found, Comparison)
    return found


def test_without_dates_the_first_and_the_latest_are_compared() -> None:
    found = compared()
    assert (found.before, found.after) == (FIRST, LAST)
    assert compared("2026-04-13").before == SECOND
    assert compared(last="2026-04-13").after == SECOND
    turned = compared("2026-05-04", "2026-04-13")
    assert (turned.before, turned.after) == (SECOND, LAST)


def test_two_sessions_of_one_day() -> None:
    later = replace(FIRST, id="later", started="2026-03-02T15:00:00+01:00")
    chosen = choose_sessions((FIRST, later, LAST), "2026-03-02", "2026-03-02")
    assert chosen == (FIRST, later)
    assert choose_sessions((FIRST, later, LAST), "2026-05-04", "2026-03-02") == (later, LAST)


@pytest.mark.parametrize(
    ("sessions", "first", "last", "what"),
    [
        ((), "", "", "no session"),
        ((FIRST,), "", "", "one session only"),
        ((FIRST, LAST), "2026-05-04", "", "both dates name the session of 04 May 2026"),
        ((FIRST, LAST), "2026-05-05", "", "no session on 2026-05-05"),
        ((FIRST, LAST), "5 May", "", "is not a date"),
    ],
)
def test_when_there_are_not_two_sessions(
    sessions: tuple[Session, ...], first: str, last: str, what: str
) -> None:
    found = choose_sessions(sessions, first, last)
    assert isinstance(found, Problem)
    assert what in found.what


def test_every_station_of_either_session_has_a_row() -> None:
    rows = compared().rows
    assert [(row.muscle, row.side.value, row.change.pattern.id) for row in rows] == [
        ("hamstrings", "left", "catch-later"),
        ("hamstrings", "right", "range-shorter-gap-shrinks"),
        ("soleus", "left", "unchanged"),
        ("toe-flexors", "left", "one-session"),
        ("elbow-flexors", "left", "one-session"),
    ]


def test_the_figure_fits_the_patient_the_raters_and_the_interval() -> None:
    r1 = compared().rows[0].change.r1
    assert (r1.change, r1.verdict) == (28, "larger")
    assert r1.words == "R1 +28 deg: larger than MDC95 13.9 deg"  # exact, so nothing is added
    without = compared(basis=Basis(MUSCLES, Settings(), OWN)).rows[0].change.r1
    assert "MDC95 17.4 deg (whole leg)" in without.words
    other = replace(CHILD, diagnosis="stroke", birth_year=1960)
    found = compare_dates(replace(chart(FIRST, LAST), patient=other), BASIS)
    assert isinstance(found, Comparison)
    assert "MDC95 13.9 deg (children)" in found.rows[0].change.r1.words
    nobody = found.rows[4].change.r1
    assert nobody.verdict == "cannot say"


def test_another_examiner_is_another_rater_and_unfair_to_every_number() -> None:
    found = compare_dates(chart(FIRST, replace(LAST, examiner="QQ")), BASIS)
    assert isinstance(found, Comparison)
    change = found.rows[0].change
    words = "examiner: EX then, QQ now"
    assert all(words in angle.unfair for angle in change.angles)
    assert words in change.quality.unfair
    assert "(whole leg, same rater)" in change.r1.words


def test_the_other_fast_velocity_is_a_pair_and_unfair_to_the_catch() -> None:
    then = session(of("hamstrings", Side.LEFT, -60, -30, fast_velocity="V2"))
    found = compare_dates(chart(then, SECOND), BASIS)
    assert isinstance(found, Comparison)
    (row,) = found.rows
    assert row.change.r1.unfair == ("fast velocity: V2 then, V3 now",)
    assert row.change.r2.unfair == ()
    both = session(
        of("hamstrings", Side.LEFT, -60, -30, fast_velocity="V2"),
        of("hamstrings", Side.LEFT, -70, -30),
    )
    found = compare_dates(chart(both, SECOND), BASIS)
    assert isinstance(found, Comparison)
    assert [(row.velocity, row.change.r1.change) for row in found.rows] == [
        ("V2", None),
        ("V3", 15),
    ]


def test_rows_sort_by_the_most_changed_in_units_of_its_mdc() -> None:
    """28 / 13.859 = 2.02 and 20 / 13.859 = 1.44; rows without a figure or a pair come last."""
    rows = compared().by_size
    assert [row.change.size and round(row.change.size, 2) for row in rows] == [
        2.02,
        1.44,
        0,
        None,
        None,
    ]


def test_treatment_dates_and_toxin_days() -> None:
    found = compared()
    assert found.events == (TOXIN,)
    assert found.rows[0].toxin == (None, 55)
    assert found.bands == {55: "waning"}
    assert [one.words for one in found.rows[0].differences if one.id == "toxin"] == [
        "days since toxin: none on record then, 55 (waning) now"
    ]


def test_the_shortfall_counts_from_the_reference_of_the_age_then_and_now() -> None:
    """Reference of the popliteal angle: see data/reference_ranges.toml; here by difference."""
    change = compared().rows[0].change
    assert change.shortfall.change == change.r2.change == 2
    grown = replace(LAST, id="g", started="2036-05-04T10:00:00+02:00")
    found = compare_dates(chart(FIRST, grown), BASIS)
    assert isinstance(found, Comparison)
    assert found.rows[0].reference


def test_a_muscle_group_that_is_gone_still_compares() -> None:
    muscles = {id_: muscle for id_, muscle in MUSCLES.items() if id_ != "hamstrings"}
    row = compared(basis=Basis(muscles)).rows[0]
    assert (row.name, row.change.r1.change) == ("hamstrings", 28)
    assert row.reference == "no reference: the muscle group is not in the list"


def test_angles_show_in_the_later_scale_and_changes_towards_stretch() -> None:
    """Typed -60 and -30 then; 32 and 28 short of straight now."""
    left, right, *_ = (cells(row) for row in compared().rows)
    assert left == ("Hamstrings Left", "60 > 32", "+28", ">", "30 > 28", "+2", "=", "30>4", "2>2")
    assert right[1:] == ("-60 > -60", "+0", "=", "-20 > -40", "-20", "<", "40>20", "2>2")


def test_the_table_fits_80_columns() -> None:
    assert len(HEADER) == len(WIDTHS)
    assert sum(WIDTHS) + len(WIDTHS) - 1 <= 79
    wide = reading(-135, -120)
    for muscle in MUSCLES:
        one = replace(wide, muscle=muscle, side=Side.RIGHT)
        found = compare_dates(
            chart(session(one), session(one, started=LAST.started, examiner="QQ")), BASIS
        )
        assert isinstance(found, Comparison)
        shown = cells(found.rows[0])
        assert all(len(cell) <= width for cell, width in zip(shown, WIDTHS, strict=True)), shown
        assert "Right" in shown[0]
    assert heading(compared()) == "P-01: 02 Mar 2026 then, 04 May 2026 now"


def test_the_document_is_plain_json_and_says_what_the_rows_say() -> None:
    doc = json.loads(json.dumps(comparison_doc(compared()), allow_nan=False))
    assert (doc["patient"], doc["mdc_level"]) == ("P-01", 95)
    assert (doc["before"]["date"], doc["after"]["date"]) == ("2026-03-02", "2026-05-04")
    first = doc["stations"][0]
    assert first["R1"]["change"] == 28
    assert first["R1"]["mdc"] == 13.9
    assert first["R1"]["in_scale"] == {"before": 60, "after": 32}
    assert first["R1"]["figure"]["fit"] == "exact"
    assert first["R1"]["figure"]["published"] == "SEM 5"
    assert first["toxin_day"] == [None, {"day": 55, "band": "waning"}]
    assert "the gap shrank by" in doc["stations"][1]["pattern"]["warning"]
    soleus = doc["stations"][2]
    assert soleus["quality"] == {"before": 2, "after": 3, "words": "grade 2 to 3", "unfair": []}
    assert "Mackey" in doc["stations"][4]["R1"]["figure"]["line"]
    assert {one["id"] for one in doc["differences"]} == {"time-of-day"}
    assert doc["events"] == [
        {
            "kind": "botulinum-toxin",
            "date": "2026-03-10",
            "muscle": "hamstrings",
            "side": "left",
            "note": "as told",
        }
    ]


def test_what_was_done_to_a_group_is_told_in_its_other_test_position() -> None:
    hip = of("hamstrings-hip-40", Side.LEFT, -60, -30)
    sessions = (session(hip), session(hip, started="2026-04-13T10:00:00+02:00"))
    found = compare_dates(chart(*sessions), BASIS)
    assert isinstance(found, Comparison)
    assert len(event_lines(found, {}, found.rows[0])) == 1
