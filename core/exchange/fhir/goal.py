"""Goals of a treatment as FHIR R4 resources; see bundle.py.

Each score of a goal is an Observation, and the goal is a Goal that names them as its outcome.
The record says no more of the life of a goal than that it was set, so it is active, from the day
of its treatment. Whether it was achieved is said in HL7's code system: "achieved" is a goal that
was met, the expected level or more; "not-achieved" is any other that was scored, with progress or
without. A weight has no element in R4 and is a note.

A goal or score that was struck stays in, as entered-in-error with the reason, and so does the
score of a goal that was struck.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...chart.chart import Chart
from ...chart.event import Event
from ...chart.events import GOAL, GOAL_SCORE, amount_words, day_of, struck
from ...chart.goals import Goal, goal_texts, goals_of, score_of, score_words
from ...chart.strict_json import Json
from .codes import ABSENT, ACHIEVEMENT, coded, concept, standard
from .event import has_passed, last_signed
from .station import text


def goals_of_chart(chart: Chart, outcome: Callable[[str], Json]) -> Iterator[tuple[Event, Json]]:
    """Yield every score, and then every goal, with its resource without id and subject.

    Args:
        chart: the chart.
        outcome: builds the reference to the Observation of a score, by the id of its event.
    """
    reasons, texts = struck(chart.events), goal_texts(chart.events)
    last = last_signed(chart)
    scores: dict[str, list[str]] = {}
    for event in chart.events:
        if event.kind != GOAL_SCORE:
            continue
        goal = event.note.partition(" ")[0]
        reason = reasons.get(event.id, reasons.get(goal))
        if reason is None:
            scores.setdefault(goal, []).append(event.id)
        resource = _score(event, texts.get(goal, ""), has_passed(event, last))
        yield event, _noted(resource, "status", reason)
    found = {goal.id: goal for goal in goals_of(chart.events)}
    for event in chart.events:
        if event.kind == GOAL:
            outcomes = [outcome(id_) for id_ in scores.get(event.id, ())]
            resource = _goal(event, found.get(event.id), outcomes)
            yield event, _noted(resource, "lifecycleStatus", reasons.get(event.id))


def _score(event: Event, goal: str, done: bool) -> Json:
    found = score_of(event)
    unknown = concept(standard(ABSENT, "unknown", "Unknown"))
    words = f"Goal: {text(goal)}" if text(goal) else "Goal: not in this chart"
    stored = "" if found else f"\nScore as it was stored: {event.note}"
    return {
        "resourceType": "Observation",
        "status": "final" if done else "unknown",
        "code": coded("goal-score"),
        **({"effectiveDateTime": event.date} if day_of(event) else {}),
        **({"valueInteger": found[1]} if found else {"dataAbsentReason": unknown}),
        "note": [{"text": text(words + stored)}],
    }


def _goal(event: Event, goal: Goal | None, outcomes: list[Json]) -> Json:
    resource: Json = {
        "resourceType": "Goal",
        "lifecycleStatus": "active",
        "description": {"text": text(event.note) or "not stated"},
    }
    if day_of(event):
        resource["startDate"] = event.date
    if goal and goal.score is not None:
        met = ("achieved", "Achieved") if goal.score >= 0 else ("not-achieved", "Not Achieved")
        status = concept(standard(ACHIEVEMENT, *met), score_words(goal.score))
        resource |= {"achievementStatus": status, "statusDate": goal.scored}
    if outcomes:
        resource["outcomeReference"] = outcomes
    if event.weight is not None:
        weight = f"Weight beside the other goals of this treatment: {amount_words(event.weight)}"
        resource["note"] = [{"text": weight}]
    return resource


def _noted(resource: Json, status: str, reason: str | None) -> Json:
    """Say of something struck that it was, and why."""
    if reason is None:
        return resource
    note = {"text": text(f"Struck: {reason or 'no reason stated'}")}
    return {**resource, status: "entered-in-error", "note": [*resource.get("note", ()), note]}
