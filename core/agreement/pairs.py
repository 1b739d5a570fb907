"""Reliability pairs on the shelf: the same station of one patient, tested twice.

Nobody marks them: two closed sessions of one patient that both hold the same muscle group,
side, fast velocity, posture and test position are a pair. Different examiners make a pair of
different raters, as do different readers of the goniometer; two sessions of one examiner and
reader are a repeat by the same rater. What was read with another instrument is no pair. Here
they are of one local date; a day on which an event (say, an injection) is recorded is left out,
since the limb may not have been the same before and after. Those of different days: across_days.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from itertools import groupby
from typing import Literal

from ..change.comparability import raters_of
from ..chart.chain import dispute
from ..chart.chart import Chart
from ..chart.events import NEXT_DATE, standing
from ..chart.session import Session, day_words
from ..tardieu.measurement_error import UNSTATED
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading, Side
from .digits import DigitPreference, digit_preference
from .ratings import Ratings, ratings_of

Raters = Literal["same", "different"]
RATER_WORDS = {
    "same": "repeats by the same examiner",
    "different": "different raters",
}

INTERVAL_WORDS = {
    "same-day": "on one day",
    "different-days": "on different days",
}
"""An interval of measurement_error.toml -> its words."""

QUANTITIES: dict[str, Callable[[Reading], int | None]] = {
    "R1": lambda reading: reading.r1_stretch,
    "R2": lambda reading: reading.r2_stretch,
    "gap": lambda reading: reading.gap,
    "quality": lambda reading: reading.quality,
}
"""What is compared: angles as stretch angles in deg, so that any scale will do, and grades."""

PLACES = ("first", "second")


@dataclass(frozen=True, slots=True)
class Take:
    """One of the readings of a pair.

    Attributes:
        examiner: who handled the limb, in capitals.
        when: local start of the session.
        reading: the reading.
        quality_max: highest grade of the session's checklist.
        rater: the examiner, and who read the angle where that was another one, in capitals.
        instrument: one of measurement_error.INSTRUMENTS.
        blind: it was typed with last values and trends hidden.
    """

    examiner: str
    when: datetime
    reading: Reading
    quality_max: int
    rater: str
    instrument: str
    blind: bool = False

    @property
    def time(self) -> str:
        """Local start of the session, HH:MM."""
        return self.when.strftime("%H:%M")


Kind = tuple[str, str, str, Raters, str, str]
"""Muscle, velocity, posture, raters, interval and instrument."""


@dataclass(frozen=True, slots=True)
class Pair:
    """One station of one patient tested twice; on one day more often by several examiners.

    Attributes:
        code: patient code.
        diagnosis: the patient's diagnosis group, "" when not stated.
        age: the patient's age in years, None when not stated.
        day: the local date, of the first where they differ.
        raters: the same examiner and reader, or different ones.
        takes: one for each, in the order of time.
        interval: "same-day" or "different-days".
    """

    code: str
    diagnosis: str
    age: int | None
    day: date
    raters: Raters
    takes: tuple[Take, ...]
    interval: str = "same-day"

    @property
    def reading(self) -> Reading:
        """The first reading, for what all of them have in common."""
        return self.takes[0].reading

    @property
    def kind(self) -> Kind:
        """What pairs that go together are alike in, see Kind."""
        reading = self.reading
        posture, velocity = reading.posture, reading.fast_velocity
        instrument = self.takes[0].instrument
        return (reading.muscle, velocity, posture, self.raters, self.interval, instrument)

    @property
    def target(self) -> str:
        """Its name in a table; of repeats by two raters on one day each is a target."""
        who = f" {self.takes[0].rater}" if self.raters == "same" else ""
        return f"{self.code} {self.reading.side.word} {self.day.isoformat()}{who}"

    @property
    def takes_words(self) -> list[str]:
        """Who took it when, for each take, blind ratings marked."""
        of_one_day = self.interval == "same-day"
        return [
            f"{take.rater} {take.time if of_one_day else day_words(take.when)}"
            f"{' blind' if take.blind else ''}"
            for take in self.takes
        ]


@dataclass(frozen=True, slots=True)
class PairTable:
    """The ratings of one muscle group and quantity, from pairs alike in kind.

    Attributes:
        muscle: id of the muscle group.
        velocity: "V3" or "V2", of the fast stretch.
        posture: posture and test position in words.
        raters: the same examiner and reader, or different ones.
        interval: "same-day" or "different-days".
        instrument: one of measurement_error.INSTRUMENTS.
        quantity: key of QUANTITIES.
        ratings: the table.
        pairs: where it comes from.
    """

    muscle: str
    velocity: str
    posture: str
    raters: Raters
    interval: str
    instrument: str
    quantity: str
    ratings: Ratings
    pairs: tuple[Pair, ...]

    @property
    def patients(self) -> int:
        """How many patients the targets come from."""
        return len({pair.code for pair in self.pairs})

    @property
    def blind(self) -> int:
        """How many pairs have a blind rating after the first one."""
        return sum(any(take.blind for take in pair.takes[1:]) for pair in self.pairs)

    @property
    def categories(self) -> tuple[int, ...] | None:
        """The fixed list of grades; None for angles."""
        if self.quantity != "quality":
            return None
        takes = [take for pair in self.pairs for take in pair.takes]
        most = max(max(take.quality_max, take.reading.quality or 0) for take in takes)
        return tuple(range(most + 1))


def pairs_of(chart: Chart) -> tuple[list[Pair], list[str]]:
    """Find the pairs of a chart; say what was left out and why."""
    pairs: list[Pair] = []
    left_out: list[str] = []
    # A date set for a later visit is no treatment.
    events = {event.date for event in standing(chart.events) if event.kind != NEXT_DATE}
    # Local dates can run against the order of time where the UTC offset changed.
    by_day = sorted(chart.by_date, key=lambda session: session.when.date())
    for day, found in groupby(by_day, key=lambda session: session.when.date()):
        sessions = [session for session in found if session.readings]
        if len(sessions) < 2:
            continue
        where = f"{chart.patient.code}, {sessions[0].date_words}"
        if day.isoformat() in events:
            left_out.append(f"{where}: left out, an event is recorded on that day")
        elif not all(session.examiner.strip() for session in sessions):
            left_out.append(f"{where}: left out, a session does not name its examiner")
        else:
            pairs += _of_day(chart, day, sessions, left_out)
    return pairs, left_out


def pair_tables(pairs: Sequence[Pair], order: Iterable[str]) -> list[PairTable]:
    """Make a table for each kind of pair and quantity, muscle groups in the order given."""
    places = {muscle: place for place, muscle in enumerate(order)}
    kinds = dict.fromkeys(pair.kind for pair in pairs)

    def place(kind: Kind) -> tuple[object, ...]:
        muscle, *others, interval, instrument = kind
        last = (interval != "same-day", instrument)
        return (places.get(muscle, len(places)), muscle, *others, *last)

    ordered = sorted(kinds, key=place)
    return [
        PairTable(*kind, quantity, _table(alike, value), tuple(alike))
        for kind in ordered
        for alike in [[pair for pair in pairs if pair.kind == kind]]
        for quantity, value in QUANTITIES.items()
    ]


def shelf_digits(charts: Iterable[Chart], muscle: str | None = None) -> list[DigitPreference]:
    """Count the last digits of every angle typed in closed sessions, for each examiner.

    As typed and not as stretch angles: a scale's zero would move the last digit.
    """
    typed: dict[str, list[int]] = {}
    for session in (session for chart in charts for session in chart.by_date):
        for reading in session.readings:
            if muscle in (None, reading.muscle):
                angles = [angle for angle in (reading.r1, reading.r2) if angle is not None]
                typed.setdefault(examiner_of(session) or "not named", []).extend(angles)
    return [digit_preference(who, angles) for who, angles in sorted(typed.items()) if angles]


def standard_posture(table: PairTable, muscle: Muscle | None) -> bool:
    """Say whether a table's posture and test position are the muscle's standard ones."""
    return muscle is not None and table.posture in ("", muscle.posture_words)


def instrument_words(instrument: str) -> str:
    """Name an instrument behind a title; "" for a goniometer, and where it is not stated."""
    return "" if instrument in ("goniometer", UNSTATED) else f", instrument: {instrument}"


def _of_day(
    chart: Chart, day: date, sessions: Sequence[Session], left_out: list[str]
) -> Iterator[Pair]:
    """Yield the pairs of one patient and day."""
    stations: dict[tuple[str, Side, str], list[Take]] = {}
    for session in sessions:
        for reading in session.readings:
            stations.setdefault(reading.station, []).append(take_of(session, reading))
    for takes in stations.values():
        reading = takes[0].reading
        if reason := unlike(takes):
            station = f"{reading.muscle} {reading.side.word}"
            words = f"{chart.patient.code}, {sessions[0].date_words}, {station}"
            left_out.append(f"{words}: left out, {reason}")
            continue
        by_rater: dict[str, list[Take]] = {}
        for take in takes:
            by_rater.setdefault(take.rater, []).append(take)
        if len(by_rater) > 1:
            yield pair_of(chart, day, "different", [own[0] for own in by_rater.values()])
        for own in by_rater.values():
            if len(own) > 1:
                yield pair_of(chart, day, "same", own[:2])


def unlike(takes: Iterable[Take]) -> str:
    """Say why takes of one station are no pair; "" when they are."""
    takes = tuple(takes)
    if any(dispute(take.reading) for take in takes):
        return "amendments disagree about a reading"
    postures, instruments = zip(*((t.reading.posture, t.instrument) for t in takes), strict=True)
    if len(set(postures)) > 1:
        return "the posture or test position differs"
    return "the instrument differs" if len(set(instruments)) > 1 else ""


def pair_of(
    chart: Chart, day: date, raters: Raters, takes: Sequence[Take], interval: str = "same-day"
) -> Pair:
    """Make a pair of takes of a chart's patient; see Pair."""
    patient = chart.patient
    head = (patient.code, patient.diagnosis, patient.age_in(day), day)
    return Pair(*head, raters, tuple(takes), interval)


