"""The small trend of the entry: as much plot as there is room for, its dates, what was done."""

from __future__ import annotations

from collections.abc import Sequence

from ...core.change.trend import Series
from ...core.change.trend_events import TrendEvent
from .axes import DATE_CELLS
from .frame import PlotFrame, as_lines
from .trend import event_row, small_axes, trend_cells

LEAST = 4
"""Lines below which nothing is drawn."""


def draw_inline(
    series: Series, events: Sequence[TrendEvent], width: int, height: int
) -> tuple[str, ...]:
    """Draw R1 and R2 over the sessions, letters of what was done, and the first and last date.

    Args:
        series: the trend of one station.
        events: what touches it; beyond the ends they are drawn with an arrow.
        width: cells, at least 30.
        height: lines.

    Returns:
        The lines; none where there are fewer than two days, whose values are on the screen
        anyway, or fewer than LEAST lines.
    """
    days = sorted({point.day: point.date_words for point in series.points}.items())
    if len(days) < 2 or not series.drawable or height < LEAST:
        return ()
    rows = height - 1 - bool(events)
    axes = small_axes(series, days[0][0].toordinal(), days[-1][0].toordinal(), width, rows)
    frame = PlotFrame(width, rows, *axes, boxed=False)
    cells = trend_cells(frame, [series])
    if events:
        cells.append([" "] * frame.left + _named("".join(event_row(frame, events)), events))
    between = " " * (width - frame.left - 2 * DATE_CELLS)
    return (*as_lines(cells), f"{'':{frame.left}}{days[0][1]:{DATE_CELLS}}{between}{days[-1][1]}")


def _named(row: str, events: Sequence[TrendEvent]) -> list[str]:
    """Put the word for a letter beside it, where all are of one kind and there is room."""
    kinds = {event.kind for event in events}
    words, marked = f" {kinds.pop()} ", row.strip()
    begin = len(row) - len(row.lstrip())
    if kinds:  # the letters alone: the large trend has the words
        return list(row)
    if len(row.rstrip()) + len(words) <= len(row):
        return list((row.rstrip() + words).ljust(len(row)))
    if begin >= len(words):
        return list((words + marked).rjust(begin + len(marked)).ljust(len(row)))
    return list(row)
