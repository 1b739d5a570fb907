"""Numbers and dates for the axes of a plot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil, floor, log10

from .frame import Axis

STEPS = (5, 10, 20, 30, 60, 90)
"""deg between two numbers on the vertical axis: multiples that readers of angles use."""

MIN_SPAN = 20
"""deg shown at least, so that a difference no larger than the error of reading does not
fill the plot. Common practice, no published source."""

DATE_CELLS = 11
"""Width of a date such as 25 Nov 2026."""

_APART_CELLS = DATE_CELLS + 6
"""Least distance of two dated sessions. plotext sets the dates in no fixed order and moves
each away from its neighbours; only as far apart as this are they the same every time."""


def degree_ticks(values: Sequence[int], rows: int) -> list[int]:
    """Choose whole numbers (deg) for the vertical axis; the first and the last are its ends.

    Args:
        values: what is drawn, deg, at least one.
        rows: lines there are for it; every second one may carry a number.
    """
    choices = [_ticks_by(step, min(values), max(values)) for step in STEPS]
    most = (rows + 1) // 2  # a forged angle may make more numbers than memory holds
    fitting = (list(ticks) for ticks in choices if (ticks[-1] - ticks[0]) // ticks.step < most)
    return next(fitting, [choices[0][0], choices[0][-1]])


def degree_axis(values: Sequence[int], rows: int) -> Axis:
    """Make the vertical axis of angles; see degree_ticks()."""
    ticks = degree_ticks(values, rows)
    return Axis(ticks[0], ticks[-1], tuple((tick, str(tick)) for tick in ticks))


def _ticks_by(step: int, least: int, most: int) -> range:
    """List multiples of a step around two values, MIN_SPAN or more apart at the ends."""
    low, high = least // step * step, -(-most // step) * step
    while high - low < MIN_SPAN:
        if high - most <= least - low:
            high += step
        else:
            low -= step
    return range(low, high + 1, step)


def day_axis(words: Mapping[int, str], width: int, dates: bool) -> Axis:
    """Make the horizontal axis of days, as far apart as they are.

    Args:
        words: each day (ordinal) and how it is written, at least one.
        width: of the whole plot, cells.
        dates: label it: the latest day, the first, and others that fit.
    """
    first, last = min(words), max(words)
    free = DATE_CELLS if dates else 2
    edge = (last - first) * free / 2 / max(1, width - 2 * free) or 1
    apart = (last - first + 2 * edge) * _APART_CELLS / (width - 6)
    labelled: list[int] = []
    for day in (last, first, *words) if dates else ():
        if all(abs(day - other) >= apart for other in labelled):
            labelled.append(day)
    return Axis(first - edge, last + edge, tuple((day, words[day]) for day in labelled))


def even_ticks(least: float, most: float, number: int) -> list[float]:
    """Choose at most ``number`` multiples of 1, 2 or 5 times a power of ten, around both.

    Args:
        least: the smallest value, finite.
        most: the largest value.
        number: how many there may be, 3 at least.
    """
    # No plot of readings needs finer ticks, and floats run out of digits far below.
    power = max(-6, floor(log10(most - least)) - 1) if most > least else 0
    while True:
        for step in (Fraction(10) ** power * factor for factor in (1, 2, 5)):
            first, last = floor(Fraction(least) / step), ceil(Fraction(most) / step)
            last += first == last
            if last - first < number:
                return [float(step * place) for place in range(first, last + 1)]
        power += 1


def even_axis(low: float, high: float, ticks: Sequence[float]) -> Axis:
    """Make an axis of plain numbers."""
    return Axis(low, high, tuple((tick, f"{tick:g}") for tick in ticks))
