"""Signs of a change: the same ones in a comparison, on the chart and in a report."""

from __future__ import annotations

from ..language import N_
from ..tardieu.measured import catch_of
from .change import AngleChange
from .compare import CompareRow

GONE, NEW, MORE, LESS, WITHIN, BEYOND, UNFAIR = "*", "+", ">", "<", "=", "~", "!"

LEGEND = {
    GONE: N_("catch gone"),
    NEW: N_("catch new"),
    MORE: N_("more stretch, beyond error"),
    LESS: N_("less stretch, beyond error"),
    WITHIN: N_("within error"),
    BEYOND: N_("no figure, beyond reading error"),
    UNFAIR: N_("conditions differ"),
}
"""Sign -> what it means."""


def angle_mark(angle: AngleChange) -> str:
    """The sign of one angle's change, "" where there is none or nothing can be said."""
    if angle.beyond_reading:
        return BEYOND
    if angle.direction is None:
        return ""
    return {1: MORE, 0: WITHIN, -1: LESS}[angle.direction]


def row_mark(row: CompareRow) -> str:
    """The sign of a station: catch gone or new first, then R1 and R2 together."""
    change = row.change
    if change.catch_gone:
        return GONE
    if change.pattern.id == "catch-new":
        return NEW
    marks = [angle_mark(angle) for angle in (change.r1, change.r2)]
    beyond = [mark for mark in marks if mark in (MORE, LESS)]
    if beyond:
        return beyond[0] if len(set(beyond)) == 1 else LESS + MORE
    if BEYOND in marks:
        return BEYOND
    return WITHIN if WITHIN in marks and not _unjudged(row) else ""


def _unjudged(row: CompareRow) -> bool:
    """Say whether an angle was measured and not judged: not both times, or without a figure."""
    angles = (row.change.r1, row.change.r2)
    lacking = [a for a in angles if a.direction is None and (a.before, a.after) != (None, None)]
    return bool(lacking) or catch_of(row.before) != catch_of(row.after)
