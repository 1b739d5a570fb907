"""Series for plots and tables: R1 and R2 of one station over the sessions of a chart.

Values are stretch angles (deg), so up is more stretch for every joint and angle scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from ..chart.session import Session
from ..tardieu.reading import Reading, Side


@dataclass(frozen=True, slots=True)
class Point:
    """One session's values of a station.

    Attributes:
        day: date of the session.
        date_words: the date as screens write it.
        r1: stretch angle of the catch, deg, None without a catch or a test.
        r2: stretch angle at the end of the slow range, deg, None when not measured.
        quality: quality of muscle reaction.
        reading: the reading as it was typed.
    """

    day: date
    date_words: str
    r1: int | None
    r2: int | None
    quality: int | None
    reading: Reading

    @property
    def gap(self) -> int | None:
        """R2 - R1, deg."""
        return self.reading.gap


@dataclass(frozen=True, slots=True)
class Series:
    """The trend of one station."""

    muscle: str
    side: Side
    points: tuple[Point, ...]

    @property
    def drawable(self) -> bool:
        """Whether there is any angle to draw."""
        return any(point.r1 is not None or point.r2 is not None for point in self.points)


def series_of(sessions: Iterable[Session], muscle: str, side: Side) -> Series:
    """Collect the trend of one muscle group and side.

    Args:
        sessions: in the order of their dates.
        muscle: id of the muscle group.
        side: side of the body.
    """
    points = tuple(
        point_of(session, reading)
        for session in sessions
        for reading in session.readings
        if reading.muscle == muscle and reading.side is side
    )
    return Series(muscle, side, points)


def point_of(session: Session, reading: Reading) -> Point:
    """Make the point that a session adds to a trend."""
    return Point(
        day=session.when.date(),
        date_words=session.date_words,
        r1=reading.r1_stretch,
        r2=reading.r2_stretch,
        quality=reading.quality,
        reading=reading,
    )


def stations_seen(sessions: Sequence[Session]) -> tuple[tuple[str, Side], ...]:
    """List every (muscle, side) that has a reading, in the order of first appearance."""
    seen: dict[tuple[str, Side], None] = {}
    for session in sessions:
        for reading in session.readings:
            seen[(reading.muscle, reading.side)] = None
    return tuple(seen)
