"""Invented readings to be read out: a plan, and values for each of its stations.

The values follow no patient and no published figure. They are only such as the checks let
pass, so that whatever the checks say in a drill is about the typing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from ..chart.checklist import Checklist
from ..chart.patient import Patient
from ..tardieu.checks import CheckContext, check_reading
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading
from .plan import Plan, Station, make_plan, settled
from .state import Field

CHECKLIST = "lower-limb"
PATIENT = Patient("DRILL", 1961, "female", "stroke", "left")
"""Nobody: reference ranges want an age and a sex."""

_TRIES = 200
_SHARE_WITHOUT_CATCH = 0.25


@dataclass(frozen=True, slots=True)
class Spoken:
    """What is read out for one station, angles as its scale writes them, deg; R1 None: no catch."""

    r1: int | None
    quality: int
    r2: int

    def value(self, field: Field) -> int | None:
        """The value of a field."""
        return {Field.R1: self.r1, Field.QUALITY: self.quality, Field.R2: self.r2}[field]


def drill_plan(checklists: Sequence[Checklist], muscles: Mapping[str, Muscle], year: int) -> Plan:
    """The plan of a drill: the lower-limb checklist, or the first one where it is missing."""
    chosen = next((one for one in checklists if one.id == CHECKLIST), checklists[0])
    return make_plan(settled(chosen, PATIENT.affected, muscles), PATIENT, year, muscles)


def deal(plan: Plan, chance: Random) -> tuple[Spoken, ...]:
    """Invented values for every station of a plan."""
    dealt: list[Spoken] = []
    before: dict[str, Reading] = {}
    for station in plan.stations:
        other = before.get(station.muscle.id)
        context = CheckContext(station.muscle, reference=station.reference_range, other_side=other)
        spoken = _passing(station, replace(context, typed_in=plan.field_order), chance)
        before[station.muscle.id] = as_reading(station, spoken)
        dealt.append(spoken)
    return tuple(dealt)


def as_reading(station: Station, spoken: Spoken) -> Reading:
    """The reading that a station typed as it was read out amounts to."""
    return Reading(
        muscle=station.muscle.id,
        side=station.side,
        posture=station.posture,
        scale=station.scale,
        fast_velocity=station.velocity if station.muscle.gravity else "V3",
        r1=spoken.r1,
        r2=spoken.r2,
        quality=spoken.quality,
        r1_tries=(spoken.r1,),
        r2_tries=(spoken.r2,),
    )


def _passing(station: Station, context: CheckContext, chance: Random) -> Spoken:
    """Values on which no check has anything to say.

    Raises:
        ValueError: when none were found, as for a muscle group whose range is empty.
    """
    for _ in range(_TRIES):
        spoken = _drawn(station, chance)
        if not check_reading(as_reading(station, spoken), context):
            return spoken
    raise ValueError(f"no reading of {station.name} passes the checks")


def _drawn(station: Station, chance: Random) -> Spoken:
    """Any values inside the joint's limits, the catch 5 to 40 deg before the slow range."""
    low, high, scale = station.muscle.low, station.muscle.high, station.scale
    end = low + round((high - low) * chance.uniform(0.4, 0.9))
    catch = max(low, end - chance.randint(5, 40))
    if chance.random() < _SHARE_WITHOUT_CATCH:
        return Spoken(None, chance.randint(0, 1), scale.typed(end))
    return Spoken(scale.typed(catch), 2, scale.typed(end))


def keys_for(value: int | None, presign: bool) -> tuple[str, ...]:
    """The fewest keys that type an angle, Enter included; None is "no catch".

    Args:
        value: the angle as typed, deg.
        presign: the scale's minus stands there already.
    """
    if value is None:
        return ("enter",)
    sign = "" if value == 0 or (value < 0) == presign else "-" if value < 0 else "+"
    return (*sign, *str(abs(value)), "enter")


def keys_of(spoken: Spoken, presign: bool) -> tuple[str, ...]:
    """The fewest keys of a station: digits, needed signs, one digit of quality, two Enters."""
    return (*keys_for(spoken.r1, presign), str(spoken.quality), *keys_for(spoken.r2, presign))
