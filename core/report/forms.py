"""The forms a report comes in."""

from __future__ import annotations

from dataclasses import dataclass

from .model import Report


@dataclass(frozen=True, slots=True)
class Form:
    """One form.

    Attributes:
        words: its name on screens.
        ending: of its files' names.
    """

    words: str
    ending: str


FORMS = {
    "text": Form("text", ".txt"),
    "markdown": Form("Markdown", ".md"),
    "html": Form("HTML", ".html"),
    "short": Form("short", ".txt"),
}
"""Every form by the name it is asked for with."""


def rendered(report: Report, form: str) -> str:
    """The report in one of FORMS.

    Raises:
        KeyError: when there is no such form.
    """
    if form == "markdown":
        from .markdown import render_markdown as render
    elif form == "html":
        from .html import render_html as render
    elif form == "short":
        from .short import render_short as render
    elif form == "text":
        from .text import render_report as render
    else:
        raise KeyError(form)
    return render(report)
