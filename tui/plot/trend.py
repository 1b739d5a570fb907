"""R1 and R2 over the sessions as lines of text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil, floor
from typing import TYPE_CHECKING

from ...core.change.trend import Point, Series
from ...core.change.trend_events import TrendEvent
from ...core.tardieu.reading import FastVelocity, Side
from .axes import day_axis, degree_axis
from .frame import Axis, PlotFrame, Stroke, as_lines
from .signs import (
    AFTER,
    BAND,
    BEFORE,
    BOTH_GAPS,
    KNOWN,
    LOWER,
    SEVERAL,
    SHARED,
    UPPER,
    Drawn,
    Signs,
)

_LEAST_WITH_DATES = 7
"""Lines below which dates are left out: they would leave too few for the angles."""

_LEAST_WITH_EVENTS = 8

_ROWS_FOR_BANDS = 8
"""Lines inside from which the vertical axis is widened to hold the edges of the bands; with
fewer, R1 and R2 need them, and edges beyond the axis are not drawn."""

if TYPE_CHECKING:  # it brings the comparison, which a plain trend does without
    from ...core.change.baseline import BaselineBand

Cells = list[list[str]]

Track = list[tuple[int, int | None]]
"""Days and values, None where a session has none."""

_GONE = (LOWER.gone, UPPER.gone)


def draw_trends(
    trends: Sequence[Series],
    width: int,
    height: int,
    events: Sequence[TrendEvent] = (),
    bands: Sequence[BaselineBand] = (),
) -> Drawn:
    """Draw R1 and R2 of one side over the sessions, or of both sides in one plot.

    Stretch angles in deg, so up is more stretch. Sessions are as far apart as their dates.
    Dots join sessions that follow each other; where one has no value the line is broken,
    since no catch is not an angle, and a catch at V2 is not joined to one at V3. A column
    between R1 and R2 of a session is its gap.

    Args:
        trends: one series, or the left and the right one of a muscle group.
        width: cells, at least 20.
        height: lines, at least 4.
        events: letters in a line below the axis, given at least 8 lines; what lies beyond
            the axis is drawn at its end, with an arrow.
        bands: edges drawn as dashes where nothing else is, see _ROWS_FOR_BANDS.

    Returns:
        Lines without colours or control characters; none when there is nothing to draw.
    """
    trends = [series for series in trends if series.drawable]
    if not trends:
        return Drawn(())
    marked = bool(events) and height >= _LEAST_WITH_EVENTS
    frame = _frame(trends, bands, width, height - marked, height >= _LEAST_WITH_DATES)
    cells = trend_cells(frame, trends)
    _draw_bands(cells, frame, bands)
    signs = KNOWN.intersection(sign for row in inside_of(cells, frame) for sign in row)
    if marked:
        row = event_row(frame, events)
        cells.insert(len(cells) - bool(frame.across.ticks), [" "] * frame.left + row)
        signs |= {SEVERAL, BEFORE, AFTER}.intersection(row)
    return Drawn(tuple(as_lines(cells)), signs, len(trends) > 1)


def possible_signs(
    trends: Sequence[Series], events: Sequence[TrendEvent], bands: Sequence[BaselineBand]
) -> frozenset[str]:
    """Find every sign that a trend may show, before it is drawn: for room for a legend."""
    strokes = [stroke for series in trends for stroke in _strokes(series, _signs(series, trends))]
    signs = (stroke.sign for stroke in strokes if not stroke.joined)
    found = {SHARED, *signs, *(BAND[band.name] for band in bands)}
    found |= {_signs(s, trends).gap for s in trends if any(p.gap is not None for p in s.points)}
    found |= {BOTH_GAPS} if len(trends) > 1 else set()
    days = [point.day for series in trends for point in series.points]
    for event in events if days else ():
        found |= {BEFORE} if event.day < min(days) else set()
        found |= {AFTER} if event.day > max(days) else set()
    return frozenset(found | ({SEVERAL} if len(events) > 1 else set()))


def trend_cells(frame: PlotFrame, trends: Sequence[Series]) -> Cells:
    """Draw the plot with lines, gaps and marks, as rows of cells."""
    strokes = [stroke for series in trends for stroke in _strokes(series, _signs(series, trends))]
    marks = [stroke for stroke in strokes if not stroke.joined]
    cells = frame.drawn([*(stroke for stroke in strokes if stroke.joined), *marks])
    for series in trends:
        signs = _signs(series, trends)
        _draw_gaps(cells, frame, series, signs, {stroke.sign for stroke in marks})
    _draw_shared(cells, frame, marks)
    return cells


def inside_of(cells: Cells, frame: PlotFrame) -> Iterable[list[str]]:
    """Yield the rows inside the axes."""
    for row in cells[frame.top : frame.top + frame.rows]:
        yield row[frame.left : frame.left + frame.columns]


def angles_of(trends: Iterable[Series]) -> list[int]:
    """List every stretch angle of the trends, deg."""
    points = [point for series in trends for point in series.points]
    return [value for p in points for value in (p.r1, p.r2) if value is not None]


def event_row(frame: PlotFrame, events: Sequence[TrendEvent]) -> list[str]:
    """Draw the line of letters below the axis.

    An event beyond an end of the axis is drawn at that end with an arrow; of those, a sign for
    several where there is more than one kind.
    """
    row = [" "] * frame.columns
    for event in events:
        day = event.day.toordinal()
        column = frame.column(day)
        if column is None:
            early = day < frame.across.low
            column = 1 if early else frame.columns - 2
            row[0 if early else -1] = BEFORE if early else AFTER
        if row[column] in (BEFORE, AFTER):
            continue  # the arrow has the cell; the date is in the legend
        row[column] = event.letter if row[column] in (" ", event.letter) else SEVERAL
    return row


def _frame(
    trends: Sequence[Series], bands: Sequence[BaselineBand], width: int, height: int, dates: bool
) -> PlotFrame:
    rows = height - (3 if dates else 2)
    edges = [edge for band in bands for edge in band.edges if rows >= _ROWS_FOR_BANDS]
    values = [*angles_of(trends), *map(floor, edges), *map(ceil, edges)]
    points = [point for series in trends for point in series.points]
    words = {p.day.toordinal(): p.date_words for p in sorted(points, key=lambda p: p.day)}
    return PlotFrame(width, height, day_axis(words, width, dates), degree_axis(values, rows))


def _signs(series: Series, trends: Sequence[Series]) -> Signs:
    return UPPER if len(trends) > 1 and series.side is Side.RIGHT else LOWER


def _strokes(series: Series, signs: Signs) -> list[Stroke]:
    """Find R2, R1 at V3 and R1 at V2, as far as there are any: lines, and marks over them."""
    points = series.points
    r2: Track = [(_day(p), p.r2) for p in points]
    gone: Track = [(_day(p), p.r2) for p in _without_their_catch(points)]
    v3, v2 = _catches(points, "V3"), _catches(points, "V2")
    lines = [Stroke(signs.line, run, joined=True) for one in (r2, v3, v2) for run in _runs(one)]
    # What is gone comes after R2, so that it takes its place.
    rows = ((signs.r2, r2), (signs.gone, gone), (signs.v3, v3), (signs.v2, v2))
    marks = [(sign, [(day, at) for day, at in row if at is not None]) for sign, row in rows]
    return [*lines, *(Stroke(sign, known) for sign, known in marks if known)]


def _without_their_catch(points: Sequence[Point]) -> list[Point]:
    """Find the sessions that met no catch where an earlier one had met one at that velocity."""
    found: list[Point] = []
    met: set[FastVelocity] = set()
    for point in points:
        velocity = point.reading.fast_velocity
        if point.caught:
            met.add(velocity)
        elif point.caught is False and velocity in met:
            found.append(point)
    return found


def _day(point: Point) -> int:
    return point.day.toordinal()


def _catches(points: Sequence[Point], velocity: FastVelocity) -> Track:
    """List R1 at one velocity; None where a session has none at it."""
    return [(_day(p), p.r1 if p.reading.fast_velocity == velocity else None) for p in points]


def _runs(values: Track) -> list[list[tuple[int, int]]]:
    """Find days and values of each stretch of two or more sessions without a missing value.

    A missing value counts only when its day has no other: where a muscle group was read at
    V2 and at V3 in one session, each of the two readings has but one of the catches.
    """
    known = {day for day, value in values if value is not None}
    runs: list[list[tuple[int, int]]] = [[]]
    for day, value in values:
        if value is not None:
            runs[-1].append((day, value))
        elif day not in known:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def _draw_gaps(
    cells: Cells, frame: PlotFrame, series: Series, signs: Signs, marks: set[str]
) -> None:
    """Draw a column between R1 and R2 of every session that has both."""
    for point in series.points:
        column = frame.column(_day(point))
        if column is None or point.r1 is None or point.r2 is None:
            continue
        ends = [row for value in (point.r1, point.r2) if (row := frame.row(value)) is not None]
        for row in range(min(ends) + 1, max(ends)):
            line, place = cells[frame.top + row], frame.left + column
            if line[place] not in marks:
                other = line[place] in (LOWER.gap, UPPER.gap, BOTH_GAPS)
                mixed = other and line[place] != signs.gap
                line[place] = BOTH_GAPS if mixed else signs.gap


def _draw_shared(cells: Cells, frame: PlotFrame, marks: Sequence[Stroke]) -> None:
    """Draw a sign of its own where marks of different kinds fall on one cell."""
    seen: dict[tuple[int, int], str] = {}
    for stroke in marks:
        for x, y in stroke.places:
            column, row = frame.column(x), frame.row(y)
            if column is None or row is None:
                continue
            if stroke.sign in _GONE:  # over its own R2
                seen[row, column] = stroke.sign
            elif seen.setdefault((row, column), stroke.sign) != stroke.sign:
                cells[frame.top + row][frame.left + column] = SHARED


def _draw_bands(cells: Cells, frame: PlotFrame, bands: Sequence[BaselineBand]) -> None:
    """Draw two broken lines for each band, each beginning in a column of its own."""
    for start, band in enumerate(bands):
        for edge in band.edges:
            row = frame.row(edge)
            if row is None:
                continue
            line = cells[frame.top + row]
            for place in range(frame.left + start, frame.left + frame.columns, 4):
                if line[place] == " ":
                    line[place] = BAND[band.name]


def small_axes(series: Series, first: int, last: int, width: int, height: int) -> tuple[Axis, Axis]:
    """Make the axes of a small plot: days shared with others, angles of its own."""
    across = day_axis({first: "", last: ""}, width, dates=False)
    return across, degree_axis(angles_of([series]), height)
