"""A station about which amendments disagree: no change of it is told."""

from __future__ import annotations

from dataclasses import replace

from ..chart.chain import dispute
from ..tardieu.reading import Reading
from .change import Pattern, StationChange

DISPUTED = "disputed"
"""Id of the pattern of such a station."""


def undisputed(change: StationChange, then: Reading | None, now: Reading | None) -> StationChange:
    """Take the changes out of a station where amendments disagree about either reading.

    What held before them stays in sight, and what each side says is the warning.
    """
    said = [
        f"{when}: {dispute(one)}" for when, one in (("then", then), ("now", now)) if dispute(one)
    ]
    if not said:
        return change
    r1, r2, gap, shortfall = (replace(angle, change=None) for angle in change.angles)
    pattern = Pattern(DISPUTED, "no change is told", "; ".join(said))
    return replace(change, r1=r1, r2=r2, gap=gap, shortfall=shortfall, pattern=pattern)
