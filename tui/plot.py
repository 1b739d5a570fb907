"""The only importer of plotext: series of a trend drawn as lines of text.

plotext is imported at the first drawing, not before, since it costs start-up time. It is
fed finite values only, from one thread, with its size set: see DEVELOPERS.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..core.trend import Series

R2_MARK, R1_MARK, BOTH_MARK, LINE_MARK = "o", "x", "*", "."

LEGEND = (
    (R2_MARK, "R2, end of the slow range"),
    (R1_MARK, "R1, catch at the fast stretch"),
    (BOTH_MARK, "R1 and R2 in one place"),
)
"""What the marks of a trend mean, for the line below it."""

STEPS = (5, 10, 20, 30, 60, 90)
"""deg between two numbers on the vertical axis: multiples that readers of angles use."""

MIN_SPAN = 20
"""deg shown at least, so that a difference no larger than the error of reading does not
fill the plot. Common practice, no published source."""

_DATE_CELLS = 11
"""Width of a date such as 25 Nov 2026."""

_APART_CELLS = _DATE_CELLS + 6
"""Least distance of two dated sessions. plotext sets the dates in no fixed order and moves
each away from its neighbours; only as far apart as this do they stand the same every time."""

_LEAST_WITH_DATES = 7
"""Lines below which dates are left out: they would leave too few for the angles."""


def draw_trend(series: Series, width: int, height: int, dates: bool = True) -> list[str]:
    """R1 and R2 over the sessions as plain lines, each at most ``width`` cells.

    Stretch angles in deg, so up is more stretch. Sessions stand as far apart as their dates.
    Dots join sessions that follow each other; where one has no value the line is broken,
    since no catch is not an angle.

    Args:
        series: the trend of one station.
        width: cells, at least 20.
        height: lines, at least 4.
        dates: label the horizontal axis, given at least 7 lines.

    Returns:
        The lines without colours or control characters; none when there is nothing to draw.
    """
    if not series.drawable:
        return []
    dates = dates and height >= _LEAST_WITH_DATES
    r2 = [point.r2 for point in series.points]
    r1 = [point.r1 for point in series.points]
    layers = [
        _layer(series, mark, values, (width, height), dates)
        for mark, values in ((R2_MARK, r2), (R1_MARK, r1))
        if any(value is not None for value in values)
    ]
    return [_laid_over(rows).rstrip() for rows in zip(*layers, strict=True)]


def legend_lines(width: int) -> list[str]:
    """The legend in as few lines of ``width`` cells as hold it, each part whole."""
    lines: list[str] = []
    for mark, words in LEGEND:
        part = f"{mark} {words}"
        if lines and len(lines[-1]) + 3 + len(part) <= width:
            lines[-1] += f"   {part}"
        else:
            lines.append(part)
    return lines


def degree_ticks(values: Sequence[int], rows: int) -> list[int]:
    """Whole numbers (deg) for the vertical axis; the first and the last are its ends.

    Args:
        values: what is drawn, deg, at least one.
        rows: lines there are for it; every second one may carry a number.
    """
    choices = [_ticks_by(step, min(values), max(values)) for step in STEPS]
    fitting = [ticks for ticks in choices if len(ticks) <= (rows + 1) // 2]
    return fitting[0] if fitting else [choices[0][0], choices[0][-1]]


def _ticks_by(step: int, least: int, most: int) -> list[int]:
    """Multiples of a step around two values, MIN_SPAN or more apart at the ends."""
    low, high = least // step * step, -(-most // step) * step
    while high - low < MIN_SPAN:
        if high - most <= least - low:
            high += step
        else:
            low -= step
    return list(range(low, high + 1, step))


def _layer(
    series: Series, mark: str, values: list[int | None], size: tuple[int, int], dates: bool
) -> list[str]:
    """The frame with one of the two series.

    Each is built alone, and laid over the other afterwards: only so is it known where both
    fell on one cell.
    """
    import plotext

    plot: Any = plotext
    plot.clear_figure()
    plot.limit_size(False, False)
    plot.plot_size(*size)
    plot.theme("clear")
    days = [point.day.toordinal() for point in series.points]
    for xs, ys in _runs(days, values):
        plot.plot(xs, ys, marker=LINE_MARK)
    known = [(day, value) for day, value in zip(days, values, strict=True) if value is not None]
    plot.scatter([day for day, _ in known], [value for _, value in known], marker=mark)
    _vertical(plot, series, size[1] - (3 if dates else 2))
    _horizontal(plot, series, days, size[0], dates)
    text: str = plot.uncolorize(plot.build())
    return text.splitlines()


def _runs(days: list[int], values: list[int | None]) -> list[tuple[list[int], list[int]]]:
    """Days and values of each stretch of two or more sessions without a missing value."""
    runs: list[tuple[list[int], list[int]]] = [([], [])]
    for day, value in zip(days, values, strict=True):
        if value is None:
            runs.append(([], []))
        else:
            runs[-1][0].append(day)
            runs[-1][1].append(value)
    return [run for run in runs if len(run[0]) > 1]


def _vertical(plot: Any, series: Series, rows: int) -> None:
    drawn = [value for p in series.points for value in (p.r1, p.r2) if value is not None]
    ticks = degree_ticks(drawn, rows)
    plot.ylim(ticks[0], ticks[-1])
    plot.yticks(ticks, [str(tick) for tick in ticks])


def _horizontal(plot: Any, series: Series, days: list[int], width: int, dates: bool) -> None:
    """The ends of the axis, and the dates: the latest, the first, and others that fit."""
    first, last = min(days), max(days)
    free = _DATE_CELLS if dates else 2
    edge = (last - first) * free / 2 / max(1, width - 2 * free) or 1
    plot.xlim(first - edge, last + edge)
    words = dict(zip(days, (point.date_words for point in series.points), strict=True))
    apart = (last - first + 2 * edge) * _APART_CELLS / (width - 6)
    labelled: list[int] = []
    for day in (last, first, *words) if dates else ():
        if all(abs(day - other) >= apart for other in labelled):
            labelled.append(day)
    plot.xticks(labelled, [words[day] for day in labelled])


def _laid_over(rows: tuple[str, ...]) -> str:
    if len(rows) == 1:
        return rows[0]
    return "".join(_cell(one, two) for one, two in zip(*rows, strict=True))


def _cell(one: str, two: str) -> str:
    """One cell of both layers: a mark wins over a line, a line over nothing."""
    if one == two:
        return one
    if {one, two} == {R1_MARK, R2_MARK}:
        return BOTH_MARK
    marks = [cell for cell in (one, two) if cell not in (LINE_MARK, " ")]
    return marks[0] if marks else LINE_MARK
