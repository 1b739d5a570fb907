"""A drill as a value: the entry that is typed into, what was read out, and the result."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random

from ....core.entry.deck import Spoken, deal, keys_of
from ....core.entry.plan import Plan
from ....core.entry.readings import reading_of
from ....core.entry.state import Bell, EntryState, Field, Finished, Moment, begin
from ....core.entry.step import step

_NAMES = {Field.R1: "R1", Field.QUALITY: "quality", Field.R2: "R2"}


@dataclass(frozen=True, slots=True)
class Drill:
    """One session of a drill.

    Attributes:
        entry: the entry, as in a real session.
        spoken: what is read out, one a station.
        keys: pressed so far.
        began: s on the monotonic clock at the first key, None before it.
        ended: the same at the last key.
        over: every station is done, or the recorder left.
    """

    entry: EntryState
    spoken: tuple[Spoken, ...]
    keys: int = 0
    began: float | None = None
    ended: float = 0.0
    over: bool = False


@dataclass(frozen=True, slots=True)
class Slip:
    """A value that was typed otherwise than it was read out."""

    station: str
    field: str
    read: str
    typed: str

    def __str__(self) -> str:
        return f"{self.station}: {self.field} read {self.read}, typed {self.typed}"


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one or more sessions.

    Attributes:
        readings: stations that were done.
        values: fields of these stations.
        seconds: from the first key to the last.
        keys: pressed, those at stations that were not done as well.
        least: the fewest keys that the stations done could have been typed with.
        slips: values typed otherwise than read out, of the stations done.
    """

    readings: int = 0
    values: int = 0
    seconds: float = 0.0
    keys: int = 0
    least: int = 0
    slips: tuple[Slip, ...] = ()

    @property
    def per_minute(self) -> float | None:
        """Readings a minute, None when no time has passed."""
        return 60 * self.readings / self.seconds if self.seconds > 0 else None


def new_drill(plan: Plan, chance: Random) -> Drill:
    """A session that nobody has typed into."""
    return Drill(begin(plan), deal(plan, chance))


def pressed(drill: Drill, key: str, now: Moment) -> tuple[Drill, bool]:
    """Take one key of the entry; the next drill, and whether to ring."""
    entry, effects = step(drill.entry, key, now)
    began = now.ticks if drill.began is None else drill.began
    over = any(isinstance(effect, Finished) for effect in effects)
    new = replace(drill, entry=entry, keys=drill.keys + 1, began=began, ended=now.ticks, over=over)
    return new, any(isinstance(effect, Bell) for effect in effects)


def read_out(drill: Drill) -> str:
    """What is read out at the current station, in the order of the fields."""
    spoken = drill.spoken[drill.entry.cursor.station]
    return ", ".join(f"{_NAMES[f]} {_word(spoken.value(f))}" for f in drill.entry.fields)


def result_of(drill: Drill) -> Result:
    """What came of a session so far."""
    entry = drill.entry
    done = [index for index, draft in enumerate(entry.drafts) if draft.done]
    slips = [slip for index in done for slip in _slips(drill, index)]
    least = (
        len(keys_of(drill.spoken[index], entry.plan.stations[index].scale.presign))
        for index in done
    )
    seconds = 0.0 if drill.began is None else drill.ended - drill.began
    fields = len(entry.fields) * len(done)
    return Result(len(done), fields, seconds, drill.keys, sum(least), tuple(slips))


def together(results: tuple[Result, ...]) -> Result:
    """Several sessions as one; the time between them does not count."""
    return Result(
        sum(one.readings for one in results),
        sum(one.values for one in results),
        sum(one.seconds for one in results),
        sum(one.keys for one in results),
        sum(one.least for one in results),
        tuple(slip for one in results for slip in one.slips),
    )


def _slips(drill: Drill, index: int) -> list[Slip]:
    """A station's values that differ; one not tested differs in all of them."""
    station, draft = drill.entry.plan.stations[index], drill.entry.drafts[index]
    reading, spoken = reading_of(drill.entry, index), drill.spoken[index]
    typed = {Field.R1: reading.r1, Field.QUALITY: reading.quality, Field.R2: reading.r2}
    found: list[Slip] = []
    for field, name in _NAMES.items():
        word = "not tested" if draft.not_tested else _word(typed[field])
        if word != _word(spoken.value(field)):
            found.append(Slip(station.name, name, _word(spoken.value(field)), word))
    return found


def _word(value: int | None) -> str:
    return "no catch" if value is None else str(value)
