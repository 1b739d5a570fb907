"""Correcting a closed session: its readings as an entry, and what of them was changed.

The entry's own reducer is used, so that the checks, undo and the journal are the same as on
the day; only the stations that a person changed go into the amendment.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from ..chart.checklist import Checklist, Item, stations_of
from ..chart.session import Session
from ..tardieu.reading import FastVelocity, Reading, Side, StationKey
from .plan import Plan, partners
from .readings import SAME, reading_of
from .state import Draft, EntryState, begin, cursor_at


@dataclass(frozen=True, slots=True)
class Corrected:
    """One station as an amendment changes it.

    Attributes:
        old: its reading before, None when it had none.
        new: its reading after, None when the old one is withdrawn.
    """

    old: Reading | None
    new: Reading | None


def amending_checklist(session: Session) -> Checklist:
    """Make the session's checklist, followed by the stations that only readings speak of.

    After them comes the other side of every station with a reading that lacks it, so that what
    was entered on the wrong side can be moved.
    """
    left = list(session.readings)
    for item, side in stations_of(session.checklist):
        take(left, item.muscle, side, item.fast_velocity)
    more = tuple(Item(r.muscle, r.side.value, r.fast_velocity, r.scale.id, r.posture) for r in left)
    listed = replace(session.checklist, items=(*session.checklist.items, *more))
    stations = stations_of(listed)
    there = partners([(item.muscle, side, item.fast_velocity) for item, side in stations])
    read = {(reading.muscle, reading.side) for reading in session.readings}
    others = tuple(
        replace(item, sides=side.other.value)
        for index, (item, side) in enumerate(stations)
        if index not in there and (item.muscle, side) in read
    )
    return replace(listed, items=(*listed.items, *others))


def aside_of(session: Session) -> frozenset[int]:
    """Find the stations of its amending_checklist() that are only there to be moved to."""
    stations = [
        (item.muscle, side, item.fast_velocity) for item, side in stations_of(session.checklist)
    ]
    stations += [(one.muscle, one.side, one.fast_velocity) for one in session.readings]
    return frozenset(
        index
        for index, (item, side) in enumerate(stations_of(amending_checklist(session)))
        if (item.muscle, side, item.fast_velocity) not in stations
    )


Place = tuple[str, Side, FastVelocity | None]
"""A station that was pointed at; without a velocity when it has no reading."""


def begin_amending(plan: Plan, readings: Sequence[Reading], at: Place | None = None) -> EntryState:
    """Begin an entry with the readings filled in.

    Args:
        plan: of the session with its amending_checklist().
        readings: as they hold now.
        at: the station to begin at, None for the first.
    """
    found = readings_by_station(plan, readings)
    # Typed in the scale of the reading, even if the clinic has changed that scale since.
    stations = tuple(
        replace(station, scale=reading.scale) if reading else station
        for station, reading in zip(plan.stations, found, strict=True)
    )
    state = begin(replace(plan, stations=stations))
    drafts = tuple(
        draft_of(reading) if reading else draft
        for reading, draft in zip(found, state.drafts, strict=True)
    )
    state = replace(state, drafts=drafts)
    places = [
        (station.muscle.id, station.side, reading.fast_velocity if reading else None)
        for station, reading in zip(plan.stations, found, strict=True)
    ]
    if at is None:
        return replace(state, cursor=cursor_at(state, 0))
    near = [(place[:2] != at[:2], place != at) for place in places]
    return replace(state, cursor=cursor_at(state, near.index(min(near))))


def readings_by_station(plan: Plan, readings: Sequence[Reading]) -> tuple[Reading | None, ...]:
    """Find the reading of each station of a plan, None where there is none."""
    left = list(readings)
    return tuple(
        take(left, station.muscle.id, station.side, station.velocity) for station in plan.stations
    )


def take(
    left: list[Reading], muscle: str, side: Side, velocity: FastVelocity | None
) -> Reading | None:
    """Take a station's reading out of those left; at the other velocity when there is no better."""
    here = [reading for reading in left if (reading.muscle, reading.side) == (muscle, side)]
    here.sort(key=lambda reading: reading.fast_velocity != velocity)
    if not here:
        return None
    left.remove(here[0])
    return here[0]


def draft_of(reading: Reading) -> Draft:
    """Make the draft that a reading amounts to."""
    r1 = reading.r1_tries
    if not r1 and (reading.r1 is not None or reading.quality in (0, 1)):
        r1 = (reading.r1,)  # an imported reading has no tries
    r2 = reading.r2_tries or (() if reading.r2 is None else (reading.r2,))
    whole = bool(r1 and r2) and reading.quality is not None
    return Draft(
        posture=reading.posture,
        velocity=reading.fast_velocity,
        r1=r1,
        r2=r2,
        heard=reading.flags,
        done=whole or bool(reading.entered or reading.not_tested),
        **{name: getattr(reading, name) for name in SAME},
    )


def changes(
    start: EntryState,
    now: EntryState,
    readings: Sequence[Reading],
    disputed: Collection[StationKey] = (),
) -> tuple[Corrected, ...]:
    """List the stations that were changed, and every disputed one, in the order of the plan.

    Of a station that older data has twice both are listed: an amendment names a station, so one
    that is left out would go with the other.

    Args:
        start: as begin_amending() made it.
        now: as it is to be saved.
        readings: those that start was made from.
        disputed: stations about which the amendment has to say what holds.
    """
    olds = readings_by_station(now.plan, readings)
    changed = [
        _bare(before) != _bare(after) or one.scale != other.scale
        for before, after, one, other in zip(
            start.drafts, now.drafts, start.plan.stations, now.plan.stations, strict=True
        )
    ]
    listed = {
        *disputed,
        *(old.station for old, new in zip(olds, changed, strict=True) if old and new),
    }
    found = [
        Corrected(old, reading_of(now, index) if now.drafts[index].has_content else None)
        for index, old in enumerate(olds)
        if changed[index] or (old and old.station in listed)
    ]
    return tuple(each for each in found if each.old or each.new)


def _bare(draft: Draft) -> Draft:
    """Leave out when a draft was typed and how often; what it says remains."""
    return replace(draft, done=False, entered="")


def amendment_of(
    corrected: Sequence[Corrected],
) -> tuple[tuple[Reading, ...], tuple[StationKey, ...]]:
    """Split corrections into the readings an amendment gives, and the stations it withdraws."""
    readings = tuple(each.new for each in corrected if each.new)
    given = {reading.station for reading in readings}
    withdrawn = tuple(
        each.old.station for each in corrected if each.old and each.old.station not in given
    )
    return readings, withdrawn
