"""Painting the preview of a report, and the state of looking at it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ....core.report.forms import FORMS
from ....core.text import visible
from ...kit.paint import Row, line, wrap

FOLD = 2
"""Rows of the window above the text."""


@dataclass(frozen=True, slots=True)
class ReportState:
    """Where the reader is.

    Attributes:
        form: key of FORMS.
        top: index of the first row in sight.
        message: last word to the reader.
    """

    form: str = "text"
    top: int = 0
    message: str = ""


def next_form(state: ReportState) -> ReportState:
    """The next form, from its top."""
    forms = list(FORMS)
    return ReportState(forms[(forms.index(state.form) + 1) % len(forms)])


def scrolled(state: ReportState, action: str, count: int, room: int) -> ReportState | None:
    """The state after a key that scrolls, None for any other.

    Args:
        state: before it.
        action: of the keymap.
        count: rows of the text.
        room: rows in sight.
    """
    page = max(1, room - 1)
    steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page, "home": -count, "end": count}
    if action not in steps:
        return None
    top = max(0, min(count - room, state.top + steps[action]))
    return replace(state, top=top, message="")


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
    state: ReportState, rows: list[Row], title: str, foot: Row, width: int, height: int
) -> list[Row]:
    """Title, the rows in sight, message, keys."""
    room = room_of(height, state, width)
    shown = rows[state.top : state.top + room]
    last = min(len(rows), state.top + room)
    where = f"{FORMS[state.form].words} form, lines {state.top + 1} to {last} of {len(rows)}"
    message = wrap(state.message, width, "bold")
    return [
        line(title, "title"),
        line(where, "dim"),
        *shown,
        *([()] * (room - len(shown))),
        *message,
        foot,
    ]


def room_of(height: int, state: ReportState, width: int) -> int:
    """Rows of text in sight; a long message takes some."""
    return max(1, height - FOLD - 1 - len(wrap(state.message, width)))
