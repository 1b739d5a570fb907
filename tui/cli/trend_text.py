"""A trend as lines for a plain shell: the plot, its legend, and the same as numbers."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from ...core.change.baseline import Baseline, baseline_of
from ...core.change.compare import Basis
from ...core.change.numbers import (
    AS_TYPED,
    JointRow,
    cautions,
    joint_rows,
    number_lines,
    reference_lines,
    series_from,
    title_line,
)
from ...core.change.trend import Series
from ...core.change.trend_events import TrendEvent, events_touching
from ...core.chart.chart import Chart
from ...core.chart.events import day_words, standing
from ...core.tardieu.muscles import Muscle
from ...core.tardieu.reading import Side
from ...core.text import visible
from ..plot.page import days_of, draw_page, grid_of, title_of
from ..plot.signs import Drawn, coloured_spans, event_lines, legend_lines
from ..plot.trend import draw_trends
from ..terminal.characters import to_ascii

WIDTH, HEIGHT = 78, 16

SMALL = (
    "o R2, end of the slow range",
    "n R2, the catch is gone",
    "x R1, catch at V3",
    "v R1, catch at V2",
)
"""Legend of small trends."""

COLOURS = {"R1": "\x1b[35m", "R2": "\x1b[36m"}
"""Two of the 16 colours; the marks differ too."""

PLAIN = "\x1b[39m"

ONE_SIDE = "baseline bands: only without --both"

Joint = tuple[str, Side]


def trend_lines(
    chart: Chart,
    joint: Joint,
    basis: Basis,
    *,
    ascii_only: bool = False,
    colour: bool = False,
    both: bool = False,
) -> list[str]:
    """Write the trend of one muscle group and side, or of both.

    Args:
        chart: the chart.
        joint: id of the muscle group, and side.
        basis: muscle groups, and what the bands are made with.
        ascii_only: no character above 127.
        colour: R1 and R2 in two colours; the escapes for it are the only ones in the lines.
        both: the other side too, as far as it has readings.
    """
    sessions, patient, muscles = chart.by_date, chart.patient, basis.muscles
    sides = tuple(Side) if both else (joint[1],)
    rows = [(side, joint_rows(sessions, (joint[0], side), muscles, patient)) for side in sides]
    rows = [one for one in rows if one[1]]
    shown = tuple(side for side, _ in rows) or sides
    lines = [f"{visible(patient.code)}  {name_of(joint[0], shown, muscles)}"]
    if not rows:
        return [*lines, "no reading yet"]
    touching = events_touching(standing(chart.events), joint[0], shown)
    baseline = Baseline((), (ONE_SIDE,), ())
    if len(rows) == 1:
        baseline = baseline_of(sessions, joint[0], shown[0], patient, basis)
    trends = [series_from((joint[0], side), of_side) for side, of_side in rows]
    drawn = draw_trends(trends, WIDTH, HEIGHT, touching, baseline.bands)
    lines += _plot(drawn, touching, baseline.words)
    for side, of_side in rows:
        title = f"{side.word}: {AS_TYPED}" if len(rows) > 1 else AS_TYPED
        lines += ["", title, *_numbers(of_side, touching)]
    return [_finished(text, ascii_only, colour and text in drawn.lines) for text in lines]


def page_lines(
    trends: Sequence[Series],
    muscles: Mapping[str, Muscle],
    code: str,
    *,
    width: int = WIDTH + 2,
    ascii_only: bool = False,
    colour: bool = False,
) -> list[str]:
    """Write small trends of all, as many beside each other as fit.

    Args:
        trends: what to draw.
        muscles: all muscle groups by id.
        code: patient code.
        width: cells.
        ascii_only: no character above 127.
        colour: as in trend_lines().
    """
    days = days_of(trends)
    if days is None:
        return [f"{visible(code)}  no reading yet"]
    grid = grid_of(width)
    titles = [title_of(one.muscle, one.side, muscles, grid.width) for one in trends]
    lines = [
        f"{visible(code)}  all from {day_words(days[0])} to {day_words(days[1])}, stretch angles "
        "in deg",
        *textwrap.wrap("   ".join(SMALL), width),
        "",
    ]
    for row in draw_page(trends, titles, grid, days):
        pieces = [_finished(piece, ascii_only, colour) for piece in row]
        lines.append(" ".join(pieces).rstrip())
    return lines


def name_of(muscle: str, sides: Sequence[Side], muscles: Mapping[str, Muscle]) -> str:
    """Name muscle group and sides in full."""
    found = muscles.get(muscle)
    words = " and ".join(side.word for side in sides)
    return f"{visible(found.name if found else muscle)}, {words}"


def _plot(drawn: Drawn, events: Sequence[TrendEvent], baseline: Sequence[str]) -> list[str]:
    """Write the plot and what its signs mean."""
    if not drawn.lines:
        return []
    lines = ["stretch angles in deg, up is more stretch", *drawn.lines]
    lines += legend_lines(WIDTH, drawn)
    lines += [visible(text) for text in event_lines(events, drawn.signs, WIDTH)]
    for text in baseline:
        lines += textwrap.wrap(visible(text), WIDTH)
    return lines


def _numbers(rows: Sequence[JointRow], events: Sequence[TrendEvent]) -> list[str]:
    """Write the table of one side with the events between its sessions."""
    lines = [title_line(WIDTH)]
    lines += [text.rstrip() for _, text in number_lines(rows, WIDTH, events)]
    for text in (*reference_lines(rows), *cautions(rows)):
        lines += textwrap.wrap(text, WIDTH)
    return lines


def _finished(text: str, ascii_only: bool, colour: bool) -> str:
    """Write a line with its colours, after anything else in it was made harmless."""
    spans = coloured_spans(visible(text)) if colour else [(visible(text), "")]
    shown = [(to_ascii(part) if ascii_only else part, what) for part, what in spans]
    return "".join(f"{COLOURS[what]}{part}{PLAIN}" if what else part for part, what in shown)
