"""Trends of one station in a report, small and large: R1 and R2 over the sessions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from svg import SVG, Circle, Element, Line, Polyline
from svg import Point as Spot

from ..change.trend import Point, Series
from ..language import day_words, gettext
from .html_svg import Shape, drawing, label, mark
from .model import ReportStation

WIDTH, HEIGHT = 460, 190
LEFT, RIGHT, TOP, BOTTOM = 38, 14, 26, 42
STEPS = (5, 10, 20, 30, 45, 90)
"""deg between lines of the grid."""

_MOST_LINES = 6


@dataclass(frozen=True, slots=True)
class TrendArea:
    """Where days and angles lie in the drawing."""

    first: date
    last: date
    low: int
    high: int

    def x(self, day: date) -> float:
        """Find the place of a day."""
        share = (day - self.first).days / max(1, (self.last - self.first).days)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def y(self, angle: int) -> float:
        """Find the place of a stretch angle, deg; more stretch is higher."""
        share = (angle - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def trend_drawing(station: ReportStation) -> SVG | None:
    """Draw the trend; None where there are not two sessions with an angle.

    R1 is drawn only where it was read at this station's fast velocity.
    """
    points = station.series.points
    velocity = station.reading.fast_velocity
    r1 = [(p, p.r1) for p in points if p.reading.fast_velocity == velocity]
    r2 = [(p, p.r2) for p in points]
    angles = [angle for _, angle in (*r1, *r2) if angle is not None]
    if len({p.day for p, angle in (*r1, *r2) if angle is not None}) < 2:
        return None
    step = _step(min(angles), max(angles))
    low, high = min(angles) // step * step, -(-max(angles) // step) * step
    frame = TrendArea(points[0].day, points[-1].day, low, high if high > low else low + step)
    name = f"Trend of {station.title}: R1 and R2 as stretch angle, deg"
    drawn = [*_grid(frame, step), *_dates(points, frame), *_treated(station, frame)]
    drawn += [*_line(r1, frame, "r1"), *_line(r2, frame, "r2"), *_legend(velocity)]
    return drawing(WIDTH, HEIGHT, name, drawn)


SPARK_WIDTH, SPARK_HEIGHT, SPARK_EDGE = 76, 15, 3


def spark_drawing(series: Series, title: str, velocity: str) -> SVG | None:
    """Draw a small trend for a row, without axes; None where there are not two sessions.

    Args:
        series: R1 and R2 over some sessions.
        title: of its station, for whoever does not see it.
        velocity: fast velocity of the R1 that is drawn.
    """
    points = series.points
    r1 = [(p.day, p.r1) for p in points if p.r1 is not None and p.reading.fast_velocity == velocity]
    r2 = [(p.day, p.r2) for p in points if p.r2 is not None]
    days, angles = [day for day, _ in (*r1, *r2)], [angle for _, angle in (*r1, *r2)]
    if len(set(days)) < 2:
        return None
    first, low = min(days), min(angles)
    long, high = (max(days) - first).days, max(max(angles) - low, STEPS[0])

    def spot(day: date, angle: int) -> Spot:
        x = SPARK_EDGE + (day - first).days / long * (SPARK_WIDTH - 2 * SPARK_EDGE)
        y = SPARK_HEIGHT - SPARK_EDGE - (angle - low) / high * (SPARK_HEIGHT - 2 * SPARK_EDGE)
        return Spot(round(x, 1), round(y, 1))

    elements: list[Element] = []
    for values, style in ((r1, "r1"), (r2, "r2")):
        spots = [spot(*each) for each in values]
        if len(spots) > 1:
            elements.append(Polyline(points=spots, class_=["spark", style]))
        elements += [Circle(cx=s.x, cy=s.y, r=1.5, class_=[f"{style}mark"]) for s in spots[-1:]]
    return drawing(
        *(SPARK_WIDTH, SPARK_HEIGHT), gettext("Trend of {title}").format(title=title), elements
    )


def _step(low: int, high: int) -> int:
    return next((step for step in STEPS if (high - low) / step <= _MOST_LINES - 2), STEPS[-1])


def _grid(frame: TrendArea, step: int) -> Iterator[Element]:
    for angle in range(frame.low, frame.high + 1, step):
        y = round(frame.y(angle), 1)
        yield Line(x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y, class_=["axis"], stroke_opacity=0.4)
        yield label(LEFT - 5, y + 3, str(angle), "end")


def _dates(points: Sequence[Point], frame: TrendArea) -> Iterator[Element]:
    """Draw the first and the last date in words, and a tick for each session."""
    bottom = HEIGHT - BOTTOM
    for point in points:
        x = round(frame.x(point.day), 1)
        yield Line(x1=x, x2=x, y1=bottom, y2=bottom + 4, class_=["axis"])
    yield label(LEFT, HEIGHT - 6, day_words(frame.first))
    if frame.last != frame.first:
        yield label(WIDTH - RIGHT, HEIGHT - 6, day_words(frame.last), "end")


def _treated(station: ReportStation, frame: TrendArea) -> Iterator[Element]:
    """Draw a dotted line and a letter for what was done between the first and the last session."""
    for event in station.events:
        if frame.first <= event.day <= frame.last:
            x = round(frame.x(event.day), 1)
            yield Line(x1=x, x2=x, y1=TOP, y2=HEIGHT - BOTTOM, class_=["treated"])
            yield label(x, HEIGHT - BOTTOM + 14, event.letter, "middle")


def _line(
    values: Sequence[tuple[Point, int | None]], frame: TrendArea, style: str
) -> Iterator[Element]:
    """Draw one angle over the sessions; the line breaks where there is none."""
    run: list[Spot] = []
    for point, angle in (*values, (None, None)):
        if point is not None and angle is not None:
            run.append(Spot(round(frame.x(point.day), 1), round(frame.y(angle), 1)))
            continue
        if len(run) > 1:
            yield Polyline(points=run, class_=[style])
        run = []
    for point, angle in values:
        if angle is not None:
            words = f"{style.upper()} {angle} deg on {point.date_words}"
            shape: Shape = "triangle" if style == "r1" else "disc"
            yield mark(frame.x(point.day), frame.y(angle), shape, f"{style}mark", words)


def _legend(velocity: str) -> Iterator[Element]:
    yield mark(LEFT + 4, 9, "triangle", "r1mark", "R1")
    yield label(LEFT + 14, 12, f"R1, catch at {velocity} (broken line)")
    yield mark(LEFT + 164, 9, "disc", "r2mark", "R2")
    yield label(LEFT + 174, 12, "R2, slow range (whole line); stretch angle, deg")
