"""A report as plain text to read and to print: 80 columns, pages of 60 lines, ASCII only.

Every page begins with who, when, which record, and which page of how many; form feeds part
the pages and are the only control characters but line ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from ..text import visible
from .model import COLUMNS, Fact, Report, ReportStation

WIDTH, PAGE = 80, 60
"""Columns of a line, lines of a page."""

HEADER = 3
"""Lines of a page's head."""

_WIDTHS = (24, 5, 4, 10, 10, 7, 4, 9)
"""Columns of the table; with a blank between them WIDTH together."""

Block = tuple[str, ...]
"""Lines that are kept on one page where they fit."""


def plain(text: str) -> str:
    """Write the text as printable ASCII: everything else as an escape."""
    return visible(text).encode("ascii", "backslashreplace").decode("ascii")


def render_text(reports: Iterable[Report]) -> str:
    """Write reports as text, a form feed between pages and between patients."""
    return "\f".join(page for report in reports for page in pages_of(report))


def render_report(report: Report) -> str:
    """Write one report as text."""
    return render_text((report,))


def pages_of(report: Report) -> list[str]:
    """Write the pages of one report, each ending with a line end."""
    pages = _paged(_blocks(report), PAGE - HEADER)
    count = len(pages)
    return [
        "".join(f"{row.rstrip()}\n" for row in (*_head(report, number, count), *page))
        for number, page in enumerate(pages, 1)
    ]


def _head(report: Report, number: int, count: int) -> Block:
    left = f"{plain(report.code)}  {plain(report.date)}  record {plain(report.record)}"
    page = f"page {number} of {count}"
    return (f"{left[: WIDTH - len(page) - 1]:<{WIDTH - len(page)}}{page}", "-" * WIDTH, "")


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


def _blocks(report: Report) -> Iterator[Block]:
    yield ("REPORT OF A SESSION, Tardieu scale", *_wrapped(report.patient), "")
    yield (*_wrapped(report.caution), "")
    yield from _section("Who measured", report.people)
    yield from _section("Conditions", report.conditions)
    yield from _section("In short", report.summary)
    yield from _table(report)
    yield from _section(f"Not alike since {report.before}", report.unlike)
    yield from _section("Not in the table", report.missing)
    yield from _section("Treatment dates up to this session", report.events)
    title: Block = ("STATION BY STATION", "")
    for station in report.stations:
        yield (*title, *_station(station, report.before))
        title = ()
    for section in report.closing:
        yield from _section(*section)
    yield (f"Made by {plain(report.made_by)}.",)


def _section(title: str, items: Sequence[Fact | str]) -> Iterator[Block]:
    """Write a title with its items, nothing where there are none; it may run over pages."""
    head: Block = (plain(title).upper(),)
    for item in items:
        fact = isinstance(item, Fact)
        yield (*head, *(_wrapped(item.line, "", "    ") if fact else _wrapped(item, "- ", "  ")))
        head = ()
    if items:
        yield ("",)


def _wrapped(text: str, first: str = "", after: str = "") -> list[str]:
    rows = wrap(
        plain(text),
        WIDTH,
        initial_indent=first,
        subsequent_indent=after,
        break_on_hyphens=False,  # neither an angle nor the id of a scale is parted at its minus
    )
    return rows or [first]


def _table(report: Report) -> Iterator[Block]:
    yield ("READINGS: angles in deg as read, gap and shortfall in deg", _row(COLUMNS), _rule())
    for station in report.stations:
        yield (_row(station.cells),)
    yield ("",)


def _row(cells: Sequence[str]) -> str:
    shown = [plain(cell) for cell in cells]
    fitted = [
        (cell if len(cell) <= width else f"{cell[: width - 1]}~").ljust(width)
        for cell, width in zip(shown, _WIDTHS, strict=True)
    ]
    return " ".join(fitted).rstrip()


def _rule() -> str:
    return " ".join("-" * width for width in _WIDTHS)


def _station(station: ReportStation, before: str) -> Iterator[str]:
    """Write everything about one station."""
    yield from _wrapped(station.title)
    yield from _indented(station.values)
    yield from _indented(station.plain)
    if station.reference:
        yield from _indented(station.reference)
    for note in station.notes:
        yield from _indented(note.line)
    if before:
        yield from _indented(f"since {before}: {station.pattern}")
    if station.warning:
        yield from _indented(f"CAREFUL: {station.warning}")
    for shift in station.shifts:
        yield from _wrapped(shift.words, "    ", "      ")
    for fact in station.unfair:
        yield from _wrapped(f"not a fair comparison of {fact.line}", "    ! ", "      ")
    if station.sources:
        yield from _wrapped(f"MDC from {station.sources}", "    ", "      ")
    yield ""


def _indented(text: str) -> list[str]:
    return _wrapped(text, "  ", "    ")
