"""The full report as plain text: its page first, then pages of 60 lines of 80 columns.

Every further page begins with who, when, which record, and which page of how many; form feeds
part the pages and are the only control characters but line ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain

from ..text import folded, shown
from .model import Fact, Report, ReportStation, page_in
from .page import Page
from .page_text import WIDTH, page_text

PAGE = 60
"""Lines of a page behind the first."""

HEADER = 3
"""Lines of its head."""

Block = tuple[str, ...]
"""Lines that are kept on one page where they fit."""


def render_text(what: Page | Report, ascii_only: bool = False) -> str:
    """Write the page, or the full report, a form feed between pages.

    Args:
        what: the page or the report.
        ascii_only: write letters beyond ASCII as escapes.
    """
    further = further_pages(what, ascii_only) if isinstance(what, Report) else ()
    return "\f".join((page_text(page_in(what), ascii_only), *further))


def further_pages(report: Report, ascii_only: bool = False) -> list[str]:
    """Write the pages behind the first, each ending with a line end."""
    pages = _paged(_blocks(report, ascii_only), PAGE - HEADER)
    count = len(pages) + 1
    return [
        "".join(f"{row.rstrip()}\n" for row in (*_head(report, number, count), *page))
        for number, page in enumerate(pages, 2)
    ]


def _head(report: Report, number: int, count: int) -> Block:
    page = report.page
    left = f"{page.code}  {page.date}  record {page.record}"
    right = f"page {number} of {count}"
    return (f"{left[: WIDTH - len(right) - 1]:<{WIDTH - len(right)}}{right}", "-" * WIDTH, "")


def _paged(blocks: Iterable[Block], room: int) -> list[list[str]]:
    """Put the blocks on pages; one that fits a page is not parted."""
    pages: list[list[str]] = [[]]
    for block in blocks:
        if len(block) <= room < len(pages[-1]) + len(block):
            pages.append([])
        for row in block:
            if len(pages[-1]) == room:
                pages.append([])
            if row or pages[-1]:  # no page begins with an empty line
                pages[-1].append(row)
    return [page for page in pages if page] or [[]]


def _blocks(report: Report, ascii_only: bool) -> Iterator[Block]:
    """Write everything behind the page."""

    def fold(text: str, first: str = "", after: str = "  ") -> list[str]:
        return folded(shown(text, ascii_only), WIDTH, first, after)

    def section(title: str, items: Sequence[Fact | str]) -> Iterator[Block]:
        """Write a title with its items, nothing where there are none; it may run over pages."""
        head: Block = (title.upper(),)
        for item in items:
            yield (*head, *(fold(item.line) if isinstance(item, Fact) else fold(item, "- ")))
            head = ()
        if items:
            yield ("",)

    for part in report.opening:
        yield from section(*part)
    title: Block = ("STATION BY STATION", *fold(report.signs), "")
    for station in report.stations:
        lines = [fold(line, "  ", "    ") for line in station_lines(station, report.page.before)]
        yield (*title, *fold(station.title), *chain.from_iterable(lines), "")
        title = ()
    for part in report.closing:
        yield from section(*part)
    yield (f"Made by {report.page.made_by}.",)


def station_lines(station: ReportStation, before: str) -> Iterator[str]:
    """Say everything about one station, a line each.

    Args:
        station: the station.
        before: date of the session compared with, "" without one.
    """
    yield station.values
    yield station.plain
    if station.reference:
        yield station.reference
    for note in station.notes:
        yield note.line
    if before:
        yield f"since {before}: {station.pattern}"
    if station.warning:
        yield f"CAREFUL: {station.warning}"
    for shift in station.shifts:
        yield f"change: {shift.words}"
    for fact in station.unfair:
        yield f"not a fair comparison of {fact.line}"
    if station.sources:
        yield f"sources: {station.sources}"
