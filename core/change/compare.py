"""Two sessions of a chart side by side: every station's change and what was not alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..chart.chart import Chart
from ..chart.event import Event
from ..chart.events import between, parse_day, toxin_day
from ..chart.patient import Patient, reference_for
from ..chart.session import Session
from ..chart.windows import band_of
from ..config.catalogue import Catalogue
from ..config.error_file import shipped_errors
from ..config.settings import Settings
from ..language import gettext, ngettext
from ..problem import Problem
from ..tardieu.angles import AngleScale
from ..tardieu.components import shortfall_of
from ..tardieu.measurement_error import Asked, MeasurementError, figures_for
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading, Side, StationKey
from ..tardieu.reference import Reference
from .change import ChangeLimits, StationChange, change_of
from .comparability import (
    Cycle,
    Difference,
    same_rater,
    session_differences,
    station_differences,
    touching,
)
from .disputed import undisputed

ADULT = 18
"""Age from which on a person counts as an adult when a figure is looked for, in years."""

_Pair = tuple[Reading | None, Reading | None]
"""The reading of a station then and now, at least one of them."""

_UNKNOWN = "no reference: the muscle group is not in the list"


@dataclass(frozen=True, slots=True)
class CompareRow:
    """One station of a comparison.

    Attributes:
        muscle: id of the muscle group.
        name: its name, or the id of one that is no longer known.
        short: its abbreviation, the same for one that is no longer known.
        side: side of the body.
        velocity: fast velocity of the later reading.
        before: the earlier reading, None when that session has none.
        after: the later reading.
        change: what changed.
        differences: what was not alike at this station, beyond the sessions' own.
        toxin: days since an injection then and now, None when none is on record.
        reference: what must be known of the reference range, or "".
    """

    muscle: str
    name: str
    short: str
    side: Side
    velocity: str
    before: Reading | None
    after: Reading | None
    change: StationChange
    differences: tuple[Difference, ...]
    toxin: tuple[int | None, int | None]
    reference: str

    @property
    def scale(self) -> AngleScale:
        """The angle scale to show both readings in: the later reading's."""
        reading = self.after or self.before
        assert reading is not None, "a row has at least one reading"
        return reading.scale

    def shown(self, stretch: int | None) -> int | None:
        """Write a stretch angle (deg) in this row's angle scale."""
        return None if stretch is None else self.scale.typed(stretch)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sessions side by side.

    Attributes:
        patient: the patient.
        before: the earlier session.
        after: the later session.
        rows: every station of either, in the order of the later session; those of the earlier
            one only come behind the station that was before them there.
        differences: what was not alike between the sessions as a whole.
        events: what was done from the day of the one to the day of the other.
        level: of the smallest detectable change, %.
        bands: label of the toxin band by days, for the rows' toxin days.
    """

    patient: Patient
    before: Session
    after: Session
    rows: tuple[CompareRow, ...]
    differences: tuple[Difference, ...]
    events: tuple[Event, ...]
    level: int
    bands: Mapping[int, str]

    @property
    def by_size(self) -> tuple[CompareRow, ...]:
        """The rows: catches gone first, then the most changed in units of its MDC.

        Those without a figure come behind, the largest change in degrees first.
        """
        return tuple(sorted(self.rows, key=_changed_most))

    @property
    def compared(self) -> int:
        """How many changes of R1 and R2 are held against a figure."""
        angles = (angle for row in self.rows for angle in (row.change.r1, row.change.r2))
        return sum(angle.size is not None for angle in angles)

    @property
    def by_chance(self) -> float:
        """How many of them would be called larger if nothing had changed and the figures hold."""
        return self.compared * (100 - self.level) / 100

    @property
    def chance_words(self) -> str:
        """Say how many numbers were compared, and how many of them chance calls larger."""
        if not self.compared:
            return gettext("no number here has a published figure to be compared with")
        numbers = ngettext("{count} number compared", "{count} numbers compared", self.compared)
        count = round(self.by_chance)
        chance = (
            ngettext(
                "about {count} would be called larger by chance alone",
                "about {count} would be called larger by chance alone",
                count,
            )
            if count
            else gettext("fewer than 1 would be called larger by chance alone")
        )
        return f"{numbers.format(count=self.compared)}; {chance.format(count=count)}"


@dataclass(frozen=True, slots=True)
class Basis:
    """What comparisons are made with.

    Attributes:
        muscles: every muscle group by id.
        settings: the settings.
        own_errors: the clinic's own measurement errors; used when the settings say so.
    """

    muscles: Mapping[str, Muscle]
    settings: Settings = field(default_factory=Settings)
    own_errors: Sequence[MeasurementError] = ()


def basis_of(catalogue: Catalogue) -> Basis:
    """What comparisons are made with at this clinic."""
    return Basis(catalogue.muscles, catalogue.settings, catalogue.own_errors)


def _changed_most(row: CompareRow) -> tuple[bool, float, int]:
    angles = (row.change.r1, row.change.r2)
    degrees = max(abs(angle.change or 0) for angle in angles)
    size = row.change.size
    return (not row.change.catch_gone, 1.0 if size is None else -size, -degrees)


def choose_sessions(
    sessions: Sequence[Session], first: str = "", last: str = ""
) -> tuple[Session, Session] | Problem:
    """Choose the two sessions to compare, the earlier one first whichever way they were named.

    Args:
        sessions: by date.
        first: YYYY-MM-DD of one; "" for the first session.
        last: YYYY-MM-DD of the other; "" for the latest.

    Returns:
        The sessions; of several on a day the first for ``first`` and the last for ``last``.
        A Problem when there are not two.
    """
    if len(sessions) < 2:
        count = "no session" if not sessions else "one session only"
        return Problem("", f"there is {count}, so there is nothing to compare")
    chosen: list[int] = []
    for text, which in ((first, 0), (last, -1)):
        day = parse_day(text)
        if text and day is None:
            return Problem("", f"{text!r} is not a date", "write it as 2026-11-25")
        places = [n for n, one in enumerate(sessions) if day in (None, one.when.date())]
        if not places:
            dates = ", ".join(dict.fromkeys(s.when.date().isoformat() for s in sessions))
            return Problem("", f"there is no session on {text}", f"one of {dates}")
        chosen.append(places[which])
    if chosen[0] == chosen[1]:
        what = f"both dates name the session of {sessions[chosen[0]].date_words}"
        return Problem("", what, "name two sessions")
    return sessions[min(chosen)], sessions[max(chosen)]


def compare_dates(
    chart: Chart, basis: Basis, first: str = "", last: str = ""
) -> Comparison | Problem:
    """Compare two sessions of a chart by their dates; see choose_sessions()."""
    chosen = choose_sessions(chart.by_date, first, last)
    if isinstance(chosen, Problem):
        return chosen
    return compare(chart.patient, *chosen, chart.events, basis)


def compare(
    patient: Patient, before: Session, after: Session, events: Sequence[Event], basis: Basis
) -> Comparison:
    """Compare two sessions of one patient.

    Args:
        patient: the patient.
        before: the earlier session.
        after: the later session.
        events: of the chart.
        basis: muscle groups, settings and figures.
    """
    work = _Comparing(patient, before, after, events, basis, session_differences(before, after))
    rows = tuple(work.row(then, now) for then, now in paired(before, after))
    days = {day for row in rows for day in row.toxin if day is not None}
    return Comparison(
        patient,
        before,
        after,
        rows,
        work.differences,
        between(events, before.when.date(), after.when.date()),
        basis.settings.mdc_level,
        {day: band_of(day, basis.settings.toxin_bands) for day in sorted(days)},
    )


def paired(before: Session, after: Session) -> list[_Pair]:
    """Pair the readings of two sessions by station, in the order of the checklist.

    A station that only the earlier session has comes behind the one before it there.

    Where a muscle group and side was tested at one fast velocity then and at the other now,
    those two are a pair, which comparability calls unfair.
    """
    left = list(before.readings)
    now = {reading.station for reading in after.readings}
    pairs: list[_Pair] = []
    for reading in after.readings:
        muscle, side, velocity = reading.station
        other: StationKey = (muscle, side, "V2" if velocity == "V3" else "V3")
        match = _taken(left, reading.station)
        if match is None and other not in now:
            match = _taken(left, other)
        pairs.append((match, reading))
    return _with_gone(pairs, before)


def _taken(left: list[Reading], station: StationKey) -> Reading | None:
    """Take the first reading of a station out of those left: older data may have it twice."""
    found = [n for n, reading in enumerate(left) if reading.station == station]
    return left.pop(found[0]) if found else None


def _with_gone(pairs: list[_Pair], before: Session) -> list[_Pair]:
    """Put what only the earlier session has behind the station that came before it there."""
    at = 0
    for reading in before.readings:
        place = next((n for n, (then, _) in enumerate(pairs) if then is reading), None)
        if place is None:
            pairs.insert(place := at, (reading, None))
        at = 1 + place
    return pairs


@dataclass(frozen=True, slots=True)
class _Comparing:
    """What all rows of one comparison share."""

    patient: Patient
    before: Session
    after: Session
    events: Sequence[Event]
    basis: Basis
    differences: tuple[Difference, ...]

    def row(self, then: Reading | None, now: Reading | None) -> CompareRow:
        """Make the row of one station."""
        reading = now or then
        assert reading is not None, "a pair has at least one reading"
        muscle = self.basis.muscles.get(reading.muscle)
        settings = self.basis.settings
        differences: tuple[Difference, ...] = ()
        unfair: Mapping[str, tuple[str, ...]] = {}
        if then and now:
            cycle = Cycle(self.events, settings.toxin_bands)
            differences = station_differences((self.before, then), (self.after, now), cycle)
            unfair = touching((*self.differences, *differences))
        references = [
            reference_for(self.patient, muscle, session.when, _UNKNOWN)
            for session in (self.before, self.after)
        ]
        short = [
            None if one is None else shortfall_of(one, reference)
            for one, reference in zip((then, now), references, strict=True)
        ]
        limits = limits_of(self.patient, (self.before, self.after), reading, self.basis)
        return CompareRow(
            reading.muscle,
            muscle.said if muscle else reading.muscle,
            muscle.abbreviation if muscle else reading.muscle,
            reading.side,
            reading.fast_velocity,
            then,
            now,
            undisputed(change_of(then, now, limits, (short[0], short[1]), unfair), then, now),
            differences,
            (self._toxin(self.before, reading), self._toxin(self.after, reading)),
            _reference_words(*references),
        )

    def _toxin(self, session: Session, reading: Reading) -> int | None:
        return toxin_day(self.events, reading.muscle, reading.side, session.when.date())


def limits_of(
    patient: Patient, sessions: tuple[Session, Session], reading: Reading, basis: Basis
) -> ChangeLimits:
    """Say what changes of one station between two sessions are compared with.

    Args:
        patient: the patient.
        sessions: the earlier and the later one.
        reading: of the station, the later one where there are two.
        basis: muscle groups, settings and figures.
    """
    before, after = sessions
    muscle, settings = basis.muscles.get(reading.muscle), basis.settings
    figures = figures_for(basis.own_errors, shipped_errors(), settings.own_measurement_error)
    standard = muscle is not None and reading.posture in ("", muscle.posture_words)
    age = patient.age_in(after.when)
    same = same_rater(before, after)
    same_day = before.when.date() == after.when.date()
    instruments = {s.conditions.instrument or "goniometer" for s in sessions}
    asked = Asked(
        quantity="R1",
        muscle=reading.muscle,
        limb=muscle.region if muscle else "",
        population=patient.diagnosis,
        age="" if age is None else ("children" if age < ADULT else "adults"),
        raters="" if same is None else ("same" if same else "different"),
        interval="same-day" if same_day else "different-days",
        position="" if standard else reading.posture,
        instrument=instruments.pop() if len(instruments) == 1 else "",
    )
    errs = settings.reading_error, settings.reading_step
    return ChangeLimits(asked, figures, settings.mdc_level, *errs)


def _reference_words(then: Reference | str, now: Reference | str) -> str:
    if isinstance(now, str):
        return now
    if isinstance(then, str):
        return f"then {then}"
    if then.mean != now.mean:
        return f"the reference changed with age: {then.mean:g} deg then, {now.mean:g} now"
    return ""
