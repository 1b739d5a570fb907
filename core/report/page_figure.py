"""The body chart of a page in letters: the tens of the gap where each muscle group is."""

from __future__ import annotations

from collections.abc import Iterable

from ..language import gettext
from ..tardieu.figure import FIGURE, View, figure_lines, view_words
from ..tardieu.muscle import Place
from ..tardieu.reading import Side
from .page import Page
from .page_marks import BodyMark, at_places, body_marks, signs_words

_APART = "   "

_WIDE = len(FIGURE[0])


def _above(view: View) -> str:
    """Write the sides and the view above a figure."""
    first, words, last = view_words(view)
    return f"{first}{words:^{_WIDE - len(first) - len(last)}}{last}"


def figure_rows(page: Page) -> list[str]:
    """Draw front and back as they are now, beside before where there is a session to compare."""
    now, before = body_marks(page)
    halves = [] if before is None else [(gettext("before"), _signs(before))]
    halves.append((gettext("now"), _signs(now)))
    views: tuple[View, View] = ("front", "back")
    figures = [figure_lines(signs, view) for _, signs in halves for view in views]
    lines = [_APART.join(parts) for parts in zip(*figures, strict=True)]
    width = 2 * _WIDE + len(_APART)
    times = _APART.join(f"{title:^{width}}" for title, _ in halves)
    sides = _APART.join(_above(view) for _ in halves for view in views)
    return [*([times] if page.compared else ()), sides, *lines, signs_words(now, before)]


def _signs(marks: Iterable[BodyMark]) -> dict[tuple[Place, Side], str]:
    return {(one.place, one.side): one.sign for one, *_ in at_places(marks)}
