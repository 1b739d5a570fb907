"""The body chart of a report: front and back, a mark for every reading of the session."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from svg import SVG, Circle, Element, Rect

from ..tardieu.muscle import LAST_ROW, MIDLINE, Place
from ..tardieu.reading import Side
from .html_svg import Shape, drawing, label, mark
from .model import STATES

CELL = 14
"""Width and height of a body chart cell in the drawing."""

TOP = 26
FIGURE = (2 * MIDLINE + 1) * CELL
WIDTH = 2 * FIGURE + 2 * CELL
LEGEND_ROW = 14
HEIGHT = TOP + (LAST_ROW + 1) * CELL + (len(STATES) + 1) * LEGEND_ROW

SHAPES: dict[str, tuple[Shape, str]] = {
    "done": ("disc", "done"),
    "flagged": ("triangle", "flagged"),
    "not tested": ("square", "nottested"),
    "open": ("ring", "open"),
}
"""State -> shape, and class in the style sheet."""

_RANKS = ("flagged", "open", "not tested", "done")
"""Of two readings of one place the one that needs more attention is drawn."""


@dataclass(frozen=True, slots=True)
class BodyMark:
    """What is drawn of one station."""

    place: Place
    side: Side
    gap: int | None
    short: bool
    catch: bool | None
    tested: bool
    words: str

    @property
    def state(self) -> str:
        """Key of STATES."""
        return "done" if self.tested else "not tested"

    @property
    def title(self) -> str:
        """What a browser shows."""
        return self.words


def body_drawing(stations: Sequence[BodyMark], before: Sequence[BodyMark] | None = None) -> SVG:
    """Draw both figures with the marks of these readings."""
    elements: list[Element] = []
    for view, left in (("front", 0), ("back", FIGURE + 2 * CELL)):
        elements += _figure(view, left)
    elements += [_mark(group) for group in _by_place(stations)]
    elements += _legend()
    return drawing(WIDTH, HEIGHT, "Body chart: what became of every station", elements)


def _figure(view: str, left: int) -> list[Element]:
    """Draw the outline of one figure; on the front the patient's right is on the viewer's left."""
    sides = ("Right", "Left") if view == "front" else ("Left", "Right")
    middle = left + (MIDLINE + 0.5) * CELL

    def box(x: float, y: float, width: float, height: float) -> Rect:
        return Rect(
            x=round(left + x * CELL),
            y=round(TOP + y * CELL),
            width=round(width * CELL),
            height=round(height * CELL),
            rx=6,
            class_=["outline"],
        )

    return [
        label(left + CELL, 12, sides[0]),
        label(middle, 12, view, "middle"),
        label(left + FIGURE - CELL, 12, sides[1], "end"),
        Circle(cx=round(middle), cy=round(TOP + 1.5 * CELL), r=20, class_=["outline"]),
        box(4, 3.5, 9, 7),
        box(0.5, 4, 3.5, 7.5),
        box(13, 4, 3.5, 7.5),
        box(4, 10.5, 4.5, 6.5),
        box(8.5, 10.5, 4.5, 6.5),
    ]


def _by_place(stations: Iterable[BodyMark]) -> Iterable[list[BodyMark]]:
    groups: dict[tuple[Place, Side], list[BodyMark]] = {}
    for station in stations:
        if station.place:
            groups.setdefault((station.place, station.side), []).append(station)
    return groups.values()


def _mark(group: Sequence[BodyMark]) -> Element:
    station = min(group, key=lambda each: _RANKS.index(each.state))
    assert station.place is not None, "stations without a place are not grouped"
    x, y = spot(station.place, station.side)
    words = "; ".join(f"{each.title}: {STATES[each.state]}" for each in group)
    return mark(x, y, *SHAPES[station.state], words)


def spot(place: Place, side: Side) -> tuple[float, float]:
    """Find the middle of a cell of the body chart in the drawing."""
    viewer_left = (place.view == "front") == (side is Side.RIGHT)
    column = MIDLINE - place.lateral if viewer_left else MIDLINE + place.lateral
    left = 0 if place.view == "front" else FIGURE + 2 * CELL
    return left + (column + 0.5) * CELL, TOP + (place.row + 0.5) * CELL


def _legend() -> list[Element]:
    elements: list[Element] = []
    for number, (state, words) in enumerate(STATES.items(), 1):
        y = TOP + (LAST_ROW + 1) * CELL + number * LEGEND_ROW
        elements += [mark(CELL, y - 3, *SHAPES[state], words), label(2 * CELL, y, words)]
    return elements
