"""Time since an injection of botulinum toxin: bands of days, and when to look again.

Labels for sorting like with like, never a verdict: where a person's effect rises and ends is
for the clinic to see. Both lists can be changed in the settings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..language import N_


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of days since the injection.

    Attributes:
        name: label.
        first: first day; the band ends where the next begins.
    """

    name: str
    first: int


@dataclass(frozen=True, slots=True)
class Window:
    """Days after an injection within which the clinic wants to measure again.

    Attributes:
        name: label.
        first: first day.
        last: last day, inclusive.
    """

    name: str
    first: int
    last: int

    @property
    def days(self) -> range:
        """The days within it."""
        return range(self.first, self.last + 1)


DEFAULT_BANDS = (
    Band(N_("early"), 0),
    Band(N_("rising"), 14),
    Band(N_("peak"), 28),
    Band(N_("waning"), 49),
    Band(N_("late"), 84),
)
"""The limits are ours, no published source. They lean on: trials that look for the largest
effect at 4 to 6 weeks (J Clin Med 2025;14(23):8339, published figure seen) and a group whose
effect was there at 4 weeks and gone at 12 (J Rehabil Med 2014;46(7), doi
10.2340/16501977-1824, abstract seen)."""

DEFAULT_WINDOWS = (Window("4 to 6 weeks", 28, 42), Window("12 to 16 weeks", 84, 112))
"""4 to 6 weeks: J Clin Med 2025;14(23):8339, published figure seen. 12 to 16 weeks: common
practice, no published source."""

LONGEST = 3650
"""Largest day that a band or window may name; more is a mistake."""


def band_of(day: int, bands: Sequence[Band] = DEFAULT_BANDS) -> str:
    """Find the label of a day since the injection (0 or more), "" before the first band."""
    name = ""
    for band in bands:
        if day < band.first:
            break
        name = band.name
    return name


def bands_from(table: dict[str, object]) -> tuple[Band, ...] | str:
    """Read bands from ``name = first day``, or say what is wrong with them."""
    bands: list[Band] = []
    for name, first in table.items():
        if type(first) is not int or not 0 <= first <= LONGEST:
            return f"{name} = {first!r}"
        bands.append(Band(name, first))
    bands.sort(key=lambda band: band.first)
    firsts = [band.first for band in bands]
    if not bands or firsts[0] != 0:
        return "no band begins on day 0"
    if len(set(firsts)) < len(firsts):
        return "two bands begin on the same day"
    return tuple(bands)


def windows_from(table: dict[str, object], earliest: int = 1) -> tuple[Window, ...] | str:
    """Read windows from ``name = [first day, last day]``, or say what is wrong with them.

    Args:
        table: days by name.
        earliest: day since the injection that a window may begin with.
    """
    windows: list[Window] = []
    for name, days in table.items():
        match days:
            case [int(first), int(last)] if (
                bool not in (type(first), type(last)) and earliest <= first <= last <= LONGEST
            ):
                windows.append(Window(name, first, last))
            case _:
                return f"{name} = {days!r}"
    return tuple(sorted(windows, key=lambda window: window.first))
