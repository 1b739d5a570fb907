"""The forms a report comes in."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version

from ..language import speaking
from ..text import how_to_install
from .model import Report, page_in
from .page import Page


@dataclass(frozen=True, slots=True)
class ReportForm:
    """One form.

    Attributes:
        words: its name on screens.
        ending: of its files' names.
    """

    words: str
    ending: str


FORMS = {
    "text": ReportForm("text", ".txt"),
    "markdown": ReportForm("Markdown", ".md"),
    "html": ReportForm("HTML", ".html"),
    "short": ReportForm("short", ".txt"),
}
"""Every form that is text, by the name it is asked for with."""

PDF = "pdf"
ALL_FORMS = {**FORMS, PDF: ReportForm("PDF", ".pdf")}
"""These, and the one that needs a package beside the program's own."""

NO_PDF = (
    "a PDF needs the package fpdf2, which is not installed here: write HTML and print that from a "
    f"browser, or install it {how_to_install('pdf')}"
)


class NoPdf(Exception):  # noqa: N818 - what is missing is a package
    """What makes a PDF is not installed; its text says what to do."""


def needs_pdf() -> str:
    """Say what a PDF needs that is not installed here, "" when nothing."""
    try:
        version("fpdf2")  # another package has a module of the same name
    except PackageNotFoundError:
        return NO_PDF
    return ""


def rendered(what: Page | Report, form: str, ascii_only: bool = False) -> str:
    """Render a page, or a full report, in one of FORMS; the short form is of the page alone.

    Args:
        what: what to render.
        form: key of FORMS.
        ascii_only: in text, letters beyond ASCII become escapes.

    Raises:
        KeyError: when there is no such form.
    """
    with speaking(page_in(what).language):
        if form == "markdown":
            from .markdown import render_markdown

            return render_markdown(what)
        if form == "html":
            from .html import render_html

            return render_html(what)
        if form == "short":
            from .short import render_short

            return render_short(page_in(what), ascii_only)
        if form == "text":
            from .text import render_text

            return render_text(what, ascii_only)
    raise KeyError(form)


def document(what: Page | Report, form: str, ascii_only: bool = False) -> bytes:
    """Render a page, or a full report, in one of ALL_FORMS, as its file holds it.

    Raises:
        KeyError: when there is no such form.
        NoPdf: when a PDF is wanted and what makes it is not installed.
    """
    if form != PDF:
        return rendered(what, form, ascii_only).encode("utf-8")
    if missing := needs_pdf():
        raise NoPdf(missing)
    from .pdf import render_pdf

    with speaking(page_in(what).language):
        return render_pdf(what)
