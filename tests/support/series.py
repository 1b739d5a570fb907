"""Invented series, events and sessions for the tests of trends."""

from __future__ import annotations

from datetime import date, timedelta

from limbscribe.core.change.trend import Point, Series
from limbscribe.core.change.trend_events import TrendEvent, events_touching
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import day_words
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import FastVelocity, Reading, Side
from limbscribe.tui.plot import draw_trends

SCALE = AngleScale("neutral-zero", 1, 0)
FIRST = date(2026, 1, 2)
MUSCLE = "soleus"
LEFT, RIGHT = Side.LEFT, Side.RIGHT


def day(days: int) -> date:
    """So many days after FIRST."""
    return FIRST + timedelta(days=days)


def series(
    *rows: tuple[int, int | None, int | None], side: Side = LEFT, v2: tuple[int, ...] = ()
) -> Series:
    """A series of (days after FIRST, R1, R2), at V2 in the rows of these indices."""
    points: list[Point] = []
    for index, (days, r1, r2) in enumerate(rows):
        velocity: FastVelocity = "V2" if index in v2 else "V3"
        taken = Reading(MUSCLE, side, "", SCALE, fast_velocity=velocity, r1=r1, r2=r2)
        points.append(Point(day(days), day_words(day(days)), r1, r2, 2, taken))
    return Series(MUSCLE, side, tuple(points))


def event(days: int, kind: str, muscle: str = "", side: str = "", note: str = "") -> Event:
    """An event so many days after FIRST."""
    return Event(f"id-{days}-{kind}", kind, day(days).isoformat(), muscle, side, note)


def marks(*events: Event, sides: tuple[Side, ...] = (LEFT,)) -> tuple[TrendEvent, ...]:
    """The events as marks of a trend."""
    return events_touching(events, MUSCLE, sides)


def draw_trend(one: Series, width: int, height: int) -> list[str]:
    """The lines of the trend of one side alone."""
    return list(draw_trends([one], width, height).lines)
