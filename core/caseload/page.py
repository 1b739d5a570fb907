"""A caseload as one HTML page: a small picture and a table for each muscle group.

No script, nothing fetched, all text escaped, as in the report of one session.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from svg import SVG, Element, Line, Polyline
from svg import Point as Spot

from ..report.html import html_page
from ..report.html_svg import drawing, label, mark
from ..tardieu.muscles import Muscle
from ..text import counted
from .caseload import CAUTION, Caseload
from .figures import Spread
from .summary import ANGLES, StationSummary, WindowSummary
from .words import (
    NOTHING,
    back_words,
    change_words,
    choice_words,
    composite_words,
    mean_words,
    notes,
    recorder_words,
    rest_words,
    station_title,
    title_words,
    with_n,
)

TITLES = ("n", "missed", "R1", "R1 n", "R2", "gap", "beyond", "gone")
"""Of the columns after the window; the rule of the clinic has one more."""

DRAWN = (
    "In the pictures R1 is the broken line with triangles, R2 the whole line with discs. Beyond:"
    " changes of R1 and R2 beyond their measurement error, of so many, and in brackets how"
    " many of them chance alone makes. Gone: catches gone."
)

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 260, 100, 26, 8, 8, 16
STEPS = (5, 10, 20, 30, 45, 90)


@dataclass(frozen=True, slots=True)
class Card:
    """One muscle group on the page.

    Attributes:
        title: muscle group and side.
        cycles: in how many it was treated, and measured before.
        drawing: mean changes of R1 and R2 over the windows, as markup.
        rows: a row of the table for each window.
        lines: what was counted.
    """

    title: str
    cycles: str
    drawing: object
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[str, ...]


def render_page(caseload: Caseload, muscles: Mapping[str, Muscle], made_by: str) -> str:
    """Write the page, UTF-8 text."""
    return html_page(
        "caseload",
        title=title_words(caseload),
        choice=choice_words(caseload, muscles),
        notes=[*notes(caseload), *composite_words(caseload), DRAWN],
        titles=[*TITLES, *(["rule"] if caseload.terms.rule else [])],
        cards=[_card(station, caseload, muscles) for station in caseload.stations],
        recorders=[recorder_words(one) for one in caseload.recorders],
        caution=CAUTION,
        made_by=made_by,
    )


def _card(station: StationSummary, caseload: Caseload, muscles: Mapping[str, Muscle]) -> Card:
    from markupsafe import Markup

    title = station_title(station, muscles)
    before = sum(found.n for found in station.windows if found.window.first <= 0)
    picture = changes_drawing(title, station.windows)
    counts = [
        f"{found.window.name}: {words}."
        for found in station.windows
        if (words := rest_words(found))
    ]
    lines = [*counts, mean_words(station, caseload), back_words(station.back)]
    return Card(
        title,
        f"{counted(station.cycles, 'cycle')}, {before} measured before",
        Markup(picture.as_str() if picture else ""),  # noqa: S704 - its texts are escaped
        tuple(
            _cells(found, bool(caseload.terms.rule))
            for found in station.windows
            if found.window.first > 0
        ),
        tuple(filter(None, lines)),
    )


def _cells(found: WindowSummary, with_rule: bool) -> tuple[str, ...]:
    r1, r2, gap = (change_words(found.changes[angle]) for angle in ANGLES)
    changes = (r1, str(found.changes["r1"].n), r2, gap)
    judged = found.larger + found.within
    beyond = f"{found.larger}/{judged} ({found.by_chance:.1f})" if judged else NOTHING
    counts = (str(found.n), str(found.missed))
    rule = (f"{found.rule_met}/{found.rule_known}",) if with_rule else ()
    return (found.window.name, *counts, *changes, beyond, str(found.catch_gone), *rule)


def changes_drawing(title: str, windows: Sequence[WindowSummary]) -> SVG | None:
    """Draw the mean changes of R1 and R2 with their intervals; None where there is none."""
    after = [found for found in windows if found.window.first > 0]
    ends = [0.0]
    for found in after:
        for angle in ("r1", "r2"):
            one = found.changes[angle]
            ends += [value for value in (one.mean, one.low, one.high) if value is not None]
    if len(ends) == 1:
        return None
    step = next((s for s in STEPS if (max(ends) - min(ends)) / s <= 5), STEPS[-1])
    low, high = min(ends) // step * step, -(-max(ends) // step) * step
    frame = _Frame(len(after), low, max(high, low + step))
    elements = [*_grid(frame, step)]
    for angle, shift in (("r1", -4.0), ("r2", 4.0)):
        elements += _line(after, frame, angle, shift)
    for place, found in enumerate(after):
        elements.append(label(frame.x(place), HEIGHT - 3, found.window.name, "middle"))
    name = f"{title}: mean change of R1 (triangles) and R2 (discs) since before the treatment, deg"
    return drawing(WIDTH, HEIGHT, name, elements)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things are in a picture.

    Attributes:
        windows: how many.
        low: lowest change drawn, deg.
        high: highest.
    """

    windows: int
    low: float
    high: float

    def x(self, place: int) -> float:
        """The middle of a window."""
        return LEFT + (place + 0.5) / self.windows * (WIDTH - LEFT - RIGHT)

    def y(self, change: float) -> float:
        """A change."""
        share = (change - self.low) / (self.high - self.low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)


def _grid(frame: _Frame, step: int) -> Iterator[Element]:
    change = frame.low
    while change <= frame.high:
        y, is_zero = round(frame.y(change), 1), change == 0
        opacity = None if is_zero else 0.4
        style = ["zero" if is_zero else "axis"]
        yield Line(x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y, class_=style, stroke_opacity=opacity)
        yield label(LEFT - 4, y + 3, f"{change:+.0f}" if change else "0", "end")
        change += step


def _line(
    windows: Sequence[WindowSummary], frame: _Frame, angle: str, shift: float
) -> Iterator[Element]:
    """Draw one angle: marks with their intervals, joined by a line."""
    spots: list[Spot] = []
    for place, found in enumerate(windows):
        one: Spread = found.changes[angle]
        if one.mean is None:
            continue
        x, y = frame.x(place) + shift, frame.y(one.mean)
        spots.append(Spot(round(x, 1), round(y, 1)))
        if one.low is not None and one.high is not None:
            top, bottom = round(frame.y(one.high), 1), round(frame.y(one.low), 1)
            yield Line(x1=round(x, 1), x2=round(x, 1), y1=top, y2=bottom, class_=[f"{angle}mark"])
        words = f"{angle.upper()}, {found.window.name}, deg: {with_n(one)}"
        yield mark(x, y, "triangle" if angle == "r1" else "disc", f"{angle}mark", words)
    if len(spots) > 1:
        yield Polyline(points=spots, class_=[angle])
