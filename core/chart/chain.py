"""The amendments of one session as a chain: what holds now, what held before, what disagrees.

Two amendments made on the same document are a conflict. Both are kept, and neither is shown
as if it held: until a person settles it with an amendment made on both, every station on
which they differ from what held before them shows that value, with a flag that says so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..tardieu.reading import Flag, Reading, StationKey
from ..tardieu.reading_words import reading_words
from .amendment import Amendment, hash_of, linked
from .checklist import stations_of
from .session import Session

CONFLICT = "amendments-conflict"
"""Rule of the flag on a station about which amendments disagree."""

State = Mapping[StationKey, Reading]


@dataclass(frozen=True, slots=True)
class Former:
    """A reading that held once.

    Attributes:
        reading: the reading, None when the station had none.
        until: the amendment that put something else in its place.
    """

    reading: Reading | None
    until: Amendment


@dataclass(frozen=True, slots=True)
class Claim:
    """What one side of an unsettled conflict says about a station; None for no reading."""

    reading: Reading | None
    amendment: Amendment


@dataclass(frozen=True, slots=True)
class Chain:
    """The documents of one closed session, named by their hashes.

    Attributes:
        session: as it was signed.
        amendments: every one, each after those it was made on.
        parents: what each was made on, as far as it is there; else the session.
        lineage: each document with all it rests on, itself among them.
        states: the readings as each document leaves them.
    """

    session: Session
    amendments: tuple[Amendment, ...] = ()
    parents: dict[str, tuple[str, ...]] = field(default_factory=dict[str, tuple[str, ...]])
    lineage: dict[str, frozenset[str]] = field(default_factory=dict[str, frozenset[str]])
    states: dict[str, State] = field(default_factory=dict[str, State])

    @property
    def tips(self) -> tuple[str, ...]:
        """The documents on which no other was made; more than one is a conflict."""
        below = {parent for parents in self.parents.values() for parent in parents}
        keys = (hash_of(self.session), *(key_of(each) for each in self.amendments))
        return tuple(key for key in keys if key not in below)

    @property
    def conflict(self) -> tuple[Amendment, ...]:
        """The amendments that are in conflict and not settled, () when all is settled."""
        tips = self.tips
        return tuple(a for a in self.amendments if key_of(a) in tips) if len(tips) > 1 else ()

    def before(self, parents: tuple[str, ...]) -> State:
        """Find the readings on which an amendment made on these documents starts.

        Of several documents: what held before they parted.
        """
        if len(parents) == 1:
            return self.states[parents[0]]
        common = frozenset[str].intersection(*(self.lineage[parent] for parent in parents))
        nearest = tuple(
            key
            for key in sorted(common)
            if not any(key != other and key in self.lineage[other] for other in common)
        )
        return self.before(nearest)

    def disputed(self, parents: tuple[str, ...]) -> tuple[StationKey, ...]:
        """List the stations on which documents differ from what held before they parted."""
        base = self.before(parents)
        found: dict[StationKey, None] = {}
        for parent in parents:
            state = self.states[parent]
            found |= {s: None for s in (*base, *state) if base.get(s) != state.get(s)}
        return tuple(found)

    def claims(self, station: StationKey, tips: tuple[str, ...] = ()) -> tuple[Claim, ...]:
        """List what each side of an unsettled conflict says about a station, () without one."""
        tips = tips or self.tips
        if len(tips) == 1 or station not in self.disputed(tips):
            return ()
        return tuple(
            Claim(self.states[tip].get(station), self._giver(tip, station)) for tip in tips
        )

    @property
    def applied(self) -> tuple[Amendment, ...]:
        """The amendments that hold: those on which every side of a conflict rests."""
        settled = frozenset[str].intersection(*(self.lineage[tip] for tip in self.tips))
        return tuple(a for a in self.amendments if key_of(a) in settled)

    def formers(self, station: StationKey) -> tuple[Former, ...]:
        """List every other reading that a station had, the oldest first."""
        return tuple(
            Former(old, amendment)
            for amendment in self.applied
            if station in amendment.stations
            for old in self._replaced(amendment, station)
        )

    def _replaced(self, amendment: Amendment, station: StationKey) -> tuple[Reading | None, ...]:
        key = key_of(amendment)
        now = self.states[key].get(station)
        olds = (self.states[parent].get(station) for parent in self.parents[key])
        return tuple(dict.fromkeys(old for old in olds if old != now))

    def _giver(self, tip: str, station: StationKey) -> Amendment:
        """Find the latest amendment in a tip's lineage that speaks of a station, else the tip."""
        line = [a for a in self.amendments if key_of(a) in self.lineage[tip]]
        return next((a for a in reversed(line) if station in a.stations), line[-1])

    def current(self, tips: tuple[str, ...] = ()) -> Session:
        """Build the session as its amendments leave it, or as documents of the chain left it.

        Its signature is that of the session as it was closed and does not fit the readings.
        """
        tips = tips or self.tips
        readings = dict(self.before(tips))
        if len(tips) > 1:
            for station in self.disputed(tips):
                readings[station] = self._flagged(station, readings.get(station), tips)
        line = frozenset[str].intersection(*(self.lineage[tip] for tip in tips))
        said = {one for each in self.amendments if key_of(each) in line for one in each.stations}
        return replace(self.session, readings=_ordered(self.session, readings, said))

    def _flagged(self, station: StationKey, base: Reading | None, tips: tuple[str, ...]) -> Reading:
        claims = self.claims(station, tips)
        if base is None:  # nothing held there, so nothing is shown but that it is disputed
            given = next(claim.reading for claim in claims if claim.reading)
            base = Reading(
                given.muscle, given.side, given.posture, given.scale, given.fast_velocity
            )
        said = "; ".join(f"{c.amendment.author} says {reading_words(c.reading)}" for c in claims)
        text = f"amendments disagree, and what held before them is shown: {said}"
        return replace(base, flags=(*base.flags, Flag(CONFLICT, "unlikely", "station", text)))


