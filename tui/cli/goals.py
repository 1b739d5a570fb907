"""Goals of a treatment on the command line: added, scored and listed."""

from __future__ import annotations

import secrets
from argparse import Namespace
from collections.abc import Iterator
from datetime import date

from ...core.chart.chart import Chart
from ...core.chart.event import Event
from ...core.chart.events import parse_day
from ...core.chart.goals import (
    Goal,
    goal_numbers,
    goals_by_day,
    goals_of,
    parse_goal,
    parse_score,
    score_day,
    score_event,
    score_words,
    t_words,
    treatment_days,
    treatment_words,
)
from ...core.chart.session import day_words
from ...core.dates import local_now, stamp
from ...core.problem import Problem
from ..terminal.output import USAGE, print_err
from .charts import date_from, open_chart
from .signature import author_from
from .stop import Stop

UNCHANGED = "nothing was changed"


def goal_lines(chart: Chart) -> Iterator[str]:
    """Write the goals of every treatment with their numbers, and its T score."""
    for day, group in goals_by_day(goals_of(chart.events)).items():
        for goal in group:
            when = parse_day(goal.scored)
            attained = f"{goal.attained}, {day_words(when)}" if when else "not scored yet"
            yield f"{treatment_words(day)}, goal {goal.number}: {goal.title}: {attained}"
        if score := t_words(group):
            yield f"{treatment_words(day)}: {score}; 50 is the expected level"


def add(args: Namespace) -> Chart:
    """Add the goal, or the score, of the command line; returns the chart as it is then.

    Raises:
        Stop: when it is not right; nothing is changed then.
        ShelfError: when it could not be stored.
    """
    day = date.fromisoformat(date_from(args.date))
    author = author_from(args.by)
    shelf, chart = open_chart(args)
    if args.goal is not None:
        event = _goal(chart, args.goal, args.weight or "", day)
        stored = f"a goal of the {treatment_words(day)}"
    else:
        goal, score = _score(chart, args.number, args.score, day)
        event = score_event(secrets.token_hex(8), goal.id, score, day)
        stored = f"{score_words(score)}: {goal.text}"
    shelf.add_event(chart.id, event, author, stamp())
    print_err(f"stored: {stored}")
    return shelf.load(chart.id)


def _goal(chart: Chart, text: str, weight: str, day: date) -> Event:
    days = treatment_days(chart.events)
    if day not in days:
        listed = ", ".join(one.isoformat() for one in days) or "none"
        raise Stop(USAGE, f"--date: no treatment on {day}; on record: {listed}; {UNCHANGED}")
    goal = parse_goal(text, weight, secrets.token_hex(8), day)
    if isinstance(goal, list):
        wrong = "; ".join(f"--{one.where}: {one.what}, {one.mend}" for one in goal)
        raise Stop(USAGE, f"{wrong}; {UNCHANGED}")
    return goal


def _score(chart: Chart, number: str, text: str, day: date) -> tuple[Goal, int]:
    """Find the goal of a number, and read its score."""
    goals = goals_of(chart.events)
    goal = next((goal for goal in goals if str(goal.number) == number), None)
    if goal is None:
        struck = number in map(str, goal_numbers(chart.events).values())
        what = f"goal {number} was struck" if struck else f"there is no goal {number!r}"
        numbers = ", ".join(str(goal.number) for goal in goals) or "none"
        raise Stop(USAGE, f"--number: {what}; goals of this chart: {numbers}; {UNCHANGED}")
    score = parse_score(text)
    when = score_day(day, goal.day, local_now().date())
    for name, problem in (("--score", score), ("--date", when)):
        if isinstance(problem, Problem):
            raise Stop(USAGE, f"{name}: {problem.what}: {problem.mend}; {UNCHANGED}")
    assert isinstance(score, int)
    return goal, score
