"""Goals through the events CSV and back, for many of them and for hostile words."""

from __future__ import annotations

import random
from datetime import date, timedelta
from itertools import count

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.goals import LEVELS, goal_event, goals_of, new_events, score_event
from limbscribe.core.chart.goals import parse_goal as parsed
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.events_csv import EventRows, read_events, write_events
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.random_sessions import TEXTS
from tests.support.sizes import size

MUSCLES = shipped_muscles()
DAY, TODAY = date(2026, 3, 2), date(2026, 11, 25)
WORDS = [text.strip() for text in TEXTS if isinstance(parsed(text, "", "", DAY), Event)]


def chart(events: tuple[Event, ...]) -> Chart:
    return Chart("c", Patient("P-01"), (), (), events, ())


def made(rolls: random.Random) -> tuple[Event, ...]:
    """A treatment and its goals, some scored on several days, each once a day."""
    events = [Event("t", "botulinum-toxin", DAY.isoformat(), "soleus", "left", "")]
    for n in range(rolls.randint(1, 6)):
        weight = rolls.choice((None, 1.0, rolls.randint(1, 99_999) / 100))
        goal = goal_event(f"g{n}", f"{rolls.choice(WORDS)} {n}", DAY, weight)
        days = sorted(rolls.sample(range(200), rolls.randint(0, 3)))
        scores = (
            score_event(f"s{n}-{day}", goal.id, rolls.choice([*LEVELS]), DAY + timedelta(day))
            for day in days
        )
        events += [goal, *scores]
    return tuple(events)


def back(data: bytes) -> tuple[Event, ...]:
    """The events that an empty chart gets out of a file."""
    numbers = count()
    found = read_events(data, "e.csv", MUSCLES, lambda: f"n{next(numbers)}", TODAY)
    assert isinstance(found, EventRows)
    assert found.refused == ()
    rows = [row for each in found.by_patient.values() for row in each]
    fresh = tuple(event for each in new_events((), rows) for event in each)
    assert new_events(fresh, rows) == [()] * len(rows), "the same file again adds nothing"
    return fresh


def test_there_are_words_worth_trying() -> None:
    assert len(WORDS) > 10
    assert any(word.startswith(("=", "+", "-", "@")) for word in WORDS)
    assert any("," in word or '"' in word for word in WORDS)


@pytest.mark.parametrize("seed", range(size(20, 100, 1000)))
def test_goals_and_all_their_scores_come_back(seed: int) -> None:
    events = made(random.Random(seed))
    data = write_events([chart(events)])
    again = back(data)
    assert write_events([chart(again)]) == data
    here, there = (
        [(g.text, g.weight, g.day, g.score, g.scored) for g in goals_of(each)]
        for each in (events, again)
    )
    assert here == there