def take_of(session: Session, reading: Reading) -> Take:
    """Make a take of a reading of a session."""
    examiner, (handled, read) = examiner_of(session), raters_of(session)
    rater = examiner if read == handled else f"{examiner} read by {read.upper()}"
    seen, most = session.conditions, session.checklist.quality_max
    instrument = seen.instrument or "goniometer"
    return Take(examiner, session.when, reading, most, rater, instrument, seen.blind)


def examiner_of(session: Session) -> str:
    """Return who handled the limb, in capitals, "" when nobody is named."""
    return session.examiner.strip().upper()


def _table(pairs: Sequence[Pair], value: Callable[[Reading], int | None]) -> Ratings:
    """Make the table of targets by raters; by first and second where these change."""
    raters = {frozenset(take.rater for take in pair.takes) for pair in pairs}
    named = pairs[0].raters == "different" and len(raters) == 1
    cells: list[tuple[str, str, Fraction | None]] = []
    # Sorted, so that the sign of a bias does not hang on who happened to come first.
    columns = sorted(next(iter(raters))) if named else PLACES
    for pair in pairs:
        takes = {take.rater: take for take in pair.takes}
        used = [takes[name] for name in columns] if named else pair.takes[:2]
        for column, take in zip(columns, used, strict=True):
            number = value(take.reading)
            cells.append((pair.target, column, None if number is None else Fraction(number)))
    return ratings_of(cells, crossed=named or pairs[0].raters == "same")
