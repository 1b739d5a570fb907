"""The readings that an entry's drafts amount to, and the flags that the checks give them."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from ..tardieu.checks import CheckContext, check_reading
from ..tardieu.reading import Counts, Flag, Reading
from .blind import blind_flags
from .state import Draft, EntryState, Field

SAME = (
    *("quality", "clonus_s", "pain", "not_tested", "not_tested_note", "comment", "overrides"),
    *("entered", "speed_deg_s"),
)
"""What a draft and a reading call by the same name."""


def counted(tries: tuple[int | None, ...], counts: Counts, slope: int) -> int | None:
    """Choose the try that counts, as typed, deg.

    first: the first try, even without a catch. mean: of the tries with a catch, rounded
    half towards less stretch. worst: the least stretch, any catch before none.
    """
    found = [try_ for try_ in tries if try_ is not None]
    if not found or (counts == "first" and tries[0] is None):
        return None
    if counts == "first":
        return found[0]
    if counts == "worst":
        return min(found, key=lambda try_: slope * try_)
    return slope * ceil(Fraction(slope * sum(found), len(found)) - Fraction(1, 2))


def reading_of(state: EntryState, index: int, draft: Draft | None = None) -> Reading:
    """Make the reading that a station's draft amounts to; fields not accepted yet are None."""
    draft = draft or state.drafts[index]
    station, counts = state.plan.stations[index], state.plan.counts
    return Reading(
        muscle=station.muscle.id,
        side=station.side,
        posture=draft.posture,
        scale=station.scale,
        fast_velocity=draft.velocity,
        r1=counted(draft.r1, counts, station.scale.slope),
        r2=counted(draft.r2, counts, station.scale.slope),
        r1_tries=draft.r1,
        r2_tries=draft.r2,
        flags=draft.heard,
        **{name: getattr(draft, name) for name in SAME},
    )


def session_readings(state: EntryState) -> tuple[Reading, ...]:
    """Make the readings of a session as it is closed: also half-done stations, nothing is lost."""
    return tuple(
        reading_of(state, index) for index, draft in enumerate(state.drafts) if draft.has_content
    )


def flags_of(state: EntryState, draft: Draft, index: int) -> tuple[Flag, ...]:
    """Find every flag that a station would have with this draft."""
    station = state.plan.stations[index]
    other, velocity = state.plan.other_side(index), state.plan.other_velocity(index)
    entered = other if other is not None and state.drafts[other].done else None
    context = CheckContext(
        muscle=station.muscle,
        limits=state.plan.limits,
        reference=station.reference_range,
        last=station.last,
        other_side=None if entered is None else reading_of(state, entered),
        other_side_last=None if other is None else state.plan.stations[other].last,
        other_velocity=None if velocity is None else reading_of(state, velocity),
        typed_in=state.plan.field_order,
    )
    check = blind_flags if state.plan.blind else check_reading
    return check(reading_of(state, index, draft), context, whole=draft.done)


def read_back_words(state: EntryState) -> str:
    """Write the current station as it is read out: side in full, muscle group, values in order."""
    station, draft = state.station, state.draft
    quality = "none" if draft.quality is None else str(draft.quality)
    parts = {
        Field.R1: f"R1 {_spoken(draft.r1)}",
        Field.QUALITY: f"quality {quality}",
        Field.R2: f"R2 {_spoken(draft.r2)}",
    }
    values = ", ".join(parts[field] for field in state.fields)
    speed = state.plan.at_velocity(state.cursor.station)
    return f"{station.side.word} {station.muscle.name}{speed}: {values}"


def _spoken(tries: tuple[int | None, ...]) -> str:
    """Write every try, with its sign as a word, for a minus is easily not seen."""
    words = ("no catch" if try_ is None else f"{try_}".replace("-", "minus ") for try_ in tries)
    return " and ".join(words) or "none"
