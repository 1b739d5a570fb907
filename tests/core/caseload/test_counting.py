"""What counts in a caseload, worked by hand on a few patients."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.caseload.caseload import Caseload, caseload_of
from limbscribe.core.caseload.choosing import Choice
from limbscribe.core.caseload.document import caseload_doc
from limbscribe.core.caseload.gathering import Judge, facts_of
from limbscribe.core.caseload.page import render_page
from limbscribe.core.caseload.summary import terms_of
from limbscribe.core.caseload.text import caseload_lines, station_lines
from limbscribe.core.caseload.words import CHANGES
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chain import CONFLICT
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.goals import goal_event, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.config.settings import Settings, parse_settings
from limbscribe.core.tardieu.reading import Flag, Reading, Side
from limbscribe.core.text import width_of
from limbscribe.tui.screens.caseload.view import overview

from tests.support.app import text_of
from tests.support.records import MUSCLES, earlier

DAY = date(2026, 3, 2)
ON = date(2026, 12, 1)


def toxin(day: date, muscle: str = "soleus", side: str = "left") -> Event:
    return Event(f"e{day}{muscle}{side}", "botulinum-toxin", day.isoformat(), muscle, side, "")


def visit(day: date, r1: int | None, r2: int | None, examiner: str = "AB", **more: Any) -> Session:
    """A session with one reading of the left soleus, stretch angles in deg."""
    muscle = MUSCLES[more.pop("muscle", "soleus")]
    scale = muscle.scale("neutral-zero")
    quality = more.pop("quality", 2 if r1 is not None else 0)
    side = more.pop("side", Side.LEFT)
    reading = Reading(
        muscle.id, side, muscle.posture_words, scale, r1=r1, r2=r2, quality=quality, **more
    )
    one = earlier(f"s{day}{examiner}", f"{day}T10:00:00+01:00")
    return replace(one, examiner=examiner, recorder="JT", readings=(reading,))


def days(count: int) -> date:
    return date.fromordinal(DAY.toordinal() + count)


def chart(
    *sessions: Session, events: tuple[Event, ...] = (toxin(DAY),), code: str = "P-01", **more: Any
) -> Chart:
    return Chart(f"id-{code}", Patient(code, **more), sessions, (), events, ())


def added(*charts: Chart, settings: Settings | None = None, **more: Any) -> Caseload:
    settings = settings or Settings()
    choice = more.pop("choice", Choice())
    judge = Judge(Basis(MUSCLES, settings))
    terms = terms_of(settings, MUSCLES, more.pop("on", ON), choice.examiner)
    facts = [facts_of(one, judge) for one in charts]
    return caseload_of(facts, choice, terms, tuple(MUSCLES), **more)


def windows(caseload: Caseload, place: int = 0) -> dict[str, Any]:
    return {w["name"]: w for w in caseload_doc(caseload)["stations"][place]["windows"]}


def test_one_patient_by_hand() -> None:
    found = added(chart(visit(days(-3), -10, 10), visit(days(30), 2, 8), visit(days(100), -9, 9)))
    assert (found.patients, found.sessions, found.cycles) == (1, 3, 1)
    by_name = windows(found)
    assert [w["n"] for w in by_name.values()] == [1, 1, 0, 1]
    assert [w["missed"] for w in by_name.values()] == [0, 0, 1, 0]
    early = by_name["14 to 48 days"]
    assert (early["r1_mean_change"], early["r2_mean_change"]) == (12, -2)
    assert early["gap_mean_change"] == -14
    assert early["r1_low"] is None, "one number has no interval"


def test_what_amendments_disagree_about_makes_no_change() -> None:
    """A comparison tells none either; the visit itself is counted."""
    flag = Flag(CONFLICT, "impossible", "station", "amendments disagree")
    for asked in (0, 1):
        flags: list[tuple[Flag, ...]] = [(), ()]
        flags[asked] = (flag,)
        before, after = (
            visit(days(-3), -10, 10, flags=flags[0]),
            visit(days(30), 2, 40, flags=flags[1]),
        )
        early = windows(added(chart(before, after)))["14 to 48 days"]
        assert (early["n"], early["r1_n"], early["r2_n"], early["gap_n"]) == (1, 0, 0, 0)
        assert (early["larger"], early["within"], early["not_tested"]) == (0, 0, {})


def test_the_day_of_the_treatment_is_before_it() -> None:
    found = windows(added(chart(visit(DAY, -10, 10), visit(days(14), 0, 10))))
    assert found["before"]["n"] == 1
    assert found["14 to 48 days"]["r1_mean_change"] == 10


def test_a_visit_on_the_day_of_the_next_treatment_ends_one_cycle_and_begins_the_other() -> None:
    again = days(100)
    both = (toxin(DAY), toxin(again))
    found = added(
        chart(visit(days(-1), -10, 10), visit(again, -4, 10), visit(days(130), 6, 10), events=both)
    )
    by_name = windows(found)
    assert (found.cycles, by_name["before"]["n"]) == (2, 2)
    assert by_name["84 to 180 days"]["n"] == 1
    assert by_name["84 to 180 days"]["r1_mean_change"] == 6
    assert by_name["14 to 48 days"]["n"] == 1, (
        "day 30 of the second cycle, not day 130 of the first"
    )
    assert by_name["14 to 48 days"]["r1_mean_change"] == 10


def test_who_was_treated_again_before_a_window_did_not_miss_it() -> None:
    found = windows(added(chart(visit(days(-1), -10, 10), events=(toxin(DAY), toxin(days(60))))))
    assert found["84 to 180 days"]["treated_again"] == 1
    assert found["84 to 180 days"]["missed"] == 1, "that of the second cycle"


def test_both_sides_of_a_cycle_that_ended_are_not_missed_together() -> None:
    events = tuple(toxin(day, side=side) for day in (DAY, days(60)) for side in ("left", "right"))
    found = windows(added(chart(events=events), sides_together=True))["84 to 180 days"]
    assert (found["treated_again"], found["missed"]) == (2, 2), "missed are those of the second"


def test_a_window_that_is_not_over_is_not_missed() -> None:
    one = chart(visit(days(-1), -10, 10))
    assert windows(added(one, on=days(48)))["14 to 48 days"]["missed"] == 0
    assert windows(added(one, on=days(49)))["14 to 48 days"]["missed"] == 1


def test_without_anything_before_there_is_no_change() -> None:
    found = windows(added(chart(visit(days(30), 2, 8))))["14 to 48 days"]
    assert (found["n"], found["no_baseline"], found["r1_n"]) == (0, 1, 0)


def test_a_catch_that_is_gone_and_range_that_is_lost() -> None:
    found = windows(added(chart(visit(days(-3), -10, 30), visit(days(30), None, -10))))
    early = found["14 to 48 days"]
    assert (early["catch_gone"], early["range_lost"], early["r1_n"]) == (1, 1, 0)
    assert early["larger"] + early["within"] == 1, "R2 alone has a change"
    assert early["by_chance"] == 0.05


def test_not_tested_is_counted_by_reason() -> None:
    sick = visit(days(30), None, None, quality=None, not_tested="pain")
    found = windows(added(chart(visit(days(-3), -10, 30), sick)))["14 to 48 days"]
    assert (found["not_tested"], found["n"], found["catch_gone"]) == ({"pain": 1}, 1, 0)


def test_another_fast_velocity_has_no_change_of_r1() -> None:
    other = visit(days(30), 5, 12, fast_velocity="V2")
    found = windows(added(chart(visit(days(-3), -10, 10), other)))["14 to 48 days"]
    assert (found["r1_n"], found["gap_n"], found["r2_mean_change"]) == (0, 0, 2)


def test_an_untreated_muscle_group_is_not_there() -> None:
    other = visit(days(30), 5, 12, muscle="gastrocnemius")
    assert [s.muscle for s in added(chart(other)).stations] == ["soleus"]


def test_a_treated_muscle_group_that_nobody_measured_is_missing() -> None:
    found = added(chart(events=(toxin(DAY, "wrist-flexors", "right"),)))
    assert [(s.muscle, s.side) for s in found.stations] == [("wrist-flexors", "right")]
    assert [w.missed for w in found.stations[0].windows] == [1, 1, 1, 1]


def test_sides_apart_and_together() -> None:
    events = (toxin(DAY, side="left"), toxin(DAY, side="right"))
    one = chart(
        visit(days(-3), -10, 10),
        visit(days(-3), -20, 10, examiner="CD", side=Side.RIGHT),
        visit(days(30), 0, 10),
        visit(days(30), 0, 10, examiner="CD", side=Side.RIGHT),
        events=events,
    )
    apart = added(one)
    assert [(s.side, s.cycles) for s in apart.stations] == [("left", 1), ("right", 1)]
    together = added(one, sides_together=True)
    assert [(s.side, s.cycles) for s in together.stations] == [("", 1)]
    early = windows(together)["14 to 48 days"]
    assert (early["n"], early["r1_mean_change"]) == (2, 15)
    assert "side" not in caseload_doc(together)["stations"][0]
    first = together.composite[1]["r1"]
    assert (first.n, first.mean) == (1, 15), "the composite has one number a cycle"


def test_the_mean_of_two_windows_needs_both() -> None:
    names = ("14 to 48 days", "49 to 83 days")
    whole = chart(visit(days(-3), 0, 20), visit(days(20), 10, 22), visit(days(60), 4, 20))
    half = chart(visit(days(-3), 0, 20), visit(days(20), 30, 20), code="P-02")
    doc = caseload_doc(added(whole, half, mean_of=names))["stations"][0]["mean_of"]
    assert doc["windows"] == list(names)
    assert (doc["r1_n"], doc["r1_mean_change"], doc["r2_mean_change"]) == (1, 7, 1)


@pytest.mark.parametrize(
    ("choice", "patients"),
    [
        (Choice(), 3),
        (Choice(diagnosis="stroke"), 1),
        (Choice(age_from=18), 1),
        (Choice(age_to=17), 1),
        (Choice(age_from=17, age_to=17), 1),
        (Choice(muscle="soleus"), 2),
        (Choice(muscle="wrist-flexors"), 0),
        (Choice(side="right"), 0),
        (Choice(since=days(1)), 0),
        (Choice(since=DAY), 2),
        (Choice(until=days(-1)), 0),
        (Choice(kind="surgery"), 3),
        (Choice(kind="surgery", muscle="soleus"), 0),
    ],
)
def test_who_is_chosen(choice: Choice, patients: int) -> None:
    adult = chart(visit(days(-1), 0, 20), birth_year=1960, diagnosis="stroke")
    child = chart(visit(days(-1), 0, 20), code="P-02", birth_year=2009)
    nobody = chart(visit(days(-1), 0, 20), code="P-03", events=())
    assert added(adult, child, nobody, choice=choice).patients == patients


def test_only_what_one_examiner_measured_after_the_treatment() -> None:
    one = chart(visit(days(-3), 0, 20), visit(days(30), 9, 20, examiner="CD"))
    found = added(one, choice=Choice(examiner="CD"))
    assert windows(found)["14 to 48 days"]["n"] == 1
    assert found.sessions == 1
    none = windows(added(one, choice=Choice(examiner="AB")))["14 to 48 days"]
    assert (none["n"], none["missed"]) == (0, 0), "it was not missed, another one measured"


def test_how_long_r1_stays_beyond_error() -> None:
    takes = (visit(days(-3), -30, 20), visit(days(30), 5, 20), visit(days(80), 4, 20))
    back = caseload_doc(added(chart(*takes, visit(days(120), -29, 20))))["stations"][0]
    assert back["beyond_error"] == {"n": 1, "ended": 1, "median_days": 120}
    still = caseload_doc(added(chart(*takes)))["stations"][0]
    assert still["beyond_error"] == {"n": 1, "ended": 0, "median_days": None}
    never = caseload_doc(added(chart(visit(days(-3), -30, 20), visit(days(30), -30, 20))))
    assert never["stations"][0]["beyond_error"]["n"] == 0


def test_a_catch_that_is_gone_starts_the_clock_and_only_later_counts() -> None:
    def beyond(*after: Session, muscle: str = "soleus") -> dict[str, Any]:
        base = visit(days(-3), -23, 30, muscle=muscle)
        one = chart(base, *after, events=(toxin(DAY, muscle),))
        return caseload_doc(added(one))["stations"][0]["beyond_error"]

    gone, back = visit(days(35), None, 30), visit(days(72), -25, 30)
    assert beyond(gone, back) == {"n": 1, "ended": 1, "median_days": 72}
    sick = visit(days(100), None, None, quality=None, not_tested="pain")
    assert beyond(gone, sick) == {"n": 1, "ended": 0, "median_days": None}
    earlier_ = visit(days(35), -60, 30)
    assert beyond(earlier_)["n"] == 0, "a catch earlier beyond error is no effect that wears off"
    assert beyond(gone, visit(days(72), -60, 30))["ended"] == 1
    # No figure of R1 in degrees was found for the fingers, so nothing could ever stop the clock.
    fingers = (visit(days(35), None, 30, muscle="finger-flexors"),)
    fingers += (visit(days(72), -25, 30, muscle="finger-flexors"),)
    assert beyond(*fingers, muscle="finger-flexors")["n"] == 0


def test_the_session_of_the_examiner_asked_for_counts_however_near_another_one_is() -> None:
    before, other = visit(days(-3), 0, 20), visit(days(31), 2, 20)
    own = visit(days(33), 9, 20, examiner="ef ")
    found = windows(added(chart(before, other, own), choice=Choice(examiner="EF")))
    assert (found["14 to 48 days"]["n"], found["14 to 48 days"]["missed"]) == (1, 0)
    assert found["14 to 48 days"]["r1_mean_change"] == 9
    assert windows(added(chart(before, other, own)))["14 to 48 days"]["r1_mean_change"] == 2


def test_each_change_has_its_own_n_and_columns_never_run_into_each_other() -> None:
    people = [
        chart(visit(days(-3), 0, 20), visit(days(30), r1, 20 + r2), code=f"P-{n:02d}")
        for n, (r1, r2) in enumerate([(0, 0), (60, 40), (None, 5)])
    ]
    found = added(*people)
    lines = list(caseload_lines(found, MUSCLES))
    assert any(line.split()[-6:] == ["+30", "(-351", "to", "411)", "2", "+30"] for line in lines)
    assert any(line.split()[-6:] == ["+15", "(-39", "to", "69)", "3", "+5"] for line in lines)
    assert max(map(len, lines)) <= 80
    assert "R1 and gap change only where there was a catch both times" in CHANGES
    assert '+30 (-351 to 411)</td><td class="number">2</td>' in render_page(found, MUSCLES, "0")
    for width in (40, 60, 80, 120):
        text = text_of(overview(found, MUSCLES, ("r1", 0), width, 9))
        assert " +30 (-351 to 411) 2" in text[-1] or width == 40


def test_windows_of_wide_letters_push_no_column() -> None:
    found = added(chart(visit(days(-3), 0, 20), visit(days(30), 9, 20)))
    [station] = found.stations
    windows = station.windows
    wide = [replace(one, window=replace(one.window, name="治療後 十四日")) for one in windows]
    there, here = (
        next(line for line in station_lines(one, found, MUSCLES) if "+9 " in line)
        for one in (station, replace(station, windows=tuple(wide)))
    )
    assert width_of(here[: here.index("+9 ")]) == there.index("+9 ")


def test_goals_of_a_cycle() -> None:
    events = (
        toxin(DAY),
        goal_event("g1", "a", DAY),
        goal_event("g2", "b", DAY),
        score_event("s1", "g1", 1, days(40)),
        score_event("s2", "g2", 1, days(40)),
    )
    goals = caseload_doc(added(chart(events=events)))["goals"]
    assert (goals["cycles"], goals["goals"], goals["scored"], goals["attained"]) == (1, 2, 2, 2)
    # two goals at +1, equal weights: 62.4035, Kiresuk and Sherman 1968
    assert goals["t_mean"] == pytest.approx(62.4035, abs=1e-4)
    later = (*events, toxin(days(30)))
    assert caseload_doc(added(chart(events=later)))["goals"]["scored"] == 0, (
        "a score after the next treatment is not of this one"
    )


def test_a_rule_with_goals_and_figures_and_a_normal_maximum() -> None:
    text = (
        'cycle_rule = "goal attained and R2 not shorter than its figure"\n'
        "[normal_maximum]\nsoleus = 100\n"
    )
    settings = parse_settings(text, Path("c.toml"), MUSCLES)
    assert settings.problems == ()
    events = (toxin(DAY), goal_event("g1", "a", DAY), score_event("s1", "g1", 0, days(20)))
    one = chart(visit(days(-3), -10, 10), visit(days(30), 0, 12), events=events)
    early = windows(added(one, settings=settings))["14 to 48 days"]
    assert (early["rule_met"], early["rule_known"]) == (1, 1)
    least = MUSCLES["soleus"].scale("minimal-stretch").stretch(0)
    assert early["shortening"]["mean"] == pytest.approx((100 - (12 - least)) / 100, abs=1e-4)
    plain = windows(added(one))["14 to 48 days"]
    assert "rule_met" not in plain
    assert "shortening" not in plain


def test_how_the_record_is_kept() -> None:
    one = chart(visit(days(-3), -10, 12), visit(days(30), 3, 12))
    doc = caseload_doc(added(one, opened=[("P-01", "XY"), ("P-99", "XY")]))
    assert [r["recorder"] for r in doc["recorders"]] == ["JT", "XY"]
    kept = doc["recorders"][0]
    assert (kept["sessions"], kept["readings"], kept["round_share"]) == (2, 2, 0.25)
    assert doc["recorders"][1]["open_sessions"] == 1
