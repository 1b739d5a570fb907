"""A caseload: what changed for whom since their treatment, and who is missing. No verdicts."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..agreement.digits import proportion
from ..agreement.figure import Figure
from ..change.compare import Basis
from ..chart.goals import t_of
from ..config.error_file import shipped_errors
from .choosing import Choice, Chosen, chosen
from .facts import ChartFacts, SessionFacts
from .figures import Spread, spread
from .summary import StationSummary, Terms, composite, stations_of

FORM = 3
"""Of the facts; another number makes them anew."""

CAUTION = (
    "Counts and measurements only, of whoever came to be measured: not a verdict on a treatment,"
    " no advice on one. Local policy and licensed practice decide."
)

NARROW = "a patient's sides and cycles count as if they were different patients'"
"""What makes every interval here too narrow, in words."""


@dataclass(frozen=True, slots=True)
class GoalSummary:
    """What became of the goals.

    Attributes:
        cycles: with a goal.
        goals: how many.
        scored: how many of them have a score.
        attained: how many of these are at 0 or above.
        t: T score of each cycle with a score.
    """

    cycles: int
    goals: int
    scored: int
    attained: int
    t: Spread


@dataclass(frozen=True, slots=True)
class RecorderSummary:
    """How one recorder's part of the record is kept.

    Attributes:
        recorder: initials or staff code.
        sessions: closed ones.
        readings: in them.
        overrides: impossible values kept with a reason.
        flagged: readings accepted with a remark of the checks.
        not_tested: readings without a test.
        round_share: share of angles that end in 0 or 5, with its exact 95 % interval.
        open_sessions: begun and not signed.
    """

    recorder: str
    sessions: int
    readings: int
    overrides: int
    flagged: int
    not_tested: int
    round_share: Figure
    open_sessions: int


@dataclass(frozen=True, slots=True)
class Caseload:
    """The whole of it.

    Attributes:
        choice: what it is narrowed to.
        terms: what it is counted by.
        chosen: the charts that count, by patient code.
        patients: how many.
        sessions: their closed sessions.
        cycles: their treatment cycles.
        stations: every treated muscle group, in the order of the muscle groups.
        composite: for each window the mean change over the treated muscle groups of a cycle.
        goals: what became of them.
        recorders: how the record is kept.
        mean_of: names of the two windows whose mean was wanted, () for none.
        unread: charts that could not be read at all, or not whole.
    """

    choice: Choice
    terms: Terms
    chosen: tuple[Chosen, ...]
    patients: int
    sessions: int
    cycles: int
    stations: tuple[StationSummary, ...]
    composite: tuple[Mapping[str, Spread], ...]
    goals: GoalSummary
    recorders: tuple[RecorderSummary, ...]
    mean_of: tuple[str, ...]
    unread: int


def facts_key(basis: Basis) -> str:
    """Name everything beside a chart that its facts depend on."""
    s = basis.settings
    settings = (s.cycle_windows, s.mdc_level, s.reading_error, s.reading_step)
    figures = (s.own_measurement_error, tuple(basis.own_errors), shipped_errors())
    everything = repr((FORM, settings, figures, sorted(basis.muscles.items())))
    return hashlib.sha256(everything.encode()).hexdigest()


def caseload_of(
    facts: Iterable[ChartFacts | None],
    choice: Choice,
    terms: Terms,
    order: Sequence[str],
    opened: Iterable[tuple[str, str]] = (),
    sides_together: bool = False,
    mean_of: tuple[str, ...] = (),
) -> Caseload:
    """Add a caseload up.

    Args:
        facts: of every chart; None for one that could not be read.
        choice: what it is narrowed to.
        terms: what it is counted by.
        order: muscle ids in the order of the rows.
        opened: patient code and recorder of each open session.
        sides_together: both sides of a muscle group make one row.
        mean_of: names of two windows whose mean is wanted too.
    """
    every = list(facts)
    there = [one for one in every if one is not None]
    counting = chosen(there, choice, terms.takes_of)
    found = tuple(sorted(counting, key=lambda one: one.chart.code))
    names = [window.name for window in terms.windows]
    places = (names.index(mean_of[0]), names.index(mean_of[1])) if mean_of else None
    stations = stations_of(found, terms, sides_together, places)
    place = {id_: n for n, id_ in enumerate(order)}
    codes = {one.chart.code for one in found}
    return Caseload(
        choice=choice,
        terms=terms,
        chosen=found,
        patients=len(found),
        sessions=sum(len(one.sessions) for one in found),
        cycles=sum(len(one.cycles) for one in found),
        stations=tuple(
            sorted(stations, key=lambda s: (place.get(s.muscle, len(place)), s.muscle, s.side))
        ),
        composite=composite(found, terms),
        goals=_goals(found),
        recorders=_recorders(found, [who for code, who in opened if code in codes]),
        mean_of=mean_of,
        unread=len(every) - len(there) + sum(bool(one.problems) for one in there),
    )


def _goals(found: Iterable[Chosen]) -> GoalSummary:
    of_cycles = [cycle.goals for one in found for cycle in one.cycles if cycle.goals]
    scores = [score for goals in of_cycles for score, _ in goals if score is not None]
    return GoalSummary(
        len(of_cycles),
        sum(map(len, of_cycles)),
        len(scores),
        sum(score >= 0 for score in scores),
        spread([t for goals in of_cycles if (t := t_of(goals)) is not None]),
    )


def _recorders(found: Iterable[Chosen], opened: Sequence[str]) -> tuple[RecorderSummary, ...]:
    by_name: dict[str, list[SessionFacts]] = {who: [] for who in opened}
    for one in found:
        for session in one.sessions:
            by_name.setdefault(session.recorder, []).append(session)
    return tuple(
        RecorderSummary(
            name,
            len(sessions),
            sum(s.readings for s in sessions),
            sum(s.overrides for s in sessions),
            sum(s.flagged for s in sessions),
            sum(s.not_tested for s in sessions),
            proportion(sum(s.round_ones for s in sessions), sum(s.angles for s in sessions)),
            opened.count(name),
        )
        for name, sessions in sorted(by_name.items())
    )
