"""What the drawings of a report share.

The drawing library writes texts as they are given, so every text comes through label() or
tip() here, which escape it. Classes are this program's own words and need no escaping.
"""

from __future__ import annotations

from html import escape
from typing import Literal

from svg import SVG, Circle, Element, G, Point, Polygon, Text, Title, ViewBoxSpec

from ..text import visible

Anchor = Literal["start", "middle", "end"]
Shape = Literal["disc", "triangle"]


def label(x: float, y: float, text: str, anchor: Anchor = "start", light: bool = False) -> Text:
    """Draw a text at a place; a light one on dark ground."""
    shown, style = escape(visible(text)), ["light"] if light else None
    return Text(x=_near(x), y=_near(y), text=shown, text_anchor=anchor, class_=style)


def tip(text: str) -> Title:
    """Make what a browser shows for a mark under the pointer, and reads aloud."""
    return Title(text=escape(visible(text)))


def mark(x: float, y: float, shape: Shape, style: str, words: str) -> G:
    """Draw a mark around a place; its shape says as much as its colour.

    Args:
        x: its middle.
        y: its middle.
        shape: its shape.
        style: class in the style sheet.
        words: what it means.
    """
    return G(class_=["mark", f"is-{shape}"], elements=[tip(words), _shape(x, y, shape, style)])


def _shape(x: float, y: float, shape: Shape, style: str) -> Element:
    x, y = _near(x), _near(y)
    if shape == "triangle":
        corners = [Point(x, _near(y - 5)), Point(_near(x - 5), _near(y + 4))]
        return Polygon(points=[*corners, Point(_near(x + 5), _near(y + 4))], class_=[style])
    return Circle(cx=x, cy=y, r=4, class_=[style])


def _near(value: float) -> float | int:
    """Round a place to a tenth, without a point where it is whole."""
    rounded = round(value, 1)
    return int(rounded) if rounded == int(rounded) else rounded


def drawing(width: int, height: int, name: str, elements: list[Element]) -> SVG:
    """Make a drawing with its name, for inline SVG."""
    return SVG(
        xmlns=None,  # HTML knows it; nothing in the file looks like an address then
        viewBox=ViewBoxSpec(0, 0, width, height),
        width=width,
        height=height,
        extra={"role": "img"},
        elements=[tip(name), *elements],
    )
