"""The compare screen as rows: both dates, the chosen view, message and keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ....core.change.compare import CompareRow, Comparison
from ....core.change.compare_words import (
    event_lines,
    figure_line,
    pattern_lines,
    row_line,
    signs_line,
    title_line,
    toxin_line,
    unlike_lines,
    verdict_words,
)
from ....core.tardieu.muscles import Muscle
from ...kit.paint import Row, filled, fit, head_row, line, shortened, wrap, wrapped
from ...kit.scroll import clamped_top, first_shown, pointer_rows, scroll_row
from .figures import both_figures, figures_fit, mark_list
from .state import CompareState

FRAME_ROWS = 4
"""Rows of the table view that are neither stations nor details."""

LEAST_TABLE = 4
"""Rows that the table keeps, however much there is to say about the selected station."""

LEAST_DETAILS = 5
"""Rows kept for the details, so that the table does not jump from station to station."""


@dataclass(frozen=True, slots=True)
class CompareFrame:
    """What is painted besides the state.

    Attributes:
        comparison: the two sessions.
        rows: its stations in the order shown.
        count: number of sessions of the chart.
        muscles: all muscle groups by id.
        view_key: the key that changes the view.
    """

    comparison: Comparison
    rows: Sequence[CompareRow]
    count: int
    muscles: Mapping[str, Muscle]
    view_key: str


def paint_compare(state: CompareState, frame: CompareFrame, width: int, height: int) -> list[Row]:
    """Paint both dates and the chosen view."""
    top = [_head(state, frame, width), _dates_row(state, frame, width)]
    return [*top, *filled(_body(state, frame, width, height - 2), height - 2)]


def table_room(state: CompareState, frame: CompareFrame, width: int, height: int) -> int:
    """Rows of a page in a body of this size."""
    if state.view != "table":
        return max(1, height - 4)
    room = height - 2
    return max(1, room - FRAME_ROWS - len(_table_details(state, frame, width, room)))


def _body(state: CompareState, frame: CompareFrame, width: int, room: int) -> list[Row]:
    if not frame.rows:
        return [line("neither session has a reading")]
    if state.view == "details":
        return _details_page(state, frame, width, room)
    if state.view == "table":
        return _table(state, frame, width, room)
    if figures_fit(width, room):
        gaps = state.view == "gaps"
        rows = both_figures(frame.rows, frame.muscles, state.row, width, gaps)
        row = frame.rows[state.row]
        words = f"{row.name}, {row.side.word}: {row.change.pattern.words}"
        return [*rows, *wrap(words, width)]
    return mark_list(frame.rows, state.row, width, room)


def _head(state: CompareState, frame: CompareFrame, width: int) -> Row:
    order = "by size of change" if state.by_size else "in the order of testing"
    parts = (
        frame.comparison.patient.code,
        f"compare: {state.view} ({frame.view_key})",
        f"station {state.row + 1 if frame.rows else 0} of {len(frame.rows)} {order}",
    )
    return head_row(parts, width)


def _dates_row(state: CompareState, frame: CompareFrame, width: int) -> Row:
    """The two sessions, each above its figure."""
    last, half = frame.count - 1, width // 2
    texts: list[str] = []
    for label, index, session in (
        ("then", state.then, frame.comparison.before),
        ("now", state.now, frame.comparison.after),
    ):
        named = {0: "baseline", last: "latest"}.get(index, "")
        text = f"{label} {session.date_words} ({index + 1} of {frame.count}"
        whole = f"{text}, {named})" if named else f"{text})"
        texts.append(whole if len(whole) < half else f"{text})")
    return (*fit(line(texts[0], "bold"), half), *fit(line(texts[1], "bold"), half))


# The table --------------------------------------------------------------------------------


def _table(state: CompareState, frame: CompareFrame, width: int, room: int) -> list[Row]:
    details = _table_details(state, frame, width, room)
    space = max(1, room - FRAME_ROWS - len(details))
    top = first_shown(0, state.row, space, len(frame.rows))
    texts = (row_line(row, width - 2) for row in frame.rows[top : top + space])
    rows = pointer_rows(texts, top, state.row, width)
    return [
        fit(line(signs_line(frame.comparison, width), "dim"), width),
        fit(line(frame.comparison.chance_words, "dim"), width),
        line(f"  {title_line(width - 2)}", "title"),
        *filled(rows, space),
        scroll_row(top, space, len(frame.rows), width),
        *details,
    ]


def _table_details(state: CompareState, frame: CompareFrame, width: int, room: int) -> list[Row]:
    """The details of the selected station, as much as leaves the table its rows."""
    if not frame.rows:
        return []
    rows = detail_rows(frame.rows[state.row], frame, width)
    most = max(LEAST_DETAILS, room - FRAME_ROWS - LEAST_TABLE)
    needed = max(LEAST_DETAILS, room - FRAME_ROWS - len(frame.rows))
    most = min(most, max(needed, room // 2))
    rows = shortened(rows, most, "... {} more lines: " + frame.view_key)
    return filled(rows, max(LEAST_DETAILS, len(rows)))


# The details ------------------------------------------------------------------------------


def detail_rows(row: CompareRow, frame: CompareFrame, width: int) -> list[Row]:
    """Everything about one station in words, the most telling first."""
    comparison = frame.comparison
    names = {id_: muscle.name for id_, muscle in frame.muscles.items()}
    pattern, *warning = pattern_lines(row)
    rows = wrap(f"{row.name}, {row.side.word}, {row.velocity}: {pattern}", width, "bold")
    rows += wrapped((*warning, *unlike_lines(row, comparison, "unfair")), width, "ask")
    texts = [verdict_words(row), toxin_line(row, comparison)]
    between = event_lines(comparison, names, row)
    texts += [f"between: {'; '.join(between)}" if between else "between: nothing recorded"]
    rows += wrapped(texts, width)
    dim = [row.change.pattern.basis, *_figure_lines(row)]
    dim += [*unlike_lines(row, comparison, "note"), row.reference]
    return [*rows, *wrapped(dim, width, "dim")]


def _figure_lines(row: CompareRow) -> list[str]:
    """The figures used, those for several angles once."""
    names: dict[str, list[str]] = {}
    for angle in row.change.angles[:3]:
        if angle.change is not None:
            names.setdefault(figure_line(angle), []).append(angle.name)
    return [f"{' and '.join(angles)}: {text}" for text, angles in names.items()]


def _details_page(state: CompareState, frame: CompareFrame, width: int, room: int) -> list[Row]:
    """The details as a page to be scrolled."""
    rows = detail_rows(frame.rows[state.row], frame, width)
    space = max(1, room - 1)
    top = clamped_top(state.top, len(rows), space)
    return [*rows[top : top + space], scroll_row(top, space, len(rows), width)]
