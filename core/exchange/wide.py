"""The wide CSV for statistics: one row a session, the stations side by side.

Columns behind those of the visit are named ``<muscle>_<side>_<what>``, the muscle group's id
with ``_`` for ``-``, the side in full; ``_v2`` comes before ``<what>`` where the fast stretch
was V2, and ``_again`` where a session has a second reading of the same station. Angles are
stretch angles: degrees on the neutral-zero axis, larger means the tested muscle is longer.
Only stations of which the export has a reading get columns, in the order of the muscle groups.
No cell has a control character, not even a line end: statistics programs stumble over them, and
the readings CSV keeps every text as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from ..chart.session import Session
from ..tardieu.angles import show_angle
from ..tardieu.measured import STATES, fast_state
from ..tardieu.reading import NOT_TESTED, Reading, Side
from ..text import visible
from .csv_rows import COLUMNS, not_tested_cell, visit_cells

HEAD = COLUMNS[:6]
"""Columns of the visit."""

WHAT = {
    "r1_stretch": "angle of catch at the fast stretch, as stretch angle",
    "r2_stretch": "end of the slow passive range, as stretch angle",
    "gap": "R2 - R1 towards more stretch; empty, not 0, where there is no catch",
    "quality": "quality of muscle reaction, an ordinal grade",
    "clonus_s": "duration of clonus",
    "pain": "pain, 0 none to 10",
    "fast": "what became of the fast stretch: "
    + "; ".join(f"{state}: {words}" for state, words in STATES.items()),
    "not_tested": "why the test, or the rest of it, was not done: "
    + ", ".join(f"{key} ({words})" for key, words in NOT_TESTED.items()),
    "let_stand": "checks that call the reading impossible and that a person overrode, by rule",
}
"""What a station's columns hold: ending of the name -> description."""


@dataclass(frozen=True, slots=True)
class WideStation:
    """One group of columns.

    Attributes:
        place: place of the muscle group among all.
        muscle: id of the muscle group.
        side: "left" or "right".
        velocity: "V2" or "V3".
        again: 0, or which further reading of the same station in one session.
    """

    place: int
    muscle: str
    side: str
    velocity: str
    again: int = 0

    @property
    def name(self) -> str:
        """Beginning of the names of its columns."""
        velocity = "_v2" if self.velocity == "V2" else ""
        return f"{self.muscle.replace('-', '_')}_{self.side}{velocity}{'_again' * self.again}"

    @property
    def words(self) -> str:
        """The station in words."""
        again = ", entered once more" if self.again else ""
        return f"{self.muscle}, {Side(self.side).word}, fast stretch {self.velocity}{again}"


def stations_in(sessions: Iterable[Session], muscles: Sequence[str]) -> tuple[WideStation, ...]:
    """Find every station that some session has, in the order of the columns.

    Args:
        sessions: the sessions.
        muscles: ids of the muscle groups in order; others come last, by id.
    """
    places = {muscle: place for place, muscle in enumerate(muscles)}
    found = {station for session in sessions for station, _ in _stations(session, places)}
    return tuple(sorted(found, key=_order))


def columns(stations: Iterable[WideStation]) -> tuple[str, ...]:
    """Name the columns of a file with these stations."""
    return (*HEAD, *(f"{station.name}_{what}" for station in stations for what in WHAT))


def row(code: str, session: Session, stations: Sequence[WideStation]) -> tuple[str, ...]:
    """Write one session's row."""
    places = {station.muscle: station.place for station in stations}
    there = dict(_stations(session, places))
    cells: list[str] = []
    for station in stations:
        reading = there.get(station)
        cells += _cells(reading) if reading else [""] * len(WHAT)
    return tuple(map(visible, (*visit_cells(code, session), *cells)))


def _stations(session: Session, places: dict[str, int]) -> Iterator[tuple[WideStation, Reading]]:
    seen: dict[tuple[str, Side, str], int] = {}
    for reading in session.readings:
        again = seen.get(reading.station, 0)
        seen[reading.station] = again + 1
        place = places.get(reading.muscle, len(places))
        yield (
            WideStation(place, reading.muscle, reading.side.value, reading.fast_velocity, again),
            reading,
        )


def _order(station: WideStation) -> tuple[int, str, str, bool, int]:
    return station.place, station.muscle, station.side, station.velocity != "V3", station.again


def _cells(reading: Reading) -> list[str]:
    """Write the cells of a station, in the order of WHAT."""
    angles = (reading.r1_stretch, reading.r2_stretch, reading.gap)
    others = (reading.quality, reading.clonus_s, reading.pain)
    overridden = " ".join(override.rule for override in reading.overrides)
    words = (fast_state(reading), not_tested_cell(reading), overridden)
    return [*map(show_angle, (*angles, *others)), *words]
