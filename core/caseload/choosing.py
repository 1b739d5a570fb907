"""Which patients, cycles and takes of a caseload count."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from ..chart.events import TOXIN
from ..problem import Problem
from ..tardieu.muscle import same_group
from .facts import ChartFacts, CycleFacts, SessionFacts, Take, TreatedStation

Pick = Callable[[TreatedStation], tuple[Take | None, ...]]
"""Chooses the take that counts in each window."""

_AGES = re.compile(r"([0-9]{0,3})-([0-9]{0,3})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Choice:
    """What a caseload is narrowed to; "" and None leave everything in.

    Attributes:
        kind: of the treatments that open a cycle.
        diagnosis: id of a diagnosis group.
        age_from: completed years at the treatment, at least.
        age_to: at most.
        muscle: id of a muscle group; other test positions of it count too.
        side: "left" or "right".
        since: treatments from this day on.
        until: treatments up to this day.
        examiner: in capitals; only what this examiner measured counts after the treatment.
    """

    kind: str = TOXIN
    diagnosis: str = ""
    age_from: int | None = None
    age_to: int | None = None
    muscle: str = ""
    side: str = ""
    since: date | None = None
    until: date | None = None
    examiner: str = ""

    @property
    def of_cycles(self) -> bool:
        """Whether anything but the patient is chosen."""
        return bool(self.muscle or self.side or self.since or self.until)


def ages_from(text: str) -> tuple[int | None, int | None] | None:
    """Read years from and to, written 18-65, 18- or -17; None when it is none of these."""
    match = _AGES.fullmatch(text.strip())
    if match is None or not any(match.groups()):
        return None
    low, high = (int(part) if part else None for part in match.groups())
    return None if low is not None and high is not None and low > high else (low, high)


def days_problem(since: date | None, until: date | None) -> Problem | None:
    """Say that no day lies between two."""
    if since is None or until is None or since <= until:
        return None
    return Problem("until", f"{until} is before {since}, so no treatment lies between")


def examiner_problem(charts: Iterable[ChartFacts | None], examiner: str) -> Problem | None:
    """Say that an examiner measured nobody, and who did."""
    there = {session.examiner for chart in charts if chart for session in chart.sessions}
    if not examiner or examiner in there:
        return None
    named = ", ".join(sorted(filter(None, there)))
    mend = f"one of {named}" if named else "no session names one"
    return Problem("examiner", f"{examiner!r} has no session", mend)


class Chosen(NamedTuple):
    """What is left of one chart.

    Attributes:
        chart: the chart.
        cycles: with the stations that count, and of each the takes that do.
        sessions: that count.
    """

    chart: ChartFacts
    cycles: tuple[CycleFacts, ...]
    sessions: tuple[SessionFacts, ...]


def chosen(charts: Iterable[ChartFacts], choice: Choice, pick: Pick) -> Iterator[Chosen]:
    """Keep what a choice leaves; a patient without a cycle stays when no cycle is asked for."""
    for chart in charts:
        if choice.diagnosis not in ("", chart.diagnosis):
            continue
        of_kind = [cycle for cycle in chart.cycles if cycle.kind == choice.kind]
        cycles = tuple(cut for cycle in of_kind if (cut := _cut(cycle, choice, pick)))
        alone = not of_kind and not choice.of_cycles and _has_age(chart.age, choice)
        if cycles or alone:
            sessions = (s for s in chart.sessions if choice.examiner in ("", s.examiner))
            yield Chosen(chart, cycles, tuple(sessions))


def _cut(cycle: CycleFacts, choice: Choice, pick: Pick) -> CycleFacts | None:
    day = date.fromisoformat(cycle.date)
    if (choice.since and day < choice.since) or (choice.until and day > choice.until):
        return None
    if not _has_age(cycle.age, choice):
        return None
    stations = tuple(s._replace(takes=pick(s)) for s in cycle.stations if _wanted(s, choice))
    asked = choice.muscle or choice.side
    return cycle._replace(stations=stations) if stations or not asked else None


def _wanted(station: TreatedStation, choice: Choice) -> bool:
    of_group = not choice.muscle or same_group(choice.muscle, station.muscle)
    return of_group and choice.side in ("", station.side)


def _has_age(age: int | None, choice: Choice) -> bool:
    if choice.age_from is None and choice.age_to is None:
        return True
    low, high = choice.age_from or 0, choice.age_to
    return age is not None and low <= age and (high is None or age <= high)
