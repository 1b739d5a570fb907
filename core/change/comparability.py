"""What differs between the conditions of two sessions, and which numbers that touches.

A difference is "unfair" when it can move a number by itself (another test position, velocity,
examiner, part of the toxin cycle), and a "note" otherwise. Nothing is taken off a number for
it: the difference is named beside every number that it touches.

That time of day and position must be alike: Boyd and Graham 1999 (published form seen). That
examiners differ: see the sources in data/measurement_error.toml. The limits below from which
on a difference counts are ours, common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from ..chart.event import Event
from ..chart.events import toxin_day
from ..chart.session import Conditions, Session
from ..chart.windows import DEFAULT_BANDS, Band, band_of
from ..language import N_, gettext
from ..tardieu.angles import AngleScale
from ..tardieu.reading import Reading

DifferenceLevel = Literal["unfair", "note"]

ALL = ("R1", "R2", "gap", "quality", "shortfall")
ANGLES = ("R1", "R2", "gap", "shortfall")
FAST = ("R1", "gap", "quality")
SLOW = ("R2", "gap", "shortfall")

TIME_OF_DAY_MIN = 120
"""Minutes between two times of day from which on they are no longer the same."""
DOSE_MIN = 60
"""The same for the time since the last dose."""
ORTHOSIS_MIN = 60
"""The same for the time since an orthosis or cast came off."""
PAIN_POINTS = 3
"""Points of pain, of 10, from which on the fast stretch may not be the same test."""
SPEED_SHARE = 0.2
"""Share by which two measured speeds may differ and still be the same test."""

COUNTS_WORDS = {
    "first": N_("the first try"),
    "mean": N_("the mean of the tries"),
    "worst": N_("the worst try"),
}


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that was not alike.

    Attributes:
        id: short name, e.g. "examiner".
        level: "unfair" when it can move a number by itself.
        what: what differs, in English words.
        before: how it was then, in words.
        after: how it is now.
        touches: "R1", "R2", "gap", "quality", "shortfall": the numbers it can move; empty
            for a note.
    """

    id: str
    level: DifferenceLevel
    what: str
    before: str
    after: str
    touches: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The difference on one line."""
        return self.words_of(gettext(self.what))

    def words_of(self, what: str) -> str:
        """The difference on one line, as a difference of this."""
        words = gettext("{what}: {before} then, {after} now")
        return words.format(what=what, before=self.before, after=self.after)


@dataclass(frozen=True, slots=True)
class Cycle:
    """Where in the toxin cycle a session is.

    Attributes:
        events: the chart's events.
        bands: bands of days since an injection.
    """

    events: Sequence[Event] = ()
    bands: Sequence[Band] = field(default=DEFAULT_BANDS)


def session_differences(before: Session, after: Session) -> tuple[Difference, ...]:
    """Find what differs between two sessions as a whole."""
    return (
        *_people(before, after),
        *_times(before, after),
        *_states(before.conditions, after.conditions),
        *_method(before, after),
    )


def station_differences(
    before: tuple[Session, Reading], after: tuple[Session, Reading], cycle: Cycle | None = None
) -> tuple[Difference, ...]:
    """Find what differs between two readings of one station beyond their sessions.

    Args:
        before: the earlier session and its reading.
        after: the later session and its reading.
        cycle: for the days since an injection.
    """
    return (
        *_stretches(before[1], after[1]),
        *_tries(before, after),
        *_toxin(before, after, cycle or Cycle()),
    )


def touching(differences: Sequence[Difference]) -> dict[str, tuple[str, ...]]:
    """List the words of the unfair differences by the number that they touch."""
    return {
        name: tuple(d.words for d in differences if d.level == "unfair" and name in d.touches)
        for name in ALL
    }


def same_rater(before: Session, after: Session) -> bool | None:
    """Check whether one person handled the limb, and one read the angle, at both sessions.

    None when either examiner is not stated.
    """
    if not (before.examiner.strip() and after.examiner.strip()):
        return None
    return raters_of(before) == raters_of(after)


def raters_of(session: Session) -> tuple[str, str]:
    """Name who handled the limb and who read the angle, to compare, "" where that is unknown."""
    examiner = session.examiner.strip().casefold()
    return examiner, session.conditions.reader.strip().casefold() or examiner


def _people(before: Session, after: Session) -> Iterator[Difference]:
    then, now = raters_of(before), raters_of(after)
    if then[0] and now[0] and then[0] != now[0]:
        yield Difference("examiner", "unfair", N_("examiner"), before.examiner, after.examiner, ALL)
    elif then[0] != now[0]:
        yield _note("examiner", "examiner", before.examiner, after.examiner)
    if then[1] and now[1] and then[1] != now[1] and (then[0] == now[0] or _named(before, after)):
        one, other = (s.conditions.reader.strip() or s.examiner.strip() for s in (before, after))
        yield Difference("reader", "unfair", N_("reader of the goniometer"), one, other, ANGLES)
    if before.recorder.strip().casefold() != after.recorder.strip().casefold():
        yield _note("recorder", N_("recorder"), before.recorder, after.recorder)


def _named(before: Session, after: Session) -> bool:
    """Check whether either session names somebody beside the examiner as the reader."""
    return any(s.conditions.reader.strip() for s in (before, after))


def _times(before: Session, after: Session) -> Iterator[Difference]:
    apart = abs(_minute_of_day(before.when) - _minute_of_day(after.when))
    stated = before.time_stated and after.time_stated
    if stated and min(apart, 24 * 60 - apart) > TIME_OF_DAY_MIN:
        yield _note("time-of-day", N_("time of day"), f"{before.when:%H:%M}", f"{after.when:%H:%M}")
    then, now = before.conditions, after.conditions
    dose = (then.minutes_since_dose, now.minutes_since_dose)
    orthosis = (then.minutes_since_orthosis, now.minutes_since_orthosis)
    # Medication acts on the reflex; what an orthosis held stretched reads longer for a while.
    for id_, what, limit, touched, (one, other) in (
        ("dose", N_("time since the last dose"), DOSE_MIN, FAST, dose),
        ("orthosis", N_("orthosis or cast off since"), ORTHOSIS_MIN, ALL, orthosis),
    ):
        words = [_minutes(minutes) for minutes in (one, other)]
        if one is not None and other is not None:
            if abs(one - other) > limit:
                yield Difference(id_, "unfair", what, words[0], words[1], touched)
        elif one != other:
            yield _note(id_, what, *words)


def _minutes(minutes: int | None) -> str:
    return "" if minutes is None else gettext("{count} min").format(count=minutes)


def _minute_of_day(when: datetime) -> int:
    return when.hour * 60 + when.minute


def _states(then: Conditions, now: Conditions) -> Iterator[Difference]:
    if _differ(then.posture, now.posture):
        id_, what, postures = "general-posture", N_("general posture"), (then.posture, now.posture)
        if all(posture.strip() for posture in postures):
            yield Difference(id_, "unfair", what, *postures, ALL)
        else:
            yield _note(id_, what, *postures)
    instruments = [given.instrument or "goniometer" for given in (then, now)]
    if instruments[0] != instruments[1]:
        one, other = map(gettext, instruments)
        yield Difference("instrument", "unfair", N_("instrument"), one, other, ANGLES)
    for id_, what, one, other in (
        ("illness", N_("illness or poor state"), then.illness, now.illness),
        ("notes", N_("notes"), then.notes, now.notes),
    ):
        if _differ(one, other):
            yield _note(id_, what, one, other)


def _method(before: Session, after: Session) -> Iterator[Difference]:
    then, now = before.checklist, after.checklist
    for id_, what, one, other in (
        ("field-order", N_("order of the stretches"), then.field_order, now.field_order),
        ("order", N_("order of testing, by"), then.order, now.order),
        ("first-side", N_("side tested first"), then.first_side.word, now.first_side.word),
        ("grades", N_("highest grade in use"), str(then.quality_max), str(now.quality_max)),
    ):
        if one != other:
            yield _note(id_, what, gettext(one), gettext(other))


def _stretches(then: Reading, now: Reading) -> Iterator[Difference]:
    if _differ(then.posture, now.posture):
        yield Difference("position", "unfair", N_("test position"), then.posture, now.posture, ALL)
    if then.fast_velocity != now.fast_velocity:
        velocities = (then.fast_velocity, now.fast_velocity)
        yield Difference("velocity", "unfair", N_("fast velocity"), *velocities, FAST)
    if _map(then.scale) != _map(now.scale):
        yield _note("scale", N_("angle scale (converted)"), _scale(then.scale), _scale(now.scale))
    one, other = then.speed_deg_s or 0, now.speed_deg_s or 0
    if one and other and max(one, other) > min(one, other) * (1 + SPEED_SHARE):
        speeds = (f"{one} deg/s", f"{other} deg/s")
        yield Difference("speed", "unfair", N_("measured speed"), *speeds, FAST)
    pains = [0 if pain is None else pain for pain in (then.pain, now.pain)]
    if pains[0] != pains[1]:
        words = [_stated(pain) for pain in (then.pain, now.pain)]
        level = "unfair" if abs(pains[0] - pains[1]) >= PAIN_POINTS else "note"
        touched = FAST if level == "unfair" else ()
        yield Difference("pain", level, N_("pain (0 to 10)"), words[0], words[1], touched)


def _tries(before: tuple[Session, Reading], after: tuple[Session, Reading]) -> Iterator[Difference]:
    """Say which of several tries counts, and how many there were, of each velocity."""
    counts = (before[0].checklist.counts, after[0].checklist.counts)
    for id_, what, touched, tries in (
        ("fast-tries", N_("fast tries"), ("R1", "gap"), (before[1].r1_tries, after[1].r1_tries)),
        ("slow-tries", N_("slow tries"), SLOW, (before[1].r2_tries, after[1].r2_tries)),
    ):
        number = [max(1, len(tried)) for tried in tries]  # imported readings carry no tries
        alike = counts[0] == counts[1] and (number[0] == number[1])
        if number == [1, 1] or alike:
            continue
        words = [
            _counting(tried, COUNTS_WORDS[which]) if tried > 1 else "1"
            for tried, which in zip(number, counts, strict=True)
        ]
        # The first of several is the first of one: later tries cannot have moved it.
        if all(tried == 1 or which == "first" for tried, which in zip(number, counts, strict=True)):
            yield _note(id_, what, *words)
        else:
            yield Difference(id_, "unfair", what, words[0], words[1], touched)


def _counting(tries: int, which: str) -> str:
    return gettext("{tries} ({which} counts)").format(tries=tries, which=gettext(which))


def _toxin(
    before: tuple[Session, Reading], after: tuple[Session, Reading], cycle: Cycle
) -> Iterator[Difference]:
    """Compare the days since an injection: another part of the toxin cycle is unfair.

    No injection on record is none of its parts, and before against after the first injection
    is what many comparisons are made for, so that is a note.
    """
    days = [
        toxin_day(cycle.events, reading.muscle, reading.side, session.when.date())
        for session, reading in (before, after)
    ]
    if days[0] == days[1]:
        return
    what = N_("days since toxin")
    bands = ["" if day is None else band_of(day, cycle.bands) for day in days]
    words = [
        gettext("none on record") if day is None else f"{day} ({gettext(band)})"
        for day, band in zip(days, bands, strict=True)
    ]
    if None in days or bands[0] == bands[1]:
        yield _note("toxin", what, *words)
    else:
        yield Difference("toxin", "unfair", what, words[0], words[1], ALL)


def _map(scale: AngleScale) -> tuple[str, int, int]:
    return scale.id, scale.slope, scale.offset


def _scale(scale: AngleScale) -> str:
    words = gettext("{scale}, 0 typed is {angle} deg of stretch")
    return words.format(scale=scale.id, angle=scale.stretch(0))


def _stated(value: int | None) -> str:
    return gettext("not stated") if value is None else str(value)


def _differ(one: str, other: str) -> bool:
    return " ".join(one.split()).casefold() != " ".join(other.split()).casefold()


def _note(id_: str, what: str, before: str, after: str) -> Difference:
    words = [text.strip() or gettext("not stated") for text in (before, after)]
    return Difference(id_, "note", what, words[0], words[1])
