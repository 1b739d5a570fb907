"""A report as PDF: A4, selectable text, drawings as vectors; needs the extra ``pdf``.

The content and its order are those of the HTML report. Text is set in a font that every reader
of PDF has, so none is embedded: characters beyond Latin-1 are written as the escapes that the
text form has too. The date inside is that of the session, so the same report gives the same
bytes. This module and pdf_draw.py are the only ones that know the library.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from fpdf import FPDF
from fpdf.enums import XPos, YPos
from fpdf.fonts import FontFace
from svg import SVG

from .html_body import body_drawing
from .html_trend import trend_drawing
from .model import COLUMNS, Fact, Report, ReportStation
from .pdf_draw import FONT, draw, latin, size_of

MARGIN, LINE = 15.0, 4.6
"""mm: around a page, and from line to line."""

_SIZES = {"title": 14, "section": 11.5, "station": 10, "text": 9}
"""Letters, points."""

_WIDTHS = (52, 14, 13, 25, 25, 17, 13, 21)
"""mm of the columns of the table; together the width of a page between its margins."""

_LONGEST_CELL = 60
"""Characters; a row must fit a page, and every name is there whole at its station."""

_ROOM = 25.0
"""mm that must be left on a page to begin a section or a station there."""


class Paper(FPDF):
    """The pages; each begins with who, when, which record, and which page of how many."""

    def __init__(self) -> None:
        super().__init__(format="A4")
        self.set_margins(MARGIN, MARGIN, MARGIN)
        self.set_auto_page_break(True, MARGIN)
        self.set_lang("en")
        # Otherwise "{nb}" in a comment would be taken for a number of pages.
        self.str_alias_nb_pages = ""
        self.head = ""
        self.first, self.count = 1, 0

    def header(self) -> None:
        """Write the head of a page."""
        self.set_font(FONT, size=_SIZES["text"])
        page = f"page {self.page_no() - self.first + 1} of {self.count}"
        text, room = self.head, self.epw - self.get_string_width(page) - 4
        while self.get_string_width(text) > room:
            text = text[:-1]
        self.cell(self.epw - self.get_string_width(page), LINE, text)
        self.cell(0, LINE, page, align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.line(self.l_margin, self.y + 1, self.w - self.r_margin, self.y + 1)
        self.ln(4)

    def say(self, text: str, style: str = "", size: str = "text", indent: float = 0) -> None:
        """Write a paragraph.

        Args:
            text: its words.
            style: "B" bold, "S" struck through.
            size: key of the sizes.
            indent: mm from the left.
        """
        self.set_font(FONT, style, _SIZES[size])
        self.set_x(self.l_margin + indent)
        height = LINE * max(1.0, _SIZES[size] / 10)
        self.multi_cell(0, height, latin(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def heading(self, text: str, size: str = "section", level: int = 1) -> None:
        """Write a heading, not at the foot of a page; readers of PDF list it beside the pages."""
        if self.will_page_break(_ROOM):
            self.add_page()
        self.ln(2)
        self.start_section(latin(text), level)
        self.say(text, "B", size)


def render_pdf(reports: Iterable[Report]) -> bytes:
    """Write reports as one PDF; the pages of each are numbered by themselves."""
    paper = Paper()
    for report in reports:
        # How many pages there are is only known when they are laid out.
        count = _laid_out(report, Paper(), 0)
        _laid_out(report, paper, count)
        if paper.first == 1:
            paper.set_title(latin(f"Report {report.code}, {report.date}"))
            paper.set_creator(latin(report.made_by))
            paper.set_creation_date(report.when)
    return bytes(paper.output())


def _laid_out(report: Report, paper: Paper, count: int) -> int:
    """Put a report on pages of its own; returns how many they are."""
    paper.head = latin(f"{report.code}  {report.date}  record {report.record}")
    paper.first, paper.count = paper.page_no() + 1, count
    paper.add_page()
    paper.start_section(latin(f"{report.code}, {report.date}"), 0)
    paper.say("Report of a session, Tardieu scale", "B", "title")
    paper.say(f"{report.code}, {report.date}. Record {report.record}. {report.patient}.")
    paper.ln(1)
    paper.say(report.caution, "B")
    _section(paper, "In short", report.summary)
    _table(paper, report)
    paper.heading("Where")
    _drawn(paper, body_drawing(report.stations), 0.28)
    _section(paper, "Who measured", report.people)
    _section(paper, "Conditions", report.conditions)
    _section(paper, f"Not alike since {report.before}", report.unlike)
    _section(paper, "Not in the table", report.missing)
    _section(paper, "Treatment dates up to this session", report.events)
    paper.heading("Station by station")
    for station in report.stations:
        _station(paper, station, report.before)
    for title, items in report.closing:
        _section(paper, title, items)
    paper.ln(2)
    paper.say(f"Made by {report.made_by}.")
    return paper.page_no() - paper.first + 1


def _section(paper: Paper, title: str, items: Sequence[Fact | str]) -> None:
    """Write a title with its items, nothing where there are none."""
    if items:
        paper.heading(title)
    for item in items:
        paper.say(f"- {item.line if isinstance(item, Fact) else item}", indent=2)


def _table(paper: Paper, report: Report) -> None:
    paper.heading("Readings")
    paper.say("Angles in deg as read; gap and shortfall in deg.")
    paper.ln(1)
    paper.set_font(FONT, size=_SIZES["text"])
    numbers = ("LEFT", "LEFT", "LEFT", "RIGHT", "RIGHT", "RIGHT", "RIGHT", "RIGHT")
    bold = FontFace(emphasis="BOLD")
    with paper.table(
        col_widths=_WIDTHS, text_align=numbers, line_height=LINE, headings_style=bold
    ) as table:
        for cells in (COLUMNS, *(station.cells for station in report.stations)):
            row = table.row()
            for cell in cells:
                row.cell(_fitted(latin(cell)))


def _fitted(text: str) -> str:
    return text if len(text) <= _LONGEST_CELL else f"{text[: _LONGEST_CELL - 1]}~"


def _station(paper: Paper, station: ReportStation, before: str) -> None:
    """Write everything about one station."""
    paper.heading(station.title, "station", 2)
    for text, style in _lines(station, before):
        paper.say(text, style, indent=2)
    picture = trend_drawing(station)
    if picture is not None:
        paper.ln(1)
        _drawn(paper, picture, 0.28)


def _lines(station: ReportStation, before: str) -> Iterator[tuple[str, str]]:
    """Write the lines of a station with their styles."""
    yield f"{station.values}. {station.plain}.", ""
    if station.reference:
        yield station.reference, ""
    if station.warning:
        yield f"CAREFUL: {station.warning}", "B"
    for note in station.notes:
        yield f"- {note.line}", "S" if note.label == "SUPERSEDED" else ""
    if station.pattern:
        yield f"- since {before}: {station.pattern}", ""
    for shift in station.shifts:
        verdict = f" [{shift.verdict}]" if shift.verdict else ""
        yield f"- change: {shift.words}{verdict}", ""
    for fact in station.unfair:
        yield f"- not a fair comparison of {fact.line}", ""
    if station.sources:
        yield f"- MDC from {station.sources}", ""


def _drawn(paper: Paper, picture: SVG, scale: float) -> None:
    """Put a drawing below what was written, complete on one page."""
    _, height = size_of(picture)
    if paper.will_page_break(height * scale):
        paper.add_page()
    draw(paper, picture, paper.l_margin, paper.y, scale)
    paper.set_y(paper.y + height * scale + 1)
