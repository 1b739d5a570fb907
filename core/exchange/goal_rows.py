"""Goals as rows of the events CSV: a row a goal, and one more for each further day it was scored.

The date of such a row is that of the treatment, its note is the goal. Three columns are for goals
alone, and are there only in a file that has one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date

from ..chart.event import Event
from ..chart.events import FIRST_YEAR, GIVEN, GOAL, amount_words, parse_day, unstruck
from ..chart.goals import parse_goal, parse_score, score_day, score_event, score_of
from ..problem import Problem

COLUMNS = ("weight", "score", "scored")
"""Of a goal: beside the other goals of the treatment; -2 to 2; the day of that, YYYY-MM-DD."""

_NOT_OF_GOAL = ("muscle", "side", *GIVEN)

GoalRow = tuple[Event, Event | None]
"""A goal, and a score of it that names it by its id."""


def read_goal(
    fields: Mapping[str, str], new_id: Callable[[], str], where: str, today: date
) -> GoalRow | list[Problem]:
    """Read a row of a goal, or list everything that is wrong with it.

    Args:
        fields: texts by column; missing means "".
        new_id: makes an id for the goal and one for its score.
        where: file and line, for the problems.
        today: the day of today; nobody has scored a goal later.
    """
    cells = {name: fields.get(name, "").strip() for name in ("date", "note", *COLUMNS)}
    problems = [
        Problem(name, "a goal has none", "leave it empty")
        for name in _NOT_OF_GOAL
        if fields.get(name, "").strip()
    ]
    day = parse_day(cells["date"])
    if day is None or day.year < FIRST_YEAR:
        problems.append(_no_date("date", cells["date"]))
    goal = parse_goal(cells["note"], cells["weight"], new_id(), day or date.min)
    if isinstance(goal, list):
        problems += goal
    scored = _score(cells, day, today)
    if isinstance(scored, list):
        problems += scored
    if problems or isinstance(goal, list) or isinstance(scored, list):
        names = {"goal": "note"}
        return [
            Problem(f"{where}, {names.get(one.where, one.where)}", one.what, one.mend)
            for one in problems
        ]
    return goal, score_event(new_id(), goal.id, *scored) if scored else None


def _score(
    cells: Mapping[str, str], set_on: date | None, today: date
) -> tuple[int, date] | list[Problem] | None:
    """Read a score and its day, None where the goal was not scored."""
    if not cells["score"] and not cells["scored"]:
        return None
    # A spreadsheet takes the sign off +1.
    score = parse_score(f"+{cells['score']}" if cells["score"] in ("1", "2") else cells["score"])
    day = parse_day(cells["scored"]) or _no_date("scored", cells["scored"])
    if isinstance(day, date):
        day = score_day(day, set_on, today)
    if isinstance(day, Problem):
        day = Problem("scored", day.what, day.mend)
    if isinstance(score, Problem) or isinstance(day, Problem):
        return [one for one in (score, day) if isinstance(one, Problem)]
    return score, day


def _no_date(name: str, text: str) -> Problem:
    return Problem(name, f"{text!r} is not a date", "write it as 2026-11-25")


def goal_rows(events: Iterable[Event]) -> Iterator[GoalRow]:
    """Yield the goals that hold, each with the last score of every day on which it was scored."""
    holding = unstruck(events)
    scores: dict[str, dict[str, Event]] = {}
    for event in holding:
        if found := score_of(event):
            scores.setdefault(found[0], {})[event.date] = event
    for event in holding:
        if event.kind == GOAL:
            days = scores.get(event.id, {})
            for day in sorted(filter(parse_day, days)) or [""]:
                yield event, days.get(day)


def goal_cells(goal: Event, score: Event | None) -> dict[str, str]:
    """Write the cells that only a goal has."""
    found = score_of(score) if score else None
    day = score.date if score else ""
    number = str(found[1]) if found else ""
    return dict(zip(COLUMNS, (amount_words(goal.weight), number, day), strict=True))
