"""Columns of wide tables: one row a session, a column for each value of each station.

In a mapping they are under ``[wide]``, the header there with what the column holds: muscle
group, side, V2 or V3 where the table has both, and the value::

    [wide]
    "Sol li R1" = "soleus left r1"
    "Sol li R2" = "soleus left r2"
    "Sol li V2 R1" = "soleus left V2 r1"
    [letters]
    "R1" = "r1"
    "R2" = "r2"

Each letter of the trade is said once, for all columns. Each row becomes a row of ours for every
station of which a cell is filled in.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from ...tardieu.reading import Side
from .words import letters_in, plain

VALUES = (
    *("r1", "r2", "quality", "gap", "combined", "clonus_s", "pain"),
    *("not_tested", "posture", "comment"),
)
"""What a column of a station may hold."""

STATION = ("muscle", "side", "r1", "r2", "quality", "gap", "combined")
"""What the rows of a wide table cannot have as a column of their own."""

EXAMPLE = "soleus left r1, or soleus left V2 r1"

_SPEEDS = frozenset(("v1", "v2", "v3"))
"""Letters that say nothing about a value here: the speed is in the mapping."""

Key = tuple[str, str, str]
"""Muscle group, side, and "V2", "V3" or "" where the mapping says it for all."""


@dataclass(frozen=True, slots=True)
class Spot:
    """What one column of a wide table holds."""

    muscle: str
    side: str
    velocity: str
    value: str

    @property
    def station(self) -> Key:
        """The station it belongs to."""
        return self.muscle, self.side, self.velocity

    @property
    def words(self) -> str:
        """As a mapping writes it."""
        return " ".join(filter(None, (self.muscle, self.side, self.velocity, self.value)))


def parse_spot(text: str, muscles: Collection[str]) -> Spot | str:
    """Read what a column holds, or say what is wrong with the words for it.

    Args:
        text: like "soleus left r1".
        muscles: ids of the known muscle groups.
    """
    words = text.split()
    if len(words) not in (3, 4):
        return f"write it like {EXAMPLE}"
    muscle, side, value = words[0], words[1], words[-1]
    velocity = words[2] if len(words) == 4 else ""
    for word, what, allowed in (
        (muscle, "muscle group", muscles),
        (side, "side", [side.value for side in Side]),
        (velocity, "velocity", ("V2", "V3", "")),
        (value, "value", VALUES),
    ):
        if word not in allowed:
            return f"{word!r} is not a {what}: one of " + ", ".join(filter(None, allowed))
    return Spot(muscle, side, velocity, value)


def read_spots(
    wide: Mapping[str, str], letters: Mapping[str, str], muscles: Collection[str]
) -> tuple[dict[str, Spot], list[tuple[str, str, str]]]:
    """Read what the columns hold by header; and (header, what is wrong, how to fix it).

    Args:
        wide: the texts under [wide].
        letters: the texts under [letters].
        muscles: ids of the known muscle groups.
    """
    found: dict[str, Spot] = {}
    faults: list[tuple[str, str, str]] = []
    meant = {plain(letter): meaning for letter, meaning in letters.items()}
    for header, words in wide.items():
        spot = parse_spot(words, muscles)
        if isinstance(spot, str):
            faults.append((header, f"{header!r} = {words!r}", spot))
            continue
        if spot in found.values():
            faults.append((header, f"{spot.words} appears twice", "keep one of the two"))
        found[header] = spot
        for letter in sorted(letters_to_ask(header)):
            if meant.get(letter) != spot.value:
                what = f"{header!r} is {spot.value} here, and [letters] does not say so"
                mend = f'if it is, add "{letter}" = "{spot.value}" under [letters]'
                faults.append((header, what, mend))
    return found, faults


def by_station(wide: Mapping[str, Spot]) -> dict[Key, dict[str, str]]:
    """Group the columns by station in the order of the mapping: value -> header."""
    found: dict[Key, dict[str, str]] = {}
    for header, spot in wide.items():
        found.setdefault(spot.station, {})[spot.value] = header
    return found


def letters_to_ask(header: str) -> frozenset[str]:
    """Find the letters in a header that a person must say the meaning of, once for all columns."""
    return letters_in(header) - _SPEEDS


def station_cells(key: Key, cells: Mapping[str, str]) -> dict[str, str]:
    """Return the cells of one station in a row, muscle group and side among them."""
    muscle, side, velocity = key
    speed = {"fast_velocity": velocity} if velocity else {}
    return {**cells, "muscle": muscle, "side": side, **speed}
