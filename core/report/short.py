"""The short form of a page: plain lines of at most 120 characters, to paste into a record.

What changed and the treatment day come first, then every reading in few letters.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..language import gettext
from ..text import folded, shown
from .page import SCALE, Page, PageRow

WIDTH = 120
"""Characters of a line."""


def render_short(page: Page, ascii_only: bool = False) -> str:
    """Write the page in short, each line with its end."""
    lines = [
        line for text in _texts(page) for line in folded(shown(text, ascii_only), WIDTH, "", "  ")
    ]
    return "".join(f"{line}\n" for line in lines)


def _texts(page: Page) -> Iterator[str]:
    yield f"{page.code}, {page.title}, {gettext(SCALE)}. {page.counted}."
    yield from page.head
    yield " ".join(page.changes)
    yield gettext("R1/R2/quality: {values}.").format(values="; ".join(_by_muscle(page)))
    yield from page.beside
    yield from page.missing
    yield from page.goals
    yield f"{page.signed}. {page.caution}"


def _by_muscle(page: Page) -> Iterator[str]:
    """Write each muscle group with its sides."""
    groups: dict[str, list[PageRow]] = {}
    for row in page.every_row:
        groups.setdefault(row.name, []).append(row)
    for name, rows in groups.items():
        values = (
            f"{row.side.word} {row.r1[1]}/{row.r2[1]}/{row.quality[1]} {row.velocity}"
            for row in rows
        )
        yield f"{name} {', '.join(values)}"
