"""What the review shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from dataclasses import dataclass

from ....core.entry.closing import overridden
from ....core.entry.rows import Count, StationRow, count
from ....core.tardieu.reading import Counts
from ....core.text import counted
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


def half_typed_words(
    count: int, unfinished: str, enter_key: str, clear_key: str, first: bool = True
) -> str:
    """What stands in the way of signing, and the two ways on.

    Args:
        count: half-typed stations.
        unfinished: digits typed and not accepted, "" when none.
        enter_key: goes to the selected station.
        clear_key: clears them all.
        first: the first of them is selected.
    """
    stations = f"{counted(count, 'station')} {'is' if count == 1 else 'are'}"
    digits = f" ({unfinished} is not accepted yet)" if unfinished else ""
    goes = (
        f"{enter_key} goes to the first; " if first and count > 1 else f"{enter_key} goes there; "
    )
    return (
        f"{stations} half-typed{digits}. {goes}{clear_key} clears "
        f"{'it' if count == 1 else 'them'} (what was accepted stays in the journal) and goes on "
        "to sign."
    )


def paint_review(view: ReviewView, width: int, height: int) -> list[Row]:
    """Paint counts, table and the selected station in words."""
    details = _details(view, width, height)
    room = table_room(view, width, height)
    top = first_shown(view.top, view.selected, room, len(view.rows))
    table = table_rows(view.rows, view.field_order, width, top, room, view.selected)
    return [
        head_row(view.head, width),
        count_row(count(view.rows), overridden(view.rows), width),
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


def count_row(counted: Count, overridden: int, width: int) -> Row:
    """How many stations are in which state, with the signs that the table uses.

    A narrow window has no room for the overridden ones; the page that signs has them.
    """
    words = (
        f"* {counted.done} done   n {counted.not_tested} not tested   "
        f". {counted.open} open   ! {counted.flagged} flagged"
    )
    more = f"   {overridden} overridden"
    return fit(line(words + more * (len(words + more) <= width), "bold"), width)
