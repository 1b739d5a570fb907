"""Invented charts for the tests of comparing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import Session
from limbscribe.core.config.settings import Settings
from limbscribe.core.tardieu.measurement_error import MeasurementError
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.kit.context import Context

from tests.support.app import desk_on
from tests.support.records import MUSCLES, reading, session

LEFT, RIGHT = Side.LEFT, Side.RIGHT

FIGURE = MeasurementError(
    name="invented leg",
    quantities=("R1", "R2", "gap"),
    muscles=("gastrocnemius", "soleus", "hamstrings"),
    limb="lower",
    populations=("any",),
    age="any",
    raters="any",
    interval="any",
    position="",
    instrument="any",
    sem=3.61,
    published="SEM 3.61",
    source="an invented study",
    verified="invented",
    own=True,
)
"""MDC95 = 1.96 * sqrt(2) * 3.61 = 10.0 deg."""

TOXIN = Event("e1", "botulinum-toxin", "2026-02-10", "soleus", "left", "as told")
CAST = Event("e2", "cast-off", "2026-03-01", "", "", "")

FIRST = session(
    "2026-01-02",
    reading("gastrocnemius", LEFT, -20, 5, quality=3),
    reading("soleus", LEFT, -10, 12),
    reading("hamstrings", LEFT, -60, -30),
    reading("elbow-flexors", LEFT, None, 0),
)
SECOND = session("2026-02-02", reading("gastrocnemius", LEFT, -18, 5))
LAST = session(
    "2026-04-01",
    reading("gastrocnemius", LEFT, -2, 8, quality=2),
    reading("soleus", LEFT, -8, 12),
    reading("hamstrings", LEFT, -66, -50, posture="prone, in a way of its own"),
    reading("elbow-flexors", LEFT, None, None, quality=None, r1_tries=(), not_tested="pain"),
    examiner="QQ",
)
SETTINGS = Settings(own_measurement_error=True)
BASIS = Basis(MUSCLES, SETTINGS, (FIGURE,))


def compare_desk(folder: Path, *sessions: Session, events: tuple[Event, ...] = ()):
    """A desk whose clinic uses FIGURE, and the chart's id."""
    desk, chart_id = desk_on(folder, *(sessions or (FIRST, SECOND, LAST)))
    for event in events:
        desk.shelf.add_event(chart_id, event, "CD", "2026-11-25T12:00:00+01:00")
    return with_figure(desk), chart_id


def with_figure(desk: Context) -> Context:
    """The desk of a clinic that uses FIGURE."""
    catalogue = replace(desk.catalogue, settings=SETTINGS, own_errors=(FIGURE,))
    return replace(desk, catalogue=catalogue)


def many(stations: int, **more: Any) -> tuple[Session, Session]:
    """Two sessions with many stations."""
    muscles = list(MUSCLES.values())
    readings: list[Reading] = []
    for number in range(stations):
        muscle = muscles[number // 2 % len(muscles)]
        readings.append(reading(muscle.id, RIGHT if number % 2 else LEFT, -10, 10, **more))
    checklist = Checklist("many", "Many", tuple(Item(r.muscle) for r in readings[::2]))
    then = replace(session("2026-01-02", *readings), checklist=checklist)
    now = [replace(r, r1=-10 + n) for n, r in enumerate(readings)]
    return then, replace(session("2026-04-01", *now), checklist=checklist)
