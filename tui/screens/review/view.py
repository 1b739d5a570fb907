"""What the review shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from dataclasses import dataclass

from ....core.entry.rows import Count, StationRow, count
from ....core.tardieu.reading import Counts
from ...kit.paint import Row, filled, fit, head_row, line
from ...kit.scroll import first_shown, scroll_row
from ...kit.station_table import detail_rows, table_rows, title_row

LEAST_TABLE = 5
"""Rows that the table keeps, however much there is to say about the selected station."""

LEAST_DETAILS = 4
"""Rows kept for the details, so that the table does not jump from station to station."""

_AROUND = 5
"""Rows above the table, and the rule below it."""


@dataclass(frozen=True, slots=True)
class ReviewView:
    """What the review shows.

    Attributes:
        head: patient, date and people, for the top line.
        rows: the stations.
        field_order: order of the fields, and of the columns.
        counts: which of several tries is the reading.
        reading_error: deg.
        selected: index of the selected station.
        top: the first station in sight.
    """

    head: tuple[str, ...]
    rows: tuple[StationRow, ...]
    field_order: str
    counts: Counts
    reading_error: int
    selected: int = 0
    top: int = 0


def closing_question(counted: Count, close_key: str, not_tested_key: str) -> str:
    """What is asked before a session with open stations is closed."""
    one = counted.open == 1
    stations, stay = ("1 station is", "stays") if one else (f"{counted.open} stations are", "stay")
    return (
        f"{stations} open and {stay} empty for good. "
        f"{not_tested_key} in the entry marks a station as not tested. "
        f"{close_key} again signs and closes."
    )


def paint_review(view: ReviewView, width: int, height: int) -> list[Row]:
    """Paint counts, table and the selected station in words."""
    details = _details(view, width, height)
    room = table_room(view, width, height)
    top = first_shown(view.top, view.selected, room, len(view.rows))
    table = table_rows(view.rows, view.field_order, width, top, room, view.selected)
    return [
        head_row(view.head, width),
        count_row(count(view.rows), width),
        line("angles in deg, as typed; columns in the order of typing", "dim"),
        title_row(view.field_order, width),
        *filled(table, room),
        scroll_row(top, room, len(view.rows), width),
        *details,
    ]


def table_room(view: ReviewView, width: int, height: int) -> int:
    """Rows of the table in a body of this size."""
    return height - _AROUND - len(_details(view, width, height))


def _details(view: ReviewView, width: int, height: int) -> list[Row]:
    if not view.rows:
        return filled((), LEAST_DETAILS)
    room = max(LEAST_DETAILS, height - _AROUND - LEAST_TABLE)
    row = view.rows[view.selected]
    rows = detail_rows(row, view.counts, view.reading_error, width, room)
    return filled(rows, max(LEAST_DETAILS, len(rows)))


def count_row(counted: Count, width: int) -> Row:
    """How many stations are in which state, with the signs that the table uses."""
    words = (
        f"* {counted.done} done   n {counted.not_tested} not tested   "
        f". {counted.open} open   ! {counted.flagged} flagged"
    )
    return fit(line(words, "bold"), width)
