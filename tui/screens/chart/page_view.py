"""Painting small trends of every joint: as many as fit, the page with the chosen one."""

from __future__ import annotations

from ....core.change.trend import series_of_all
from ....core.chart.events import day_words
from ...kit.paint import Row, filled, line, wrap
from ...plot.page import days_of, draw_page, grid_of, title_of
from .state import ChartData, ChartState

NOTHING = "no reading yet"

SIGNS = "o R2, x R1, v at V2, n gone"

HEAD, NARROW_HEAD = 1, 2
"""Rows above the small trends: in a window of 80 columns, and in a narrower one."""


def page_size(width: int, height: int) -> int:
    """Small trends on a page of a body of a size, less what is above the view."""
    return grid_of(width, height - _head(width)).each


def _head(width: int) -> int:
    return HEAD if width >= 80 else NARROW_HEAD


def page_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The page that the chosen joint is on, and what all its small trends have in common."""
    series = series_of_all(data.sessions, data.joints)
    days = days_of(series)
    if days is None:
        return [line(NOTHING)]
    grid = grid_of(width, height - _head(width))
    top = data.changed.index(state.joint) // grid.each * grid.each
    shown = data.changed[top : top + grid.each]
    muscles, here = data.basis.muscles, shown.index(state.joint)
    titles = [f" {title_of(*data.joints[index], muscles, grid.width - 1)}" for index in shown]
    titles[here] = f">{titles[here][1:]}"
    pieces = draw_page([series[index] for index in shown], titles, grid, days)
    pages = -(-len(series) // grid.each)
    words = (
        f"page {top // grid.each + 1} of {pages} by change; {SIGNS}; "
        f"{day_words(days[0])} to {day_words(days[1])}"
    )
    return [
        *filled(wrap(words, width, "dim"), _head(width)),
        *(_row(row, titles[here][: grid.width].rstrip()) for row in pieces),
    ]


def _row(pieces: tuple[str, ...], chosen: str) -> Row:
    """One row of small trends; the title of the chosen one stands out."""
    spans: list[tuple[str, str]] = []
    for piece in pieces:
        spans += [(" ", "")] if spans else []
        spans.append((piece, "here" if piece.rstrip() == chosen else ""))
    return tuple(spans)
