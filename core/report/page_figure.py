"""The body chart of a page in letters: the tens of the gap where each muscle group is."""

from __future__ import annotations

from ..language import gettext
from ..tardieu.figure import FIGURE, GAP_SIGNS, View, figure_lines, gap_sign, view_words
from ..tardieu.muscle import Place
from ..tardieu.reading import Side
from .page import Page

_APART = "   "

_WIDE = len(FIGURE[0])


def _above(view: View) -> str:
    """Write the sides and the view above a figure."""
    first, words, last = view_words(view)
    return f"{first}{words:^{_WIDE - len(first) - len(last)}}{last}"


def figure_rows(page: Page) -> list[str]:
    """Draw front and back as they are now, beside before where there is a session to compare."""
    before, now = (gettext("before"), 0), (gettext("now"), 1)
    halves = [before, now] if page.compared else [now]
    views: tuple[View, View] = ("front", "back")
    figures = [figure_lines(_marks(page, when), view) for _, when in halves for view in views]
    lines = [_APART.join(parts) for parts in zip(*figures, strict=True)]
    width = 2 * _WIDE + len(_APART)
    times = _APART.join(f"{title:^{width}}" for title, _ in halves)
    sides = _APART.join(_above(view) for _ in halves for view in views)
    return [*([times] if page.compared else ()), sides, *lines, gettext(GAP_SIGNS)]


def _marks(page: Page, when: int) -> dict[tuple[Place, Side], str]:
    """Find the letter of each place, of before (0) or now (1); of several the largest gap."""
    found: dict[tuple[Place, Side], tuple[int, str]] = {}
    for row in page.every_row:
        if row.place is None or (when == 0 and not row.measured_before):
            continue
        spot, gap = (row.place, row.side), row.gap[when]
        sign = gap_sign(gap, row.catch[when])
        rank = -1 if gap is None else gap
        if spot not in found or rank > found[spot][0]:
            found[spot] = rank, sign
    return {spot: sign for spot, (_, sign) in found.items()}
