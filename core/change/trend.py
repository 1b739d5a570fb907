"""Series for plots and tables: R1 and R2 of one station over the sessions of a chart.

Values are stretch angles (deg), so up is more stretch for every joint and angle scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from ..chart.session import Session
from ..tardieu.measured import catch_of
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

    @property
    def caught(self) -> bool | None:
        """Whether the fast stretch met a catch, see catch_of()."""
        return catch_of(self.reading)


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


def changed_first(trends: Sequence[Series]) -> list[int]:
    """Order trends by their last change: a catch gone or come first, then the most degrees.

    Returns:
        Their indices; those that changed alike stay in the order given.
    """
    return sorted(range(len(trends)), key=lambda index: _last_change(trends[index]))


def _last_change(series: Series) -> tuple[bool, int]:
    """Say whether a catch did not come or go at last, and the most degrees, made negative.

    Two velocities of one visit are two stations, so each is held against its own reading
    before; one that had none, against the visit before.
    """
    points = series.points
    now = {p.reading.fast_velocity: n for n, p in enumerate(points) if p.day == points[-1].day}
    pairs = [(_before(points, n, len(now) > 1), points[n]) for n in now.values()]
    found = [(then, after) for then, after in pairs if then]
    met = any(None not in (a.caught, b.caught) and a.caught != b.caught for a, b in found)
    angles = [pair for a, b in found for pair in ((a.r1, b.r1), (a.r2, b.r2))]
    changes = [abs(a - b) for a, b in angles if a is not None and b is not None]
    return not met, -max(changes, default=0)


def _before(points: Sequence[Point], place: int, several: bool) -> Point | None:
    """Find what a reading is held against: at the other velocity only where that is not there."""
    now, earlier = points[place], points[:place]
    same = [p for p in earlier if p.reading.fast_velocity == now.reading.fast_velocity]
    other = [p for p in earlier if p.day < now.day and not several]
    return next(reversed(same or other), None)


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
        for reading in session.readings_of(muscle, side)
    )
    return Series(muscle, side, points)


def series_of_all(
    sessions: Iterable[Session], joints: Sequence[tuple[str, Side]]
) -> tuple[Series, ...]:
    """Collect the trends of several muscle groups and sides, in their order; see series_of()."""
    points: dict[tuple[str, Side], list[Point]] = {joint: [] for joint in joints}
    for session in sessions:
        for reading in session.readings:
            if (joint := (reading.muscle, reading.side)) in points:
                points[joint].append(point_of(session, reading))
    return tuple(Series(*joint, tuple(found)) for joint, found in points.items())


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
    """List every (muscle, side) that has a reading, in the order of the checklists.

    Args:
        sessions: by date. The order of the latest one comes first; a station that only an
            earlier one has comes behind the station that was before it there.
    """
    order: list[tuple[str, Side]] = []
    for session in reversed(sessions):
        at = 0
        for reading in session.readings:
            station = (reading.muscle, reading.side)
            if station not in order:
                order.insert(at, station)
            at = order.index(station) + 1
    return tuple(order)
