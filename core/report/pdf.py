"""A page, or a full report, as PDF; needs the extra ``pdf``.

The content and its order are those of the HTML form. The date inside is that of the session,
so the same report gives the same bytes. The modules pdf*.py are the only ones that know the
library; it writes no tags for screen readers beyond the language and the headings.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..language import gettext
from .html_trend import trend_drawing
from .model import Fact, Report, ReportStation, page_in
from .page import Page
from .pdf_page import Fit, best_fit, put_page
from .pdf_paper import SIZES, Paper
from .text import station_lines


def render_pdf(what: Page | Report) -> bytes:
    """Write a page, or a full report, as a PDF."""
    page = page_in(what)
    fit = best_fit(page)
    paper = _laid_out(what, fit, 0)
    if paper.page_no() > 1:  # how many pages there are is only known when they are laid out
        paper = _laid_out(what, fit, paper.page_no())
    paper.set_title(paper.written(f"{gettext('Report')} {page.code}, {page.date}"))
    paper.set_creator(paper.written(page.made_by))
    paper.set_creation_date(page.when)
    return bytes(paper.output())


def _laid_out(what: Page | Report, fit: Fit, count: int) -> Paper:
    page = page_in(what)
    paper = Paper()
    record = gettext("record {record}").format(record=page.record)
    paper.head = paper.written(f"{page.code}  {page.date}  {record}")
    paper.count, paper.head_on_first = count, False
    put_page(paper, page, fit)
    if isinstance(what, Report):
        _put_rest(paper, what)
    return paper


def _put_rest(paper: Paper, report: Report) -> None:
    """Put everything behind the page on pages of its own."""
    paper.add_page()
    for title, items in report.opening:
        _section(paper, title, items)
    paper.heading("Station by station")
    if report.signs:
        paper.say(report.signs)
    for station in report.stations:
        _station(paper, station, report.page.before)
    for title, items in report.closing:
        _section(paper, title, items)


def _section(paper: Paper, title: str, items: Sequence[Fact | str]) -> None:
    """Write a title with its items, nothing where there are none."""
    if items:
        paper.heading(title)
    for item in items:
        paper.say(f"- {item.line if isinstance(item, Fact) else item}", indent=2)


def _station(paper: Paper, station: ReportStation, before: str) -> None:
    """Write everything about one station."""
    paper.heading(station.title, "station", 2)
    for line in station_lines(station, before):
        style = "S" if line.startswith("SUPERSEDED") else "B" if line.startswith("CARE") else ""
        paper.say(f"- {line}", style, SIZES["text"], indent=2)
    picture = trend_drawing(station)
    if picture is not None:
        paper.ln(1)
        paper.drawn(picture, 0.22)
