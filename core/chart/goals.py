"""Goals of a treatment: what was hoped for, and how far it was reached.

A goal is an event on the day of the treatment; how far it was reached is a later event that
names it. Both are kept as every event is: never changed, struck when wrong.

The T score is that of Kiresuk and Sherman, Community Ment Health J 1968;4(6):443-453, doi
10.1007/BF01530764, with their correlation of 0.3 between goals; formula seen in the source of
two statistics packages and an online calculator, which agree.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from .event import Event
from .events import GOAL, GOAL_SCORE, day_of, unstruck
from .session import day_words

LEVELS = {
    -2: "much less than expected",
    -1: "less than expected",
    0: "expected level",
    1: "more than expected",
    2: "much more than expected",
}
"""How far a goal was reached -> in words; the five levels are those of Kiresuk and Sherman."""

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
    """

    id: str
    text: str
    weight: float | None
    day: date | None
    score: int | None = None
    scored: str = ""

    @property
    def words(self) -> str:
        """The goal and how far it was reached, on one line."""
        if self.score is None:
            return f"{self.text}: not scored yet"
        return f"{self.text}: {self.score:+d} ({LEVELS[self.score]})".replace("+0", "0")


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
    holding = unstruck(events)
    scores: dict[str, tuple[str, int]] = {}
    for event in holding:
        found = _score_of(event)
        day = day_of(event)
        if found and day and (until is None or day <= until):
            goal, score = found
            if event.date >= scores.get(goal, ("", 0))[0]:
                scores[goal] = (event.date, score)
    return tuple(
        Goal(e.id, e.note, e.weight, day_of(e), *_scored(scores.get(e.id)))
        for e in holding
        if e.kind == GOAL
    )


def _scored(found: tuple[str, int] | None) -> tuple[int | None, str]:
    return (None, "") if found is None else (found[1], found[0])


def _score_of(event: Event) -> tuple[str, int] | None:
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
    scored = [(score, weight or 1.0) for score, weight in goals if score is not None]
    if not scored:
        return None
    total = sum(weight for _, weight in scored)
    squares = sum(weight**2 for _, weight in scored)
    spread = (1 - CORRELATION) * squares + CORRELATION * total**2
    return 50 + 10 * sum(score * weight for score, weight in scored) / math.sqrt(spread)


def t_words(goals: Sequence[Goal]) -> str:
    """Write the T score with the number of goals beside it, "" while none was scored."""
    score = t_score(goals)
    if score is None:
        return ""
    count = sum(goal.score is not None for goal in goals)
    of = f" of {len(goals)}" if count < len(goals) else ""
    return f"T score {score:.1f} from {count}{of} goal{'s' if len(goals) > 1 else ''}"


def treatment_words(day: date | None) -> str:
    """Say which treatment goals belong to."""
    return f"treatment of {day_words(day)}" if day else "a treatment without a date"
