"""The plan of a session: every station with what the program remembers about it.

For each patient and station it remembers posture, test position, angle scale and fast
velocity, and offers them with their date. It never offers an old angle as a new one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from ..chart.checklist import Checklist, FieldOrder, Item, stations_of
from ..chart.patient import Patient
from ..chart.session import Session
from ..tardieu.angles import AngleScale
from ..tardieu.checks_context import Limits
from ..tardieu.measured import catch_of
from ..tardieu.muscles import POSTURES, Muscle
from ..tardieu.reading import Counts, FastVelocity, Reading, Side
from ..tardieu.reference import Reference, find_reference
from .keys import STANDARD_KEYS


@dataclass(frozen=True, slots=True)
class Station:
    """One muscle group on one side in one test position.

    Attributes:
        muscle: the muscle group.
        side: side of the body.
        posture: posture and test position offered, in words.
        remembered: date of the session the offer comes from, "" for the standard one.
        scale: angle scale in use.
        velocity: fast velocity offered.
        last: this station's reading in the latest session that has one.
        last_date: that session's date in words.
        reference: the reference range that fits, or why there is none.
    """

    muscle: Muscle
    side: Side
    posture: str
    remembered: str
    scale: AngleScale
    velocity: FastVelocity
    last: Reading | None
    last_date: str
    reference: Reference | str

    @property
    def name(self) -> str:
        """Name of the muscle group and side in full."""
        return f"{self.muscle.name}, {self.side.word}"

    @property
    def last_typed(self) -> tuple[int | None, int | None, int | None]:
        """R1, quality and R2 of the last reading, angles as the present scale writes them, deg."""
        last = self.last
        if last is None:
            return None, None, None
        r1, r2 = (
            None if stretch is None else self.scale.typed(stretch)
            for stretch in (last.r1_stretch, last.r2_stretch)
        )
        return r1, last.quality, r2

    @property
    def last_words(self) -> tuple[str, str, str]:
        """The same in words: "none" for a stretch without a catch, "." for what there is not."""
        r1, quality, r2 = ("." if value is None else str(value) for value in self.last_typed)
        return "none" if catch_of(self.last) is False else r1, quality, r2

    @property
    def reference_range(self) -> Reference | None:
        """The reference range, None when there is none that fits."""
        return self.reference if isinstance(self.reference, Reference) else None


@dataclass(frozen=True, slots=True)
class Plan:
    """What the entry of one session walks through.

    Attributes:
        stations: in the order of testing.
        field_order: order of the fields at each station.
        tries: planned tries of each velocity.
        counts: which try is the reading.
        quality_max: highest grade in use, 4 or 5.
        limits: figures of the checks.
        read_back: each station is read back and confirmed before the next one opens.
        keys: what the keys are called in messages, see keys.STANDARD_KEYS.
        blind: last values and trends are not to be seen.
        aside: indices of stations that were not to be tested: values may be moved to them, but
            nothing opens them by itself.
    """

    stations: tuple[Station, ...]
    field_order: FieldOrder = "fast-first"
    tries: int = 1
    counts: Counts = "first"
    quality_max: int = 4
    limits: Limits = field(default_factory=Limits)
    read_back: bool = False
    keys: Mapping[str, str] = field(default_factory=lambda: STANDARD_KEYS)
    blind: bool = False
    aside: frozenset[int] = frozenset()

    def other_side(self, index: int) -> int | None:
        """Find the index of the same muscle and velocity on the other side."""
        station = self.stations[index]
        return self._find(station.muscle.id, station.side.other, station.velocity)

    def other_velocity(self, index: int) -> int | None:
        """Find the index of the same muscle and side at the other fast velocity."""
        station = self.stations[index]
        other: FastVelocity = "V2" if station.velocity == "V3" else "V3"
        return self._find(station.muscle.id, station.side, other)

    def at_velocity(self, index: int) -> str:
        """Say the velocity of a station that only this tells from another one, else ""."""
        both = self.other_velocity(index) is not None
        return f" at {self.stations[index].velocity}" if both else ""

    @property
    def partners(self) -> dict[int, int]:
        """Index of the station on the other side, for every station that has one."""
        return partners([(one.muscle.id, one.side, one.velocity) for one in self.stations])

    def exchanged(self) -> Plan:
        """Exchange the scales of the two sides, as their readings are exchanged."""
        there = self.partners
        return replace(
            self,
            stations=tuple(
                replace(one, scale=self.stations[there.get(index, index)].scale)
                for index, one in enumerate(self.stations)
            ),
        )

    def _find(self, muscle: str, side: Side, velocity: FastVelocity) -> int | None:
        stations = [(one.muscle.id, one.side, one.velocity) for one in self.stations]
        wanted = (muscle, side, velocity)
        return stations.index(wanted) if wanted in stations else None


def partners(stations: Sequence[tuple[str, Side, FastVelocity | None]]) -> dict[int, int]:
    """Pair the stations of the two sides: those of one velocity first, then what is left."""
    found: dict[int, int] = {}
    for same in (True, False):
        for here, (muscle, side, velocity) in enumerate(stations):
            there = (
                index
                for index, other in enumerate(stations)
                if other[:2] == (muscle, side.other)
                and index not in found
                and (other[2] == velocity or not same)
            )
            if here not in found and (index := next(there, None)) is not None:
                found |= {here: index, index: here}
    return found


def settled(
    checklist: Checklist,
    affected: str,
    muscles: Mapping[str, Muscle],
    earlier: Sequence[Session] = (),
    scales: Mapping[str, str] | None = None,
) -> Checklist:
    """Settle a checklist as a session keeps it: one item a station, nothing left to default.

    A session must read the same after the clinic edits its files, so sides, velocity,
    scale and posture are written out.

    Args:
        checklist: as chosen.
        affected: the patient's affected side.
        muscles: all muscle groups by id; every id of the checklist must be among them.
        earlier: the patient's sessions, latest last, for what is remembered.
        scales: the clinic's own default scale by muscle id.
    """
    items: list[Item] = []
    stations = stations_of(checklist, affected)
    speeds = Counter((item.muscle, side) for item, side in stations)
    for item, side in stations:
        muscle = muscles[item.muscle]
        # Where there is another station at the other velocity, none is remembered.
        alone = speeds[item.muscle, side] == 1
        velocity = item.fast_velocity or (None if alone else muscle.velocity)
        found = last_reading(earlier, item.muscle, side, velocity)
        last = found[0] if found else None
        offered = (item.scale, last.scale.id if last else "", (scales or {}).get(muscle.id, ""))
        known = {scale.id for scale in muscle.scales}
        items.append(
            Item(
                muscle=muscle.id,
                sides=side.value,
                fast_velocity=velocity or (last.fast_velocity if last else muscle.velocity),
                scale=next((id_ for id_ in offered if id_ in known), muscle.default_scale),
                posture=item.posture or (last.posture if last else "") or muscle.posture_words,
            )
        )
    if checklist.order == "position":
        items = _by_position(items, checklist.first_side)
    return replace(checklist, items=tuple(items))


def _by_position(items: Sequence[Item], first_side: Side) -> list[Item]:
    """Put together what is tested in one position, as the list first names it; then by side."""
    positions = list(dict.fromkeys(lying(item.posture) for item in items))

    def rank(item: Item) -> tuple[int, bool]:
        return positions.index(lying(item.posture)), item.sides != first_side.value

    return sorted(items, key=rank)


def lying(posture: str) -> str:
    """How the patient is placed: the posture of a station up to the test position."""
    words = posture.casefold()
    known = (posture for posture in POSTURES if words.startswith(posture))
    return next(known, words.partition(",")[0].strip())


def make_plan(
    checklist: Checklist,
    patient: Patient,
    when: date | int,
    muscles: Mapping[str, Muscle],
    earlier: Sequence[Session] = (),
    limits: Limits | None = None,
) -> Plan:
    """Make the plan of a session from its settled checklist and the patient's earlier sessions.

    Args:
        checklist: as settled() made it.
        patient: for the reference ranges.
        when: day of the session, or its calendar year, for the age.
        muscles: all muscle groups by id.
        earlier: the patient's sessions, latest last.
        limits: figures of the checks.

    Raises:
        KeyError: when the checklist names a muscle group that no longer exists.
    """
    stations: list[Station] = []
    for item, side in stations_of(checklist):
        muscle = muscles[item.muscle]
        velocity = item.fast_velocity or muscle.velocity
        found = last_reading(earlier, item.muscle, side, velocity)
        last, date = found or (None, "")
        remembered = date if last and last.posture == item.posture else ""
        stations.append(
            Station(
                muscle=muscle,
                side=side,
                posture=item.posture,
                remembered=remembered if item.posture != muscle.posture_words else "",
                scale=muscle.scale(item.scale),
                velocity=velocity,
                last=last,
                last_date=date,
                reference=find_reference(muscle.reference, patient.age_in(when), patient.sex),
            )
        )
    return Plan(
        stations=tuple(stations),
        field_order=checklist.field_order,
        tries=checklist.tries,
        counts=checklist.counts,
        quality_max=checklist.quality_max,
        limits=limits or Limits(),
    )


def last_reading(
    earlier: Sequence[Session], muscle: str, side: Side, velocity: FastVelocity | None
) -> tuple[Reading, str] | None:
    """Find the latest reading of a station and its date in words.

    A reading at the same fast velocity is preferred; a station that was not tested at
    all is passed over.
    """
    for wanted in (velocity, None):
        for session in reversed(earlier):
            reading = session.reading_of(muscle, side, wanted)
            if reading and (reading.r1 is not None or reading.r2 is not None):
                return reading, session.date_words
    return None
