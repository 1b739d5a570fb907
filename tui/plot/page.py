"""A page of small trends, as many beside and below each other as fit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from ...core.change.trend import Series
from ...core.tardieu.muscles import Muscle
from ...core.tardieu.reading import Side
from ...core.text import visible
from .frame import PlotFrame, as_lines
from .trend import small_axes, trend_cells

WIDTH, HEIGHT = 26, 6
"""Cells and lines of a small trend with its title."""

SPACE = 1
"""Cells between two of them."""

NOTHING = "no angle to draw"


@dataclass(frozen=True, slots=True)
class Grid:
    """How a page is divided.

    Attributes:
        across: small trends beside each other.
        down: below each other.
        width: cells of each.
        height: lines of each.
    """

    across: int
    down: int
    width: int
    height: int

    @property
    def each(self) -> int:
        """Small trends on a page."""
        return self.across * self.down


def grid_of(width: int, height: int = HEIGHT) -> Grid:
    """Divide a page of a size: what is left over goes to the small trends."""
    across = max(1, (width + SPACE) // (WIDTH + SPACE))
    down = max(1, height // HEIGHT)
    return Grid(across, down, (width + SPACE) // across - SPACE, max(HEIGHT, height // down))


def title_of(muscle: str, side: Side, muscles: Mapping[str, Muscle], width: int) -> str:
    """Write muscle group and side, abbreviated where they do not fit; the side is never cut."""
    from rich.cells import cell_len  # late: plots of raters do without

    found = muscles.get(muscle)
    name, short = (found.name, found.abbreviation) if found else (muscle, muscle[:8])
    title = visible(f"{name}, {side.word}")
    return title if cell_len(title) <= width else visible(f"{short}, {side.word}")


@lru_cache(maxsize=64)
def draw_small(series: Series, first: date, last: date, width: int, height: int) -> tuple[str, ...]:
    """Draw one small trend without its title: angles on the left, no dates.

    Kept for the next time: on a page that moves to another joint all the plots stay.

    Args:
        series: the trend of one station.
        first: first day of the axis, the same for all of a page.
        last: its last day.
        width: cells, at least 12.
        height: lines, at least 3.
    """
    if not series.drawable:
        return (NOTHING,)
    axes = small_axes(series, first.toordinal(), last.toordinal(), width, height)
    return tuple(as_lines(trend_cells(PlotFrame(width, height, *axes, boxed=False), [series])))


def days_of(trends: Sequence[Series]) -> tuple[date, date] | None:
    """Find the first and the last day of all, None without a session."""
    days = [point.day for series in trends for point in series.points]
    return (min(days), max(days)) if days else None


def draw_page(
    trends: Sequence[Series], titles: Sequence[str], grid: Grid, days: tuple[date, date]
) -> list[tuple[str, ...]]:
    """Draw small trends, each with its title, as rows of pieces that are side by side.

    Args:
        trends: what to draw, at most as many as the grid has places, or more for a page
            without an end.
        titles: one for each.
        grid: see grid_of().
        days: first and last day of the axis.
    """
    from rich.cells import set_cell_size

    blocks: list[list[str]] = []
    for series, title in zip(trends, titles, strict=True):
        drawn = draw_small(series, *days, grid.width, grid.height - 1)
        block = [title, *drawn]
        block += [""] * (grid.height - len(block))
        blocks.append([set_cell_size(text, grid.width) for text in block])
    rows: list[tuple[str, ...]] = []
    for start in range(0, len(blocks), grid.across):
        rows += zip(*blocks[start : start + grid.across], strict=True)
    return rows
