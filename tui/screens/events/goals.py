"""A goal and its score as they are typed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ....core.chart.event import Event
from ....core.chart.goals import (
    LEVELS,
    Goal,
    parse_goal,
    parse_score,
    score_day,
    score_event,
    score_words,
)
from ....core.dates import HOW, typed_day
from ....core.tardieu.reading import MAX_TEXT
from ...kit.form import FormField, FormState, Problems
from ...kit.signature import author_problems, problems_in
from .model import author_field

LEVEL_HINT = f"{', '.join(score_words(score) for score in LEVELS)}."


def goal_form(day: date, author: str) -> FormState:
    """The form for one more goal of the treatment of a day."""

    def check(values: Mapping[str, str]) -> Problems:
        goal = parse_goal(values["goal"], values["weight"], "", day)
        wrong = {one.where: one for one in goal} if isinstance(goal, list) else {}
        return wrong | author_problems(values)

    goal = "What is hoped for, in a few words, no names."
    weight = "Beside the other goals of this treatment, as 2. Empty: all count alike."
    return FormState(
        (
            FormField("goal", "Goal", goal, longest=MAX_TEXT, needed=True),
            FormField("weight", "Weight", weight, longest=6),
            author_field(author),
        ),
        check=check,
    )


def goal_of(values: Mapping[str, str], day: date, id: str) -> Event:
    """The goal that checked values make."""
    goal = parse_goal(values["goal"], values["weight"], id, day)
    assert isinstance(goal, Event)
    return goal


def score_form(goal: Goal, today: date, author: str) -> FormState:
    """The form for how far a goal was reached."""

    def check(values: Mapping[str, str]) -> Problems:
        day = typed_day(values["date"], today)
        if isinstance(day, date):
            day = score_day(day, goal.day, today)
        return author_problems(values) | problems_in(score=parse_score(values["score"]), date=day)

    now = today.isoformat()
    return FormState(
        (
            FormField("score", "Attained", LEVEL_HINT, longest=2, accepts="+-012", needed=True),
            FormField("date", "Looked at on", f"{HOW}.", "text", now, "today", needed=True),
            author_field(author),
        ),
        check=check,
    )


def score_of_form(values: Mapping[str, str], goal: Goal, today: date, id: str) -> Event:
    """The score that checked values make."""
    score, day = parse_score(values["score"]), typed_day(values["date"], today)
    assert isinstance(score, int)
    assert isinstance(day, date)
    return score_event(id, goal.id, score, day)