def dispute(reading: Reading | None) -> str:
    """Say how amendments disagree about a reading of Chain.current(), "" where none do."""
    flags = reading.flags if reading else ()
    return next((flag.text for flag in flags if flag.rule == CONFLICT), "")


def key_of(amendment: Amendment) -> str:
    """Find the key that names an amendment."""
    return amendment.hash or amendment.id


def chain_of(session: Session, amendments: Iterable[Amendment]) -> Chain:
    """Build the chain of one session.

    An amendment made on a document that is missing counts as made on the session: it stays
    in sight, and findings() reports the gap.
    """
    root = hash_of(session)
    own = {key_of(a): a for a in amendments if a.parent == session.id}
    own.pop(root, None)
    known = {
        key: tuple(dict.fromkeys(m for m in a.made_on if m in own or m == root)) or (root,)
        for key, a in own.items()
    }
    order = _placed(root, known)
    lineage, states = {root: frozenset((root,))}, {root: _state_of(session.readings)}
    chain = Chain(session, tuple(own[key] for key in order), order, lineage, states)
    for key, parents in order.items():
        lineage[key] = frozenset((key,)).union(*(lineage[parent] for parent in parents))
        states[key] = _applied(own[key], chain.before(parents))
    return chain


def chains_of(sessions: Sequence[Session], amendments: Sequence[Amendment]) -> dict[str, Chain]:
    """Build the chain of each session that has amendments, by its id."""
    own: dict[str, list[Amendment]] = {}
    for amendment in linked(sessions, amendments):
        own.setdefault(amendment.parent, []).append(amendment)
    return {each.id: chain_of(each, own[each.id]) for each in sessions if each.id in own}


def _placed(root: str, known: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Order the documents with their parents, each after its parents; else as they were given.

    Hashes that hold cannot form a ring; one that was forged is cut open at the session.
    """
    placed: dict[str, tuple[str, ...]] = {}
    waiting = dict(known)
    while waiting:
        ready = [
            k for k, parents in waiting.items() if all(p == root or p in placed for p in parents)
        ]
        for key in ready:
            placed[key] = waiting.pop(key)
        if not ready:
            key = next(iter(waiting))
            placed[key] = (root,)
            del waiting[key]
    return placed


def _state_of(readings: Iterable[Reading]) -> State:
    return {reading.station: reading for reading in readings}


def _applied(amendment: Amendment, before: State) -> State:
    kept = {s: reading for s, reading in before.items() if s not in amendment.withdrawn}
    return {**kept, **_state_of(amendment.readings)}


def _ordered(
    session: Session, readings: State, said: Collection[StationKey]
) -> tuple[Reading, ...]:
    """Put the readings in their signed order; by the checklist once there are others.

    A station entered twice keeps both until an amendment said what is there.
    """
    signed = _state_of(session.readings)
    left = dict(readings)
    given: list[Reading] = []
    for reading in session.readings:
        now = readings.get(reading.station)
        if now == signed[reading.station] and reading.station not in said:
            given.append(reading)
        elif now is not None and reading.station in left:
            given.append(now)
        left.pop(reading.station, None)
    if not left:
        return tuple(given)
    stations = stations_of(session.checklist)
    places = {(item.muscle, side): place for place, (item, side) in enumerate(stations)}
    given += left.values()
    return tuple(sorted(given, key=lambda r: places.get((r.muscle, r.side), len(places))))
