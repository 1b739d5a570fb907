"""What was done to a muscle group or the whole patient, as marks of a trend.

Only what touches the muscle group and side is shown; next dates are left out, since nothing
is done on them yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from ..chart.event import Event
from ..chart.events import (
    NEXT_DATE,
    TOXIN,
    day_of,
    day_words,
    given_words,
    in_date_order,
    kind_words,
    touches,
)
from ..tardieu.reading import Side

LETTERS = {
    TOXIN: "T",
    "cast-on": "C",
    "cast-off": "c",
    "medication-started": "M",
    "medication-changed": "m",
    "pump": "P",
    "orthosis": "O",
    "surgery": "S",
    "programme": "G",
}
"""Letters on the axis by kind. They are on a line of their own, apart from R1 and R2."""

OTHER = "e"
"""Letter of every other kind."""


@dataclass(frozen=True, slots=True)
class TrendEvent:
    """One thing that was done.

    Attributes:
        day: when.
        letter: its mark on the axis.
        kind: in words.
        where: what it concerned, in words.
        note: free text.
        given: what was given, as typed.
    """

    day: date
    letter: str
    kind: str
    where: str
    note: str
    given: str = ""

    @property
    def words(self) -> str:
        """The event in one line, without its date."""
        said = "; ".join(filter(None, (self.given, self.note)))
        return f"{self.letter} {self.kind}, {self.where}" + (f": {said}" if said else "")


def events_touching(
    events: Iterable[Event], muscle: str, sides: Collection[Side]
) -> tuple[TrendEvent, ...]:
    """List what was done to a muscle group, on a side of it, or to the whole patient, by date.

    What was done to the group counts in every test position of it.

    Args:
        events: of the chart; those whose date cannot be read have no place in a trend.
        muscle: id of the muscle group.
        sides: the sides looked at.
    """
    return tuple(
        TrendEvent(
            day, LETTERS.get(e.kind, OTHER), kind_words(e.kind), _where(e), e.note, given_words(e)
        )
        for e in in_date_order(events)
        if e.kind != NEXT_DATE
        and any(touches(e, muscle, side) for side in sides)
        and (day := day_of(e)) is not None
    )


def _where(event: Event) -> str:
    if not event.muscle:
        return (
            f"{event.side.capitalize()}, no muscle group named" if event.side else "whole patient"
        )
    return f"this muscle, {event.side.capitalize() if event.side else 'side not stated'}"


def by_kind(events: Sequence[TrendEvent], dated: bool = True) -> tuple[str, ...]:
    """Write a line for each kind: letter, words and, when dated, every date once."""
    dates: dict[str, dict[str, None]] = {}
    for event in events:
        dates.setdefault(f"{event.letter} {event.kind}", {})[day_words(event.day)] = None
    if not dated:
        return tuple(dates)
    return tuple(f"{kind}: {', '.join(days)}" for kind, days in dates.items())
