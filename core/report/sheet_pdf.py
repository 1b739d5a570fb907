"""The blank sheet as PDF, A4; needs the extra ``pdf``."""

from __future__ import annotations

from fpdf.fonts import FontFace

from ..tardieu.glossary import CAUTION
from .pdf_paper import LINE, Paper
from .sheet import ASKED, COLUMNS, REASONS, TITLE, Sheet

_WIDTHS = (72, 15, 13, 15, 13, 10, 13, 29)
"""mm of the columns; together the width of a page between its margins."""

_SMALL = 7.5
"""Letters of the table, points; two lines of them make a box 7.6 mm high."""

_ROW = 3.8
"""mm from line to line in the table."""


def sheet_pdf(sheet: Sheet) -> bytes:
    """Write the sheet as PDF; how many pages there are is known when they are laid out."""
    paper = Paper()
    _laid_out(sheet, paper, _laid_out(sheet, Paper(), 0))
    paper.set_title(paper.written(f"{TITLE}: {sheet.code}"))
    paper.set_creator(paper.written(sheet.made_by))
    return bytes(paper.output())


def _laid_out(sheet: Sheet, paper: Paper, count: int) -> int:
    paper.set_margins(10, 10, 10)
    paper.set_auto_page_break(True, 10)
    paper.head, paper.count = paper.written(f"{TITLE}: {sheet.code}, {sheet.checklist}"), count
    paper.add_page()
    paper.say(CAUTION, "B")
    # Spaces that do not break keep a label with its blank.
    blanks = (f"{name} {'_' * cells}".replace(" ", "\u00a0") for name, cells in ASKED)
    paper.set_font(paper.family, size=9)
    paper.multi_cell(0, 7, "   ".join(blanks), align="L", new_x="LMARGIN", new_y="NEXT")
    paper.say("quality: " + "; ".join(sheet.grades))
    paper.say(REASONS)
    paper.ln(1)
    paper.set_font(paper.family, size=_SMALL)
    bold = FontFace(emphasis="BOLD")
    with paper.table(
        col_widths=_WIDTHS, text_align="LEFT", line_height=_ROW, headings_style=bold, v_align="T"
    ) as table:
        row = table.row()
        for name in (sheet.code, *COLUMNS):
            row.cell(paper.written(name))
        for each in sheet.rows:
            row = table.row(min_height=2 * _ROW)
            # In the row itself, so that no page ends between a position and its first station.
            turn = f"== {each.turn}" if each.turn else ""
            last = f"last {each.last}" if each.last else ""
            lines = [text for text in (turn, f"{each.name}  {each.how}", last) if text]
            row.cell("\n".join(map(paper.written, lines)))
            for column in COLUMNS:
                row.cell("\n".join(sheet.blanks(column)))
    paper.ln(1)
    paper.set_font(paper.family, size=_SMALL)
    paper.cell(0, LINE, paper.written(f"Made by {sheet.made_by}."))
    return paper.page_no()
