"""What a caseload needs of one chart: small rows of plain values that can be kept.

They are made once from a chart, see gathering.py, and hold until the chart file, the settings
or the program change; every table and page is added up from them.
"""

from __future__ import annotations

from typing import Any, NamedTuple

Json = Any


class Take(NamedTuple):
    """One muscle group on a side as it was measured in one session.

    Attributes:
        day: since the treatment, negative before it.
        session: number of the session in its chart, in the order of the dates.
        examiner: who handled the limb, in capitals.
        r1: stretch angle of the catch, deg; None without one.
        r2: stretch angle of the slow range, deg.
        quality: of the muscle reaction.
        caught: whether there was a catch; None where the fast stretch was not done.
        not_tested: id of the reason, "" when tested.
        r1_direction: against the take before the treatment: 1 more stretch, -1 less, 0 within
            its figure; None where there is no figure or no change.
        r2_direction: the same of R2.
        same_speed: R1 was read at the same fast velocity as before the treatment.
        r1_figure: there is a figure that a change of R1 would be held against.
    """

    day: int
    session: int
    examiner: str
    r1: int | None
    r2: int | None
    quality: int | None
    caught: bool | None
    not_tested: str
    r1_direction: int | None = None
    r2_direction: int | None = None
    same_speed: bool = True
    r1_figure: bool = False

    @property
    def gap(self) -> int | None:
        """R2 - R1, deg; None without both."""
        return None if self.r1 is None or self.r2 is None else self.r2 - self.r1


class TreatedStation(NamedTuple):
    """One treated muscle group on a side in one cycle.

    Attributes:
        muscle: id of the muscle group.
        side: side of the body.
        seen: every take, in the order of the dates.
        takes: by window, in the order of the settings, those that count; None where there is
            none. Not in what is kept: it is filled in for what is asked, see choosing.
    """

    muscle: str
    side: str
    seen: tuple[Take, ...]
    takes: tuple[Take | None, ...] = ()


class CycleFacts(NamedTuple):
    """One treatment cycle of one patient.

    Attributes:
        kind: of the treatment.
        date: YYYY-MM-DD of the treatment.
        until: YYYY-MM-DD of the next one of this kind, "" while there is none.
        age: in completed years on that day; None when not known.
        stations: the treated ones.
        goals: score (None while there is none) and weight (None without) of each goal.
    """

    kind: str
    date: str
    until: str
    age: int | None
    stations: tuple[TreatedStation, ...]
    goals: tuple[tuple[int | None, float | None], ...]


class SessionFacts(NamedTuple):
    """What one session says of how the record is kept.

    Attributes:
        date: YYYY-MM-DD.
        examiner: who handled the limb, in capitals.
        recorder: who typed.
        readings: how many.
        overrides: impossible values kept with a reason.
        flagged: readings accepted with a remark of the checks.
        angles: R1 and R2 that were typed.
        round_ones: those of them that end in 0 or 5.
        not_tested: readings without a test.
    """

    date: str
    examiner: str
    recorder: str
    readings: int
    overrides: int
    flagged: int
    angles: int
    round_ones: int
    not_tested: int


class ChartFacts(NamedTuple):
    """One chart.

    Attributes:
        code: patient code.
        diagnosis: id of the diagnosis group.
        sex: as in Patient.
        affected: as in Patient.
        age: in completed years at the latest session; None when not known or without one.
        cycles: of every kind, the earliest first.
        sessions: the closed ones that count, in the order of the dates.
        problems: how many documents could not be read.
    """

    code: str
    diagnosis: str
    sex: str
    affected: str
    age: int | None
    cycles: tuple[CycleFacts, ...]
    sessions: tuple[SessionFacts, ...]
    problems: int


def facts_from(row: Json) -> ChartFacts:
    """Read what JSON has made of the facts of a chart.

    Raises:
        TypeError, ValueError: when it is something else.
    """
    chart = ChartFacts(*row)
    sessions = tuple(SessionFacts(*one) for one in chart.sessions)
    return chart._replace(cycles=tuple(map(_cycle, chart.cycles)), sessions=sessions)


def _cycle(row: Json) -> CycleFacts:
    cycle = CycleFacts(*row)
    goals = tuple((score, weight) for score, weight in cycle.goals)
    return cycle._replace(stations=tuple(map(_station, cycle.stations)), goals=goals)


def _station(row: Json) -> TreatedStation:
    station = TreatedStation(*row)
    return station._replace(seen=tuple(Take(*one) for one in station.seen), takes=())
