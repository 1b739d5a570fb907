"""Which patients, cycles and takes of a caseload count."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from ..chart.events import TOXIN
from ..tardieu.muscle import same_group
from .facts import ChartFacts, CycleFacts, SessionFacts, TreatedStation

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
        examiner: only sessions of this examiner.
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
    """Read years from and to, written 18-65, 18- or -17; None when it is neither."""
    match = _AGES.fullmatch(text.strip())
    if match is None or not any(match.groups()):
        return None
    low, high = (int(part) if part else None for part in match.groups())
    return low, high


class Chosen(NamedTuple):
    """What is left of one chart.

    Attributes:
        chart: the chart.
        cycles: with the stations that count.
        sessions: that count.
    """

    chart: ChartFacts
    cycles: tuple[CycleFacts, ...]
    sessions: tuple[SessionFacts, ...]


def chosen(charts: Iterable[ChartFacts], choice: Choice) -> Iterator[Chosen]:
    """Keep what a choice leaves; a patient without a cycle stays when no cycle is asked for."""
    for chart in charts:
        if choice.diagnosis not in ("", chart.diagnosis):
            continue
        of_kind = [cycle for cycle in chart.cycles if cycle.kind == choice.kind]
        cycles = tuple(cut for cycle in of_kind if (cut := _cut(cycle, choice)))
        alone = not of_kind and not choice.of_cycles and _has_age(chart.age, choice)
        if cycles or alone:
            sessions = (s for s in chart.sessions if choice.examiner in ("", s.examiner))
            yield Chosen(chart, cycles, tuple(sessions))


def _cut(cycle: CycleFacts, choice: Choice) -> CycleFacts | None:
    day = date.fromisoformat(cycle.date)
    if (choice.since and day < choice.since) or (choice.until and day > choice.until):
        return None
    if not _has_age(cycle.age, choice):
        return None
    stations = tuple(station for station in cycle.stations if _wanted(station, choice))
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
