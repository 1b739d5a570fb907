"""The chart screen as rows: patient, damage, the chosen view, message and keys."""

from __future__ import annotations

from ....core.chart.patient import DIAGNOSIS_GROUPS, Patient
from ....core.text import counted, visible
from ...kit.paint import Row, filled, head_row, shortened, wrapped
from .joint_view import number_rows, trend_rows
from .page_view import page_rows
from .session_view import session_list_rows
from .state import VIEWS, ChartData, ChartState

MOST_PROBLEMS = 3
"""Rows for damaged documents; ``limbscribe verify`` lists the rest."""

_PAINT = {
    "trend": trend_rows,
    "numbers": number_rows,
    "sessions": session_list_rows,
    "page": page_rows,
}


def paint_chart(
    state: ChartState, data: ChartData, view_key: str, width: int, height: int
) -> list[Row]:
    """Paint patient, damage and the chosen view.

    Args:
        state: what is in sight.
        data: what was loaded.
        view_key: the key that changes the view.
        width: cells.
        height: rows.
    """
    top = [
        head_row(patient_words(data.chart.patient), width),
        _views_row(state, data, view_key),
        *_problem_rows(data, width),
    ]
    room = height - len(top)
    return [*top, *filled(_PAINT[state.view](state, data, width, room), room)]


def view_room(data: ChartData, width: int, height: int) -> int:
    """Rows that a view has in a body of a size."""
    return height - 2 - len(_problem_rows(data, width))


def patient_words(patient: Patient) -> tuple[str, ...]:
    """Code, affected side, month or year of birth and diagnosis, the code first of all."""
    words = [visible(patient.code)]
    if patient.affected:
        sides = "both sides" if patient.affected == "both" else patient.affected.capitalize()
        words.append(f"affected: {sides}")
    words.append(f"born {patient.born_words}" if patient.born else "birth year not stated")
    diagnosis = DIAGNOSIS_GROUPS.get(patient.diagnosis, patient.diagnosis)
    words.append(visible(diagnosis) if diagnosis else "diagnosis not stated")
    return tuple(words)


def _views_row(state: ChartState, data: ChartData, view_key: str) -> Row:
    """The views, the chosen one in brackets, and how many sessions there are."""
    spans: list[tuple[str, str]] = []
    for view in VIEWS:
        here = view == state.view
        spans.append((f"[{view}]" if here else f" {view} ", "bold" if here else "dim"))
    total = len(data.sessions) - bool(data.shown_open)
    words = f" ({view_key})   {counted(total, 'session')}"
    if data.has_open:
        words += ", one more is open"
    return (*spans, (words, ""))


def _problem_rows(data: ChartData, width: int) -> list[Row]:
    rows = wrapped((f"damaged: {problem}" for problem in data.chart.problems), width, "ask")
    more = "and more damage: limbscribe verify lists all of it"
    return shortened(rows, MOST_PROBLEMS, more, "ask")
