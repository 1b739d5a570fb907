"""Treatment cycles: from one treatment to the next of its kind, and the windows after it.

A treatment of one kind on one day opens a cycle, however many muscle groups had it. The cycle
ends on the day of the next one, that day included: a visit on that day is the last of one
cycle and may be the first of the other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import TypeVar

from ..tardieu.reading import Side
from .event import Event
from .events import TOXIN, day_of, standing, touches
from .windows import LONGEST, Window, windows_from

T = TypeVar("T")

OPENERS = (TOXIN, "cast-on", "cast-off", "surgery")
"""Kinds of events that open a cycle."""

DEFAULT_CYCLE_WINDOWS = (
    Window("before", -42, 0),
    Window("14 to 48 days", 14, 48),
    Window("49 to 83 days", 49, 83),
    Window("84 to 180 days", 84, 180),
)
"""Our own choice, no published source: they follow the bands of days since an injection."""


@dataclass(frozen=True, slots=True)
class TreatmentCycle:
    """One treatment and the time after it.

    Attributes:
        kind: one of OPENERS.
        day: of the treatment.
        events: what was done on that day, of this kind.
        until: day of the next treatment of this kind, None while there is none.
    """

    kind: str
    day: date
    events: tuple[Event, ...]
    until: date | None = None

    def treated(self, muscle: str, side: Side) -> bool:
        """Check whether a muscle group on a side was treated.

        A treatment without a muscle group or side counts for every one of them.
        """
        return any(touches(event, muscle, side) for event in self.events)

    def day_of(self, when: date) -> int | None:
        """Count the days since the treatment, negative before it; None once it has ended."""
        return None if self.until and when > self.until else (when - self.day).days


def cycles_of(events: Iterable[Event], kind: str = TOXIN) -> tuple[TreatmentCycle, ...]:
    """List the cycles of one kind of treatment, the earliest first."""
    days: dict[date, list[Event]] = {}
    for event in standing(events):
        day = day_of(event)
        if event.kind == kind and day is not None:
            days.setdefault(day, []).append(event)
    ends = [*sorted(days), None]
    return tuple(
        TreatmentCycle(kind, day, tuple(days[day]), until)
        for day, until in pairwise(ends)
        if day is not None
    )


def before_window(windows: Sequence[Window]) -> Window | None:
    """Find the window before the treatment, None where there is none."""
    return next((window for window in windows if window.last <= 0), None)


def nearest(found: Mapping[T, int], window: Window) -> T | None:
    """Choose from what was measured in a window: the nearest to its middle, else the earlier.

    Args:
        found: day since the treatment of each.
        window: the window; what lies outside is passed over.
    """
    inside = {one: day for one, day in found.items() if day in window.days}
    middle = (window.first + window.last) / 2
    return min(inside, key=lambda one: (abs(inside[one] - middle), inside[one]), default=None)


def cycle_windows_from(table: dict[str, object]) -> tuple[Window, ...] | str:
    """Read windows from ``name = [first day, last day]``, or say what is wrong with them.

    One window lies before the treatment, its own day included; the others begin after it.
    """
    windows = windows_from(table, earliest=-LONGEST)
    if isinstance(windows, str):
        return windows
    before = [window for window in windows if window.last <= 0]
    if len(before) != 1:
        return "one window, and no more than one, must end on day 0 or before"
    if astride := next((w for w in windows if w.first <= 0 < w.last), None):
        return f"{astride.name!r} lies on both sides of day 0"
    if any(one.last >= other.first for one, other in pairwise(windows)):
        return "two windows share a day"
    return windows
