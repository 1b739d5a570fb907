"""Goals and their scores in the FHIR bundle: valid, linked, and struck ones told as such."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.R4B.goal import Goal as GoalModel
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.goals import goal_event, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.fhir.codes import ABSENT, ACHIEVEMENT, CODES, RESOURCE
from limbscribe.core.shelf import Shelf

from tests.support.fhir import faults, made, of, posted
from tests.support.random_sessions import TEXTS

Json = dict[str, Any]


@pytest.fixture
def bundle(shelf: Shelf) -> Json:
    return made(shelf)


def goal(bundle: Json, words: str) -> Json:
    [found] = [each for each in of(bundle, "Goal") if each["description"]["text"] == words]
    return found


def scores(bundle: Json, of_goal: str = "") -> list[Json]:
    """The Observations of scores, of one goal or of all."""
    found = [o for o in of(bundle, "Observation") if o["code"]["coding"][0]["code"] == "goal-score"]
    return [o for o in found if of_goal in o["note"][0]["text"]]


def test_a_goal_says_what_is_hoped_for_and_what_became_of_it(bundle: Json) -> None:
    """achieved: "the goal has been met" (HL7, goal-achievement, R4 4.0.1); +1 is above it."""
    found = goal(bundle, "heel on the floor")
    [patient] = [p for p in of(bundle, "Patient") if p["identifier"][0]["value"] == "P-01"]
    first, later = scores(bundle, "heel on the floor")
    met = {"system": ACHIEVEMENT, "code": "achieved", "display": "Achieved"}
    assert found == {
        "resourceType": "Goal",
        "id": found["id"],
        "identifier": [{"system": RESOURCE, "value": found["id"]}],
        "lifecycleStatus": "active",
        "achievementStatus": {"coding": [met], "text": "+1 (more than expected)"},
        "description": {"text": "heel on the floor"},
        "subject": {"reference": f"urn:uuid:{patient['id']}"},
        "startDate": "2026-03-09",
        "statusDate": "2026-06-02",
        "outcomeReference": [
            {"reference": f"urn:uuid:{first['id']}"},
            {"reference": f"urn:uuid:{later['id']}"},
        ],
        "note": [{"text": "Weight beside the other goals of this treatment: 2.5"}],
    }
    code = {"system": CODES, "code": "goal-score", "display": "How far a goal was reached"}
    assert first == {
        "resourceType": "Observation",
        "id": first["id"],
        "identifier": [{"system": RESOURCE, "value": first["id"]}],
        "status": "final",
        "code": {"coding": [code]},
        "subject": {"reference": f"urn:uuid:{patient['id']}"},
        "effectiveDateTime": "2026-04-07",
        "valueInteger": -1,
        "note": [{"text": "Goal: heel on the floor"}],
    }
    assert (later["status"], later["valueInteger"]) == ("unknown", 1), "behind the last signature"


def test_a_goal_whose_only_score_was_struck_has_none(bundle: Json) -> None:
    found = goal(bundle, "shoe on without help")
    assert not found.keys() & {"achievementStatus", "statusDate", "outcomeReference", "note"}
    [slip] = scores(bundle, "shoe on")
    assert (slip["status"], slip["valueInteger"]) == ("entered-in-error", -2)
    assert slip["note"][1] == {"text": "Struck: typed twice"}


def test_a_struck_goal_is_entered_in_error_and_so_is_its_score(bundle: Json) -> None:
    found = goal(bundle, "walk further")
    assert found["lifecycleStatus"] == "entered-in-error"
    assert found["note"] == [{"text": "Struck: not agreed"}]
    assert not found.keys() & {"achievementStatus", "outcomeReference"}
    [score] = scores(bundle, "walk further")
    assert score["status"] == "entered-in-error"
    assert {"text": "Struck: not agreed"} in score["note"]


@pytest.mark.parametrize(
    ("score", "code"),
    [(-2, "not-achieved"), (-1, "not-achieved"), (0, "achieved"), (1, "achieved"), (2, "achieved")],
)
def test_the_expected_level_is_a_goal_that_was_met(tmp_path: Path, score: int, code: str) -> None:
    shelf, day = Shelf(tmp_path / "made"), date(2026, 3, 2)
    chart = shelf.create(Patient("P-01"))
    shelf.add_events(chart, [goal_event("g", "heel", day), score_event("s", "g", score, day)])
    [found] = of(made(shelf), "Goal")
    assert found["achievementStatus"]["coding"][0]["code"] == code
    [scored] = scores(made(shelf))
    assert scored["valueInteger"] == score


def test_the_transaction_has_the_same_goals_with_references_of_a_server(shelf: Shelf) -> None:
    for one in of(posted(shelf), "Goal"):
        assert one["subject"]["reference"].startswith("Patient/")
        for outcome in one.get("outcomeReference", ()):
            assert outcome["reference"].startswith("Observation/")


def test_a_goal_that_is_struck_later_keeps_its_id(shelf: Shelf, bundle: Json) -> None:
    from limbscribe.core.chart.events import strike

    chart_id = shelf.find("P-01") or ""
    [event] = [e for e in shelf.load(chart_id).events if e.id == "made-g1"]
    shelf.add_event(chart_id, strike(event, "made-x9", "typed for another"))
    before, after = goal(bundle, "heel on the floor"), goal(made(shelf), "heel on the floor")
    assert before["id"] == after["id"]
    assert after["lifecycleStatus"] == "entered-in-error"


def test_an_erased_patient_takes_the_goals_along(shelf: Shelf) -> None:
    shelf.erase("P-01", "RC", "2026-06-30T10:00:00+02:00")
    assert of(made(shelf), "Goal") == []


def test_goals_as_no_form_would_take_them_are_still_valid(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "made")
    chart = shelf.create(Patient("P-01"))
    bad = ("", " ", "a\x1b[2J\u202e", "\ud800 x", *TEXTS[:10])
    for n, words in enumerate(bad):
        shelf.add_event(chart, Event(f"g{n}", "goal", words, words, words, words, weight=0.5))
        shelf.add_event(chart, Event(f"s{n}", "goal-score", words, "", "", f"g{n} {words}"))
        shelf.add_event(chart, Event(f"t{n}", "goal-score", words, "", "", words))
    bundle = made(shelf)
    goals, found = of(bundle, "Goal"), scores(bundle)
    assert (len(goals), len(found)) == (len(bad), 2 * len(bad))
    assert not any(each.keys() & {"startDate", "achievementStatus"} for each in goals)
    unknown = {"system": ABSENT, "code": "unknown", "display": "Unknown"}
    assert all(each["dataAbsentReason"] == {"coding": [unknown]} for each in found)
    assert any("Score as it was stored: g2 a\\u001b" in o["note"][0]["text"] for o in found)


def test_the_model_and_the_checks_can_fail(bundle: Json) -> None:
    found = goal(bundle, "heel on the floor")
    with pytest.raises(ValueError, match="description"):
        GoalModel.model_validate({k: v for k, v in found.items() if k != "description"})
    found["lifecycleStatus"] = "done"
    found["achievementStatus"]["coding"][0]["code"] = "nearly"
    assert {"status done", "achievement nearly"} <= set(faults(bundle))
