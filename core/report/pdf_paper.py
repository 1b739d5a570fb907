"""The pages of a PDF: A4, selectable text, headings that readers list beside the pages."""

from __future__ import annotations

from fpdf.enums import XPos, YPos
from svg import SVG

from ..language import gettext, spoken
from .pdf_draw import draw, size_of
from .pdf_fonts import Letters

MARGIN, LINE = 12.0, 4.4
"""mm: around a page, and from line to line."""

SIZES = {"title": 13, "section": 11, "station": 10, "text": 8.5}
"""Letters, points."""

_ROOM = 25.0
"""mm that must be left on a page to begin a section or a station there."""


class Paper(Letters):
    """The pages; each behind the first begins with who, when, which record, and its number."""

    def __init__(self) -> None:
        super().__init__()
        self.set_margins(MARGIN, MARGIN, MARGIN)
        self.set_auto_page_break(True, MARGIN)
        self.set_lang(spoken())
        # Otherwise "{nb}" in a comment would be taken for a number of pages.
        self.str_alias_nb_pages = ""
        self.head, self.count = "", 0
        self.head_on_first = True

    def header(self) -> None:
        """Write the head of a page."""
        if self.page_no() == 1 and not self.head_on_first:
            return
        self.set_font(self.family, size=SIZES["text"])
        words = gettext("page {number} of {count}")
        page = self.written(words.format(number=self.page_no(), count=self.count))
        text, room = self.head, self.epw - self.get_string_width(page) - 4
        while self.get_string_width(text) > room:
            text = text[:-1]
        self.cell(self.epw - self.get_string_width(page), LINE, text)
        self.cell(0, LINE, page, align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
        self.line(self.l_margin, self.y + 1, self.w - self.r_margin, self.y + 1)
        self.ln(4)

    def say(
        self,
        text: str,
        style: str = "",
        size: float = SIZES["text"],
        indent: float = 0,
        leading: float = LINE / SIZES["text"],
    ) -> None:
        """Write a paragraph.

        Args:
            text: its words.
            style: "B" bold, "S" struck through.
            size: of its letters, points.
            indent: mm from the left.
            leading: height of a line, mm a point of its letters.
        """
        self.set_font(self.family, style, size)
        self.set_x(self.l_margin + indent)
        words = self.written(text)
        self.multi_cell(0, size * leading, words, align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def heading(self, text: str, size: str = "section", level: int = 1) -> None:
        """Write a heading, not at the foot of a page; readers of PDF list it beside the pages."""
        if self.will_page_break(_ROOM):
            self.add_page()
        self.ln(2)
        self.start_section(self.written(text), level)
        self.say(text, "B", SIZES[size])

    def drawn(self, picture: SVG, scale: float) -> None:
        """Put a drawing below what was written, complete on one page; mm for a unit of it."""
        _, height = size_of(picture)
        if self.will_page_break(height * scale):
            self.add_page()
        draw(self, picture, self.l_margin, self.y, scale)
        self.set_y(self.y + height * scale + 1)
