"""What the review shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ....core.entry.rows import Count, StationRow, count, first_shown
from ....core.tardieu.reading import Counts
from ...kit.paint import Row, fit, head_row, line, wrap
from ...kit.scroll import scroll_row
from ...kit.station_table import detail_rows, table_rows, title_row

LEAST_TABLE = 5
"""Rows that the table keeps, however much there is to say about the selected station."""

LEAST_DETAILS = 4
"""Rows kept for the details, so that the table does not jump from station to station."""


@dataclass(frozen=True, slots=True)
class ReviewView:
    """Where the review stands.

    Attributes:
        selected: index of the selected station.
        top: the first station shown.
        asked: the closing key was pressed once, with stations open.
        message: last word to the recorder.
    """

    selected: int = 0
    top: int = 0
    asked: bool = False
    message: str = ""


@dataclass(frozen=True, slots=True)
class ReviewFrame:
    """What stays the same while the review is open.

    Attributes:
        head: patient, date and people, for the top line.
        rows: the stations.
        field_order: order of the fields, and of the columns.
        counts: which of several tries is the reading.
        reading_error: deg.
        foot: the line of keys.
    """

    head: tuple[str, ...]
    rows: tuple[StationRow, ...]
    field_order: str
    counts: Counts
    reading_error: int
    foot: Row


def moved(view: ReviewView, action: str, total: int, page: int) -> ReviewView | None:
    """The view after a key that moves, None when the action does not move.

    Args:
        view: the view.
        action: the part of a binding's id behind "review.".
        total: number of stations.
        page: stations on a page.
    """
    steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page}
    ends = {"home": 0, "end": total - 1}
    if action in steps:
        target = view.selected + steps[action]
    elif action in ends:
        target = ends[action]
    else:
        return None
    target = max(0, min(target, total - 1))
    return replace(view, selected=target, asked=False, message="")


def closing_question(counted: Count, close_key: str, not_tested_key: str) -> str:
    """What is asked before a session with open stations is closed."""
    one = counted.open == 1
    stations, stay = ("1 station is", "stays") if one else (f"{counted.open} stations are", "stay")
    return (
        f"{stations} open and {stay} empty for good. "
        f"{not_tested_key} in the entry marks a station as not tested. "
        f"{close_key} again signs and closes."
    )


def paint_review(view: ReviewView, frame: ReviewFrame, width: int, height: int) -> list[Row]:
    """Every row of the screen; first_row() tells what it scrolled to."""
    message = wrap(view.message, width, "ask")
    body = height - 4 - len(message) - 1
    details = _details(view, frame, width, body)
    room = body - len(details) - 1
    top = first_shown(view.top, view.selected, room, frame.rows)
    table = table_rows(frame.rows, frame.field_order, width, top, room, view.selected)
    table += [()] * (room - len(table))
    return [
        head_row(frame.head, width),
        count_row(count(frame.rows), width),
        line("angles in deg, as typed; columns in the order of typing", "dim"),
        title_row(frame.field_order, width),
        *table,
        scroll_row(top, room, len(frame.rows), width),
        *details,
        *message,
        frame.foot,
    ]


def table_room(view: ReviewView, frame: ReviewFrame, width: int, height: int) -> int:
    """Rows of the table in a window of this size."""
    body = height - 4 - len(wrap(view.message, width)) - 1
    return body - len(_details(view, frame, width, body)) - 1


def _details(view: ReviewView, frame: ReviewFrame, width: int, body: int) -> list[Row]:
    if not frame.rows:
        return [()] * LEAST_DETAILS
    room = max(LEAST_DETAILS, body - LEAST_TABLE - 1)
    row = frame.rows[view.selected]
    rows = detail_rows(row, frame.counts, frame.reading_error, width, room)
    return [*rows, *([()] * (LEAST_DETAILS - len(rows)))]


def count_row(counted: Count, width: int) -> Row:
    """How many stations are in which state, with the signs that the table uses."""
    words = (
        f"* {counted.done} done   n {counted.not_tested} not tested   "
        f". {counted.open} open   ! {counted.flagged} flagged"
    )
    return fit(line(words, "bold"), width)
