"""The drawings of a report, which are SVG for the browser, drawn on a page of a PDF.

Only what html_body.py and html_trend.py use is known here: lines, circles,
polygons, texts, and groups of them. What the style sheet says of a class is in LOOKS.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import unescape

from svg import SVG, Circle, Element, G, Line, Polygon, Polyline, Text

from .pdf_fonts import Letters

_LETTERS = 9 / 0.352778
"""Height of a drawing's letters: 9 units, in points of a drawing of 1 unit to 1 mm."""

Colour = tuple[int, int, int]
BLACK, GREY, WHITE = (17, 17, 17), (119, 119, 119), (255, 255, 255)
BLUE, ORANGE = (0, 82, 155), (179, 71, 0)


@dataclass(frozen=True, slots=True)
class Look:
    """How a class of the drawings looks; widths and dashes in units of the drawing."""

    stroke: Colour
    fill: Colour | None = None
    width: float = 1
    dash: float = 0
    gap: float = 0


LOOKS = {
    "outline": Look(GREY, WHITE),
    "axis": Look(GREY, width=0.6),
    "treated": Look(BLACK, dash=1, gap=3),
    "r1": Look(ORANGE, width=2, dash=5, gap=3),
    "r2": Look(BLUE, width=2),
    "r1mark": Look(ORANGE, WHITE, 2),
    "r2mark": Look(BLUE, BLUE),
    "region": Look(BLACK, width=0.6),
    "untested": Look(BLACK, width=0.6, dash=2, gap=1.5),
    "bar": Look(BLACK, width=1.2),
    "lightbar": Look(WHITE, width=1.2),
}
"""Class -> how it looks, as report.css says it; told apart by shape and dashes without colour."""


def size_of(picture: SVG) -> tuple[float, float]:
    """Read width and height of a drawing in its own units."""
    return _number(picture.width), _number(picture.height)


def draw(page: Letters, picture: SVG, left: float, top: float, scale: float) -> None:
    """Draw on the present page.

    Args:
        page: where.
        picture: what.
        left: mm from the left edge of the page.
        top: mm from its upper edge.
        scale: mm for a unit of the drawing.
    """
    with page.local_context():
        _Pen(page, left, top, scale).draw(picture.elements or ())


def _colour(text: object) -> Colour:
    """Read a colour written #rrggbb."""
    red, green, blue = bytes.fromhex(str(text).removeprefix("#"))
    return red, green, blue


def _number(value: object) -> float:
    assert isinstance(value, int | float), value
    return float(value)


@dataclass(frozen=True, slots=True)
class _Pen:
    """Draws elements at a place of a page."""

    page: Letters
    left: float
    top: float
    scale: float

    def draw(self, elements: Iterable[Element]) -> None:
        """Draw the elements in order; their titles are for browsers and left out."""
        for element in elements:
            if isinstance(element, G):
                self.draw(element.elements or ())
            elif isinstance(element, Text):
                self._text(element)
            elif isinstance(element, Line | Circle | Polygon | Polyline):
                self._shape(element)

    def _at(self, x: object, y: object) -> tuple[float, float]:
        return self.left + _number(x) * self.scale, self.top + _number(y) * self.scale

    def _text(self, text: Text) -> None:
        self.page.set_font(self.page.family, size=_LETTERS * self.scale)
        self.page.set_text_color(*(WHITE if "light" in (text.class_ or ()) else BLACK))
        words = self.page.written(unescape(text.text or ""))  # it was escaped for the browser
        x, y = self._at(text.x, text.y)
        before = {"middle": 0.5, "end": 1.0}.get(str(text.text_anchor), 0.0)
        self.page.text(x - before * self.page.get_string_width(words), y, words)

    def _shape(self, shape: Line | Circle | Polygon | Polyline) -> None:
        look = LOOKS[(shape.class_ or ["outline"])[0]]
        page, scale = self.page, self.scale
        page.set_draw_color(*look.stroke)
        page.set_line_width(look.width * scale)
        page.set_dash_pattern(look.dash * scale, look.gap * scale)
        fill = _colour(shape.fill) if isinstance(shape, Polygon) and shape.fill else look.fill
        if fill:
            page.set_fill_color(*fill)
        style = "DF" if fill else "D"
        if isinstance(shape, Line):
            page.line(*self._at(shape.x1, shape.y1), *self._at(shape.x2, shape.y2))
        elif isinstance(shape, Circle):
            page.circle(*self._at(shape.cx, shape.cy), _number(shape.r) * scale, style=style)
        else:
            points = [self._at(point.x, point.y) for point in shape.points or ()]
            page.polyline(points, polygon=isinstance(shape, Polygon), style=style)
