"""Painting small trends of every joint: as many as fit, the page with the chosen one."""

from __future__ import annotations

from ....core.change.trend import series_of
from ....core.chart.events import day_words
from ....core.text import visible
from ...kit.paint import Row, fit, line
from ...plot import days_of, draw_page, grid_of, title_of
from .state import ChartData, ChartState, Joint

NOTHING = "no reading yet"

HEAD = 1
"""Rows above the small trends."""


def page_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The page that the chosen joint is on, and what all its small trends have in common."""
    series = [series_of(data.sessions, *joint) for joint in data.joints]
    days = days_of(series)
    if days is None:
        return [line(NOTHING)]
    grid = grid_of(width, height - HEAD)
    top = state.joint // grid.each * grid.each
    titles = [
        f"{'>' if index == state.joint else ' '}{_title(data, joint, grid.width - 1)}"
        for index, joint in enumerate(data.joints)
    ]
    shown = slice(top, top + grid.each)
    pieces = draw_page(series[shown], titles[shown], grid, days)
    pages = -(-len(series) // grid.each)
    words = (
        f"page {top // grid.each + 1} of {pages}   o R2, x v R1 at V3 V2, deg; "
        f"{day_words(days[0])} to {day_words(days[1])}"
    )
    chosen = titles[state.joint]
    return [
        fit(line(words, "dim"), width),
        *(_row(row, chosen[: grid.width].rstrip()) for row in pieces),
    ]


def _title(data: ChartData, joint: Joint, width: int) -> str:
    muscle = data.muscles.get(joint[0])
    name, short = (muscle.name, muscle.abbreviation) if muscle else (joint[0], joint[0][:8])
    return title_of(visible(name), visible(short), joint[1].word, width)


def _row(pieces: tuple[str, ...], chosen: str) -> Row:
    """One row of small trends; the title of the chosen one stands out."""
    spans: list[tuple[str, str]] = []
    for piece in pieces:
        spans += [(" ", "")] if spans else []
        spans.append((piece, "here" if piece.rstrip() == chosen else ""))
    return tuple(spans)
