"""The page of a session on one sheet of a PDF: letters and body chart as large as they go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from svg import SVG

from ..language import gettext, pgettext
from .html_body import body_drawing
from .page import COLUMN_WORDS, SCALE, Page, PageRow
from .page_marks import body_marks
from .pdf_draw import draw, size_of
from .pdf_paper import Paper

_LETTERS = (9.0, 8.5, 8.0, 7.5, 7.0)
"""Points, tried from the largest; below that nobody reads them, and there are two sheets."""

_LARGEST_BODY, _LEAST_BODY = 72.0, 34.0
"""mm: height of the body chart; with less room than the least it goes on a second sheet."""

_NAME, _SIDE, _FAST, _NUMBER, _GAP, _SHORT, _MARK = 44.0, 12.0, 9.0, 13.0, 11.0, 16.0, 12.0
"""mm of the columns."""

_LINE = 0.5
"""mm from line to line for each point of the letters."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How large things are.

    Attributes:
        size: of the letters, points.
        body: height of the body chart, mm.
    """

    size: float
    body: float


def best_fit(page: Page) -> Fit:
    """Find the largest letters with which the page with its body chart is one sheet."""
    for size in _LETTERS:
        paper = Paper()
        paper.head_on_first = False
        _put_words(paper, page, size)
        if paper.page_no() == 1:
            room = paper.h - paper.b_margin - paper.y - _foot(paper, page, size) - 2
            if room >= _LEAST_BODY:
                return Fit(size, min(_LARGEST_BODY, room))
    return Fit(_LETTERS[1], _LARGEST_BODY)


def put_page(paper: Paper, page: Page, fit: Fit) -> None:
    """Put the page on its sheet."""
    _put_words(paper, page, fit.size)
    _put_body(paper, body_drawing(*body_marks(page)), fit.body)
    for text, style in _foot_texts(page):
        _say(paper, text, fit.size, style)


def _foot(paper: Paper, page: Page, size: float) -> float:
    """Measure the height of the foot, mm."""
    height = 0.0
    for text, style in _foot_texts(page):
        paper.set_font(paper.family, style, size)
        lines = paper.multi_cell(0, 1, paper.written(text), dry_run=True, output="LINES")
        assert isinstance(lines, list), "it was asked for the lines"
        height += len(lines) * size * _LINE
    return height


def _foot_texts(page: Page) -> Sequence[tuple[str, str]]:
    return (
        *((goal, "") for goal in page.goals),
        (gettext(COLUMN_WORDS), ""),
        (page.caution, "B"),
        (f"{page.signed}, {page.made_by}", ""),
    )


def _put_words(paper: Paper, page: Page, size: float) -> None:
    paper.add_page()
    paper.start_section(paper.written(f"{page.code}, {page.date}"), 0)
    _say(paper, f"{page.code}, {page.title}", size + 3, "B")
    first = f"{gettext(SCALE)}. {page.patient}."
    _say(paper, " ".join((first, *page.head)), size)
    _heading(paper, gettext("What changed"), size)
    for change in page.changes:
        _say(paper, f"- {change}", size)
    if page.chance:
        _say(paper, page.chance, size)
    if page.rows:
        _heading(paper, gettext("Stations"), size)
        _table(paper, page, size)
    if page.legend:
        _say(paper, page.legend_words, size - 0.5)
    paper.ln(1)
    for note in page.notes:
        _say(paper, note, size)


def _say(paper: Paper, text: str, size: float, style: str = "") -> None:
    paper.say(text, style, size, leading=_LINE)


def _heading(paper: Paper, text: str, size: float) -> None:
    paper.ln(1)
    paper.start_section(paper.written(text), 1)
    _say(paper, text, size + 1, "B")


def _table(paper: Paper, page: Page, size: float) -> None:
    """Write the rows; the titles stand on every sheet."""
    numbers = 6 if page.compared else 3
    widths = (_NAME, _SIDE, _FAST, *(_NUMBER for _ in range(numbers)), _GAP, _SHORT, _MARK)
    height = size * _LINE
    _titles(paper, page, size)
    for row in page.rows:
        if paper.will_page_break(height):
            paper.add_page()
            _titles(paper, page, size)
        cells = row.cells(page.compared)
        paper.set_font(paper.family, "", size)
        name = _fitting(paper, row)
        for number, (text, width) in enumerate(zip((name, *cells[1:]), widths, strict=True)):
            align = "L" if number < 3 else "C" if number == len(widths) - 1 else "R"
            paper.cell(width, height, paper.written(text), align=align, border="B")
        paper.ln(height)


def _fitting(paper: Paper, row: PageRow) -> str:
    """Find the longest of its names that fits the column."""
    names = [paper.written(name) for name in (row.name, row.narrow, row.short)]
    return next((name for name in names if paper.get_string_width(name) <= _NAME - 1), names[-1])


def _titles(paper: Paper, page: Page, size: float) -> None:
    height, twice = size * _LINE, 2 if page.compared else 1
    first = _NAME + _SIDE + _FAST
    times = [gettext("before"), gettext("now")] if page.compared else [""]
    paper.set_font(paper.family, "B", size)

    def put(width: float, text: str, align: str = "R", border: str = "") -> None:
        paper.cell(width, height, paper.written(text), align=align, border=border)

    put(first, gettext("Muscle, side, fast velocity"), "L")
    for title in ("R1", "R2", gettext("Quality")):
        put(twice * _NUMBER, title, "C" if twice == 2 else "R")
    put(_GAP, gettext("Gap"))
    put(_SHORT, pgettext("above the other half", "Short of"))
    put(_MARK, gettext("Mark") if page.compared else "", "C")
    paper.ln(height)
    put(first, "", border="B")
    for time in 3 * times:
        put(_NUMBER, time, border="B")
    put(_GAP, times[-1], border="B")
    put(_SHORT, pgettext("below the other half", "ref"), border="B")
    put(_MARK, "", border="B")
    paper.ln(height)


def _put_body(paper: Paper, picture: SVG, height: float) -> None:
    wide, high = size_of(picture)
    scale = min(height / high, paper.epw / wide)
    if paper.will_page_break(high * scale):
        paper.add_page()
    draw(paper, picture, paper.l_margin + (paper.epw - wide * scale) / 2, paper.y, scale)
    paper.set_y(paper.y + high * scale + 2)
