"""The body chart in plain characters: a person from the front or the back, 17 by 17 cells.

Our own drawing, with no character that is a mark on it too (letters, digits, ``-``).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from ..language import N_, pgettext
from .muscle import MIDLINE, Place
from .reading import Side

FIGURE = (
    "       ___       ",
    "      /   \\      ",
    "      \\___/      ",
    "    ___) (___    ",
    "  /           \\  ",
    " /   \\     /   \\ ",
    " |  ||     ||  | ",
    " |  |\\     /|  | ",
    " | | |     | | | ",
    " | |/       \\| | ",
    " (  |       |  ) ",
    "  \\/|   |   |\\/  ",
    "    |   |   |    ",
    "    \\   |   /    ",
    "     |  |  |     ",
    "     | / \\ |     ",
    "    /__| |__\\    ",
)

View = Literal["front", "back"]

TENS = 9
"""The largest digit of a gap: 90 deg and more."""

GAP_SIGNS = N_("digit: tens of the gap, deg; -: no catch; x: not tested; ?: no R2")
"""What gap_sign() writes, in words."""


def gap_sign(gap: int | None, catch: bool | None) -> str:
    """Write the gap of a station in one character.

    Args:
        gap: deg; None where there is none. One below 0 counts as 0.
        catch: whether there was a catch; None where it was not tested.
    """
    if catch is None:
        return "x"
    if gap is None:
        return "?" if catch else "-"
    return str(min(TENS, max(0, gap) // 10))


def view_words(view: str) -> tuple[str, str, str]:
    """Say what stands above a figure from left to right: a side, the view, the other side.

    On the front the patient's right is on the viewer's left.
    """
    left, right = pgettext("body chart", "Left"), pgettext("body chart", "Right")
    if view == "front":
        return right, pgettext("body chart", "front"), left
    return left, pgettext("body chart", "back"), right


def column(view: str, side: Side, lateral: int) -> int:
    """Find the column of a place; on the front the patient's right is on the viewer's left."""
    viewer_left = (view == "front") == (side is Side.RIGHT)
    return MIDLINE - lateral if viewer_left else MIDLINE + lateral


def figure_lines(marks: Mapping[tuple[Place, Side], str], view: View) -> list[str]:
    """Draw one view with marks, one character each, at their places."""
    rows = [list(row) for row in FIGURE]
    for (place, side), mark in marks.items():
        if place.view == view:
            rows[place.row][column(view, side, place.lateral)] = mark
    return ["".join(row) for row in rows]
