"""The body chart of a report: front and back, before beside now, a region for each muscle group.

How dark a region is and the digit in it say the tens of the gap; a bar under the digit, that
the slow range ends short of the reference. Shape, digit and bar say all of it without colour.
The outline is drawn in cells of the body chart, so every place of a muscle group lies on it.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from svg import SVG, Element, G, Line, Point, Polygon

from ..language import gettext
from ..tardieu.figure import TENS, view_words
from ..tardieu.muscle import LAST_ROW, MIDLINE, Place
from ..tardieu.reading import Side
from .html_svg import drawing, label, tip
from .outline import HEAD, OUTLINE, SIZES, USUAL, smooth
from .page_marks import BodyMark, at_places, signs_words

CELL = 11
"""Units of a cell of the body chart."""

FIGURE = (2 * MIDLINE - 1) * CELL
"""Width of one figure; the outermost cells hold no shipped muscle group and may overlap."""

TOP, FOOT = 24, 14
"""Units above the figures for titles, and below them for the legend."""

HEIGHT = TOP + (LAST_ROW + 1) * CELL + FOOT

LETTER = 4.8
"""Width of a letter of a label, in units of the drawing, wider than most are."""

LIGHT, DARK = (236, 243, 250), (10, 50, 105)
"""Red, green and blue of a gap under 10 deg, and of one of 90 deg and more."""

FIRST_LIGHT = 6
"""Tens from which on the digit is white: each has a contrast of 4.5 to 1 and more."""


def body_drawing(now: Sequence[BodyMark], before: Sequence[BodyMark] | None = None) -> SVG:
    """Draw both figures with these marks, beside those of before if there are any."""
    halves = [(gettext("now"), now)]
    if before is not None:
        halves.insert(0, (gettext("before"), before))
    elements: list[Element] = []
    for number, (title, marks) in enumerate(halves):
        left = 2 * number * FIGURE
        if before is not None:
            elements.append(label(left + FIGURE, 9, title, "middle"))
        for view, start in (("front", left), ("back", left + FIGURE)):
            elements += _figure(view, start)
            elements += _regions([one for one in marks if one.place.view == view], start)
    width = 2 * len(halves) * FIGURE
    legend = signs_words(now, before, gettext("bar: R2 short of the reference"))
    lines = textwrap.wrap(legend, int(width / LETTER))
    for number, text in enumerate(lines):
        elements.append(label(width / 2, HEIGHT - 3 + 10 * number, text, "middle"))
    height = HEIGHT + 10 * (len(lines) - 1)
    return drawing(width, height, gettext("Body chart: the gap of every station"), elements)


def _figure(view: str, left: float) -> Iterator[Element]:
    """Draw one outline; on the front the patient's right is on the viewer's left."""
    middle, (first, words, last) = left + FIGURE / 2, view_words(view)
    yield label(middle - 4 * CELL, TOP, first, "middle")
    yield label(middle, TOP - 4, words, "middle")
    yield label(middle + 4 * CELL, TOP, last, "middle")
    for half in (OUTLINE, HEAD):
        other = [(-x, y) for x, y in reversed(half)]
        spots = [Point(round(middle + x * CELL, 1), _down(y)) for x, y in smooth([*half, *other])]
        yield Polygon(points=spots, class_=["outline"])


def _down(row: float) -> float:
    return round(TOP + row * CELL, 1)


def _regions(marks: Iterable[BodyMark], left: float) -> Iterator[Element]:
    """Draw each place once; of several readings there only the first is seen."""
    for group in at_places(marks):
        yield _region(group[0], "; ".join(one.words for one in group), left)


def _region(one: BodyMark, words: str, left: float) -> G:
    x, y = spot(one.place, one.side, left)
    wide, high = (size * CELL for size in SIZES.get(one.place, USUAL))
    oval = [(0.0, -high), (wide, -high / 2), (wide, high / 2), (0.0, high)]
    spots = [
        Point(round(x + dx, 1), round(y + dy, 1))
        for dx, dy in smooth([*oval, (-wide, high / 2), (-wide, -high / 2)])
    ]
    fill, dark = colour_of(one)
    elements: list[Element] = [
        tip(words),
        Polygon(points=spots, class_=["untested" if one.catch is None else "region"], fill=fill),
        label(x, y + 3, one.sign, "middle", light=dark),
    ]
    if one.short:
        bar = "lightbar" if dark else "bar"
        elements.append(Line(x1=x - 3, x2=x + 3, y1=y + 4.6, y2=y + 4.6, class_=[bar]))
    return G(class_=["mark"], elements=elements)


def colour_of(one: BodyMark) -> tuple[str, bool]:
    """Find the colour of a region as #rrggbb, and whether a light digit goes on it."""
    if not one.sign.isdigit():
        return "#ffffff", False
    share = int(one.sign) / TENS
    shade = [round(a + (b - a) * share) for a, b in zip(LIGHT, DARK, strict=True)]
    return "#" + "".join(f"{part:02x}" for part in shade), int(one.sign) >= FIRST_LIGHT


def spot(place: Place, side: Side, left: float = 0) -> tuple[float, float]:
    """Find the middle of a cell of the body chart in a figure that begins at ``left``."""
    viewer_left = (place.view == "front") == (side is Side.RIGHT)
    across = -place.lateral if viewer_left else place.lateral
    return left + FIGURE / 2 + across * CELL, TOP + (place.row + 0.5) * CELL
