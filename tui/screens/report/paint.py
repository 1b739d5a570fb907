"""Painting the preview of a report, and the state of looking at it."""

from __future__ import annotations

from dataclasses import dataclass

from ....core.report.forms import FORMS
from ....core.text import visible
from ...kit.paint import Row, fit, line, wrap
from ...kit.scroll import following

FOLD = 2
"""Rows of the window above the text."""


@dataclass(frozen=True, slots=True)
class ReportState:
    """What of a report is in sight.

    Attributes:
        form: key of FORMS.
        top: index of the first row in sight.
        full: the full report, not the page alone.
    """

    form: str = "text"
    top: int = 0
    full: bool = False

    @property
    def which(self) -> tuple[str, bool]:
        """The form, and whether it is the full report."""
        return self.form, self.full


def next_form(state: ReportState) -> ReportState:
    """The next form, from its top; the short form is of the page alone."""
    form = following([*FORMS], state.form)
    return ReportState(form, full=state.full and form != "short")


def text_rows(text: str, width: int) -> list[Row]:
    """The text of a report as rows; lines too long are folded, a form feed becomes a rule."""
    rows: list[Row] = []
    for page in text.removesuffix("\n").split("\f"):
        if rows:
            rows.append(line("=" * width, "dim"))
        for one in page.removesuffix("\n").split("\n"):
            rows += [line(one)] if len(one) <= width else wrap(one, width)
    return rows


def clipboard_text(text: str) -> str:
    """The text as it may be pasted anywhere: every line gone through the gate, no form feed."""
    return "\n".join(visible(one) for one in text.replace("\f", "\n").split("\n"))


def paint_report(
    state: ReportState, rows: list[Row], title: str, width: int, height: int
) -> list[Row]:
    """Paint the title and the rows in sight."""
    last = min(len(rows), state.top + height - FOLD)
    what = "full report, " if state.full else ""
    where = f"{what}{FORMS[state.form].words} form, lines {state.top + 1} to {last} of {len(rows)}"
    return [fit(line(title, "title"), width), line(where, "dim"), *rows[state.top : last]]
