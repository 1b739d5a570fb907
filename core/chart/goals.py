"""Goals of a treatment: what was hoped for, and how far it was reached.

A goal is an event on the day of the treatment; how far it was reached is a later event that
names it. Both are kept as every event is: never changed, struck when wrong.

The T score is that of Kiresuk and Sherman, Community Ment Health J 1968;4(6):443-453, doi
10.1007/BF01530764, with their correlation of 0.3 between goals; formula seen in the source of
two statistics packages and an online calculator, which agree.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from ..language import N_, day_words, decimal, gettext, ngettext
from ..problem import Problem
from ..tardieu.reading import MAX_TEXT
from ..text import hidden_character
from .event import Event, Json
from .events import (
    GOAL,
    GOAL_SCORE,
    NEXT_DATE,
    amount_words,
    day_of,
    standing,
    struck,
    unstruck,
)

LEVELS = {
    -2: N_("much less than expected"),
    -1: N_("less than expected"),
    0: N_("expected level"),
    1: N_("more than expected"),
    2: N_("much more than expected"),
}
"""How far a goal was reached -> in words; the five levels are those of Kiresuk and Sherman."""

SCORES = "-2, -1, 0, +1 or +2"
"""What can be typed as a score."""

_SCORE = re.compile(r"0|[+-][12]", re.ASCII)
_WEIGHT = re.compile(r"[0-9]{1,3}([.,][0-9]{1,2})?", re.ASCII)

MOST_WEIGHT = 1000
"""A larger one comes from no form, and could make the T score overflow."""

T_SOURCE = "Kiresuk and Sherman, Community Ment Health J 1968;4(6):443-453"

CORRELATION = 0.3
"""Between the goals of one person, as Kiresuk and Sherman assume it."""


@dataclass(frozen=True, slots=True)
class Goal:
    """A goal and what became of it.

    Attributes:
        id: of its event.
        text: as typed.
        weight: beside the other goals; None when none was typed.
        day: of the treatment it belongs to; None when what is stored is not a date.
        score: -2 to 2, None while it was not scored.
        scored: YYYY-MM-DD, "" while it was not scored.
        number: from 1 among all goals of the chart, struck ones counted, so that it stays.
    """

    id: str
    text: str
    weight: float | None
    day: date | None
    score: int | None = None
    scored: str = ""
    number: int = 0

    @property
    def title(self) -> str:
        """The goal with its weight, if it has one."""
        if self.weight is None:
            return self.text
        weight = decimal(amount_words(self.weight))
        return gettext("{goal}, weight {weight}").format(goal=self.text, weight=weight)

    @property
    def attained(self) -> str:
        """How far it was reached, "" while it was not scored."""
        return "" if self.score is None else score_words(self.score)


def score_words(score: int) -> str:
    """Write how far a goal was reached: number and level."""
    return f"{score:+d} ({gettext(LEVELS[score])})" if score else f"0 ({gettext(LEVELS[0])})"


def goal_event(id: str, text: str, day: date, weight: float | None = None) -> Event:
    """Make the event that sets a goal.

    Args:
        id: for the new event.
        text: as typed.
        day: of the treatment it belongs to.
        weight: beside the other goals, more than 0; None for all alike.
    """
    return Event(id, GOAL, day.isoformat(), "", "", text.strip(), weight=weight)


def score_event(id: str, goal: str, score: int, day: date) -> Event:
    """Make the event that says how far a goal was reached.

    Args:
        id: for the new event.
        goal: id of the goal's event.
        score: -2 to 2.
        day: when it was looked at.
    """
    return Event(id, GOAL_SCORE, day.isoformat(), "", "", f"{goal} {score}")


def goals_of(events: Iterable[Event], until: date | None = None) -> tuple[Goal, ...]:
    """List the goals that hold, in the order in which they were written.

    Of several scores of one goal the latest by date counts, and of one day the last written.

    Args:
        events: of the chart.
        until: scores of later days are left out; None for none.
    """
    events = tuple(events)
    holding = unstruck(events)
    scores: dict[str, tuple[int, str]] = {}
    for event in holding:
        found = score_of(event)
        day = day_of(event)
        if found and day and (until is None or day <= until):
            goal, score = found
            if event.date >= scores.get(goal, (0, ""))[1]:
                scores[goal] = (score, event.date)
    numbers = goal_numbers(events)
    return tuple(
        Goal(e.id, e.note, e.weight, day_of(e), *scores.get(e.id, (None, "")), numbers[e.id])
        for e in holding
        if e.kind == GOAL
    )


def goal_numbers(events: Iterable[Event]) -> dict[str, int]:
    """Number all goals by their ids from 1 in the order in which they were written."""
    ids = dict.fromkeys(event.id for event in events if event.kind == GOAL)
    return {id_: number for number, id_ in enumerate(ids, 1)}


def goals_by_day(goals: Iterable[Goal]) -> dict[date | None, list[Goal]]:
    """Group goals by the treatment they belong to, the earliest first; without a day last."""
    groups: dict[date | None, list[Goal]] = {}
    for goal in sorted(goals, key=lambda goal: goal.day or date.max):
        groups.setdefault(goal.day, []).append(goal)
    return groups


def treatment_days(events: Iterable[Event]) -> tuple[date, ...]:
    """List the days on which something was done, each once: those a goal can belong to."""
    done = (event for event in standing(events) if event.kind != NEXT_DATE)
    return tuple(sorted({day for event in done if (day := day_of(event))}))


def readable(event: Event, texts: Mapping[str, str]) -> Event:
    """The event, a score among them, with a note that can be read.

    Args:
        event: the event.
        texts: texts of the goals by their ids, see goal_texts().
    """
    found = score_of(event)
    if event.kind != GOAL_SCORE:
        return event
    if found is None:
        return replace(event, note=f"cannot be read: {event.note}")
    goal, score = found
    text = texts.get(goal, "a goal that is not in this chart")
    return replace(event, note=f"{score_words(score)}: {text}")


def goal_texts(events: Iterable[Event]) -> dict[str, str]:
    """List the texts of all goals by their ids, of struck ones too."""
    return {event.id: event.note for event in events if event.kind == GOAL}


def goals_doc(events: Iterable[Event]) -> Json:
    """Write goals and T scores as JSON documents."""
    goals = goals_of(events)
    return {
        "goals": [
            {
                "number": goal.number,
                "date": goal.day.isoformat() if goal.day else None,
                "text": goal.text,
                "weight": goal.weight,
                "score": goal.score,
                "scored": goal.scored or None,
            }
            for goal in goals
        ],
        "t_scores": [
            {
                "date": day.isoformat() if day else None,
                "t_score": round(score, 4),
                "goals_scored": sum(goal.score is not None for goal in group),
                "goals": len(group),
            }
            for day, group in goals_by_day(goals).items()
            if (score := t_score(group)) is not None
        ],
    }


def parse_goal(text: str, weight: str, id: str, day: date) -> Event | list[Problem]:
    """Read a goal as typed, or list what is wrong with it, under "goal" and "weight".

    Args:
        text: of the goal.
        weight: beside the other goals, "" for none.
        id: for the new event.
        day: of the treatment it belongs to.
    """
    text, weight = text.strip(), weight.strip().replace(",", ".")
    problems: list[Problem] = []
    if not text:
        problems.append(Problem("goal", "it is missing", "say in a few words what is hoped for"))
    elif len(text) > MAX_TEXT:
        problems.append(Problem("goal", f"{len(text)} characters", f"at most {MAX_TEXT}"))
    elif hidden := hidden_character(text):
        problems.append(Problem("goal", f"it has a hidden character, {hidden}", "type it again"))
    if weight and not (_WEIGHT.fullmatch(weight) and float(weight)):
        problems.append(Problem("weight", f"{weight!r} is no weight", "a number above 0, as 2"))
    return problems or goal_event(id, text, day, float(weight) if weight else None)


def parse_score(text: str) -> int | Problem:
    """Read how far a goal was reached as typed; a sign is needed but for 0."""
    text = text.strip()
    if _SCORE.fullmatch(text):
        return int(text)
    what = f"{text!r} is no score" if text else "the score is missing"
    return Problem("score", what, SCORES)


def score_day(day: date, set_on: date | None, today: date) -> date | Problem:
    """Refuse to score a goal on a day on which nobody can have looked at it.

    Args:
        day: when it was looked at.
        set_on: day of the treatment it belongs to, None when that is not known.
        today: the day of today.
    """
    if day > today:
        return Problem("date", "this day is in the future", "check it")
    if set_on and day < set_on:
        what = f"the goal was set later, on {day_words(set_on)}"
        return Problem("date", what, "check day, month and year")
    return day


def new_events(
    existing: Iterable[Event], incoming: Iterable[tuple[Event, Event | None]]
) -> list[tuple[Event, ...]]:
    """List for each incoming event, and the score of it if it is a goal, what is not there yet.

    What was struck counts as there, and does not come back.

    Args:
        existing: of the chart.
        incoming: with ids of their own; a score names the goal beside it.
    """
    existing = tuple(existing)
    gone = struck(existing)
    ids = {replace(event, id=""): event.id for event in (*existing, *unstruck(existing))}
    found: list[tuple[Event, ...]] = []

    def added(event: Event) -> tuple[Event, ...]:
        content = replace(event, id="")
        new = () if content in ids else (event,)
        ids.setdefault(content, event.id)
        return new

    for event, score in incoming:
        new = added(event)
        goal = ids[replace(event, id="")]
        scored = score_of(score) if score and goal not in gone else None
        if score and scored:
            new += added(replace(score, note=f"{goal} {scored[1]}"))
        found.append(new)
    return found


def score_of(event: Event) -> tuple[str, int] | None:
    """Read which goal was scored, by its id, and how; None for every other event."""
    if event.kind != GOAL_SCORE:
        return None
    goal, _, score = event.note.partition(" ")
    return (goal, int(score)) if score in map(str, LEVELS) else None


def t_score(goals: Sequence[Goal]) -> float | None:
    """Compute the T score of goals; see t_of()."""
    return t_of([(goal.score, goal.weight) for goal in goals])


def t_of(goals: Sequence[tuple[int | None, float | None]]) -> float | None:
    """Compute the T score of the goals that have a score; None when none has.

    Without any weight all goals count alike. Beside goals with one, a goal without counts 1.

    Args:
        goals: score and weight of each.
    """
    scored = [(score, _counted(weight)) for score, weight in goals if score is not None]
    if not scored:
        return None
    total = sum(weight for _, weight in scored)
    squares = sum(weight**2 for _, weight in scored)
    spread = (1 - CORRELATION) * squares + CORRELATION * total**2
    return 50 + 10 * sum(score * weight for score, weight in scored) / math.sqrt(spread)


def _counted(weight: float | None) -> float:
    """The weight of a goal; one that no form takes counts as none."""
    return weight if weight is not None and 0 < weight <= MOST_WEIGHT else 1.0


def t_words(goals: Sequence[Goal]) -> str:
    """Write the T score with the number of goals beside it, "" while none was scored."""
    score = t_score(goals)
    if score is None:
        return ""
    count = sum(goal.score is not None for goal in goals)
    shown = decimal(f"{score:.1f}")
    if count == len(goals):
        whole = ngettext(
            "T score {score} from {count} goal", "T score {score} from {count} goals", count
        )
        return whole.format(score=shown, count=count)
    return gettext("T score {score} from {count} of {all} goals").format(
        score=shown, count=count, all=len(goals)
    )


def treatment_words(day: date | None) -> str:
    """Say which treatment goals belong to."""
    if day is None:
        return gettext("a treatment without a date")
    return gettext("treatment of {day}").format(day=day_words(day))
