"""The set-up of a session: its questions, what is wrong with answers, the session they make.

A screen makes a form of the questions, question-and-answer mode asks them one by one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time

from ..chart.chart import Chart
from ..chart.checklist import Checklist, Item, sides_of, with_ways
from ..chart.lookalike import retyped
from ..chart.session import Conditions, Session
from ..chart.staff import parse_staff
from ..config.catalogue import Catalogue
from ..dates import local_now, typed_day
from ..problem import Problem
from ..tardieu.checks import RULES_VERSION
from ..tardieu.muscle import Muscle
from ..tardieu.reading import FastVelocity, Side
from .plan import settled
from .question import Question
from .questions import questions_of, ways_of

Problems = Mapping[str, Problem]
"""What is wrong, by the name of the question."""

LONGEST_DOSE_MINUTES = 7 * 24 * 60
"""One week: a dose longer ago is not typed in minutes."""

_TIME = re.compile(r"([01]?[0-9]|2[0-3]):[0-5][0-9]", re.ASCII)
_MINUTES = re.compile(
    r"([0-9]{1,3})[:h]([0-5][0-9])(?:m|min)?"  # 1:30, 1h30, 1h30min
    r"|([0-9]{1,3}(?:[.,][0-9]{1,2})?)h"  # 3h, 1.5h
    r"|([0-9]{2,5}|0|[0-9](?=m))(?:m|min)?",  # 90, 90min, 5min, not 5: it may be hours
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Setup:
    """The questions before the next session of a chart.

    Attributes:
        questions: in order.
        lists: the checklists offered.
        last: the latest closed session, None when there is none.
        muscles: muscle groups by id.
        affected: the patient's affected side.
        code: the patient's code.
        clock: local time, aware of its offset.
    """

    questions: tuple[Question, ...]
    lists: tuple[Checklist, ...]
    last: Session | None
    muscles: Mapping[str, Muscle]
    affected: str = ""
    code: str = ""
    clock: Callable[[], datetime] = local_now

    @property
    def dated(self) -> str:
        """When the answers of last time come from, "" when there are none."""
        return f"{self.last.date_words} {self.last.when:%H:%M}" if self.last else ""

    def problems(self, values: Mapping[str, str]) -> Problems:
        """What is wrong with all answers, by field name."""
        problems: dict[str, Problem] = {}
        for name in ("examiner", "recorder", "reader"):
            code = parse_staff(values[name])
            if values[name] and isinstance(code, Problem):
                problems[name] = replace(code, where=name)
            elif not values[name] and name != "reader":
                problems[name] = Problem(name, f"the {name} is missing", "type initials, e.g. JT")
        if values["examiner"] and retyped(self.code, values["examiner"]):
            what = f"{values['examiner']} is how the patient's code ends, which is not asked here"
            problems["examiner"] = Problem("examiner", what, "type initials, e.g. JT")
        if found := self._list_problem(values["checklist"]):
            problems["checklist"] = found
        dose = parse_minutes(values["minutes"])
        off = parse_minutes(values["orthosis"], "minutes since orthosis", "an orthosis came off")
        times = {"minutes": dose, "orthosis": off}
        problems |= {name: time for name, time in times.items() if isinstance(time, Problem)}
        when = when_measured(values["date"], values["time"], self.clock())
        if isinstance(when, Problem):
            problems[when.where] = when
        return problems

    def asks(self, name: str, values: Mapping[str, str]) -> bool:
        """Whether a question has any meaning after these answers: of one try none is chosen."""
        return name != "counts" or values["tries"] not in ("", "1")

    def _list_problem(self, checklist: str) -> Problem | None:
        chosen = _chosen(self.lists, checklist)
        if chosen is None:
            what = "there is no checklist" if not self.lists else "no checklist is chosen"
            return Problem("checklist", what, "choose one, or fix the configuration")
        unknown = chosen.unknown(self.muscles)
        if not unknown:
            return None
        what = f"it names a muscle group that does not exist: {', '.join(unknown)}"
        return Problem(
            "checklist", what, "choose another checklist, or add it to the configuration"
        )

    def ways(self, checklist: str) -> dict[str, str]:
        """How a checklist is gone through, as answers to the questions that follow it.

        The last session's own ways win when it used the same checklist; else the less affected
        side comes first where the patient has one. Empty for an id that is not offered.
        """
        if self.last and self.last.checklist.id == checklist:
            return ways_of(self.last.checklist)
        chosen = _chosen(self.lists, checklist)
        if chosen is None:
            return {}
        if self.affected in (Side.LEFT, Side.RIGHT):
            chosen = replace(chosen, first_side=Side(self.affected).other)
        return ways_of(chosen)


def when_measured(day: str, at: str, now: datetime) -> datetime | Problem | None:
    """When a session typed in later was measured, local time; None for one measured now.

    Args:
        day: as typed, see dates.typed_day; "" for today where there is a time.
        at: H:MM or HH:MM; "" for 00:00, as an import reads a day without a time. Of an hour that
            comes twice, as the clocks go back, the first.
        now: the present.
    """
    if not (day or at):
        return None
    found = typed_day(day, now.date()) if day else now.date()
    if isinstance(found, Problem):
        return found
    if at and not _TIME.fullmatch(at):
        return Problem("time", f"{at!r} is no time of day", "type it as 14:05, or leave it empty")
    wanted = datetime.combine(found, time.fromisoformat(f"{at or '00:00':0>5}"))
    when = wanted.astimezone()
    if when.replace(tzinfo=None) != wanted:  # the clocks left it out
        if at:
            what = f"there was no {at} on {found.isoformat()}: the clocks went forward then"
            return Problem("time", what, "type the time that the clock showed")
        when = max(when, wanted.replace(fold=1).astimezone())  # of that day, not of the one before
    if when <= now:
        return when
    what = f"{found.isoformat()} {when:%H:%M} is in the future"
    return Problem("date" if day else "time", what, "type when it was measured; empty is now")


def parse_minutes(
    text: str, where: str = "minutes since dose", what: str = "a dose"
) -> int | Problem | None:
    """Minutes from "90", "90min", "1:30" (h:mm), "1h30" or "1.5h", None when empty.

    A single digit alone is refused: it may be meant as hours.

    Args:
        text: as typed.
        where: for the problem.
        what: what the time is since, in words.
    """
    if not text:
        return None
    found = _MINUTES.fullmatch(text.replace(" ", "").lower())
    if found:
        hours, rest, part, whole = found.groups("0")
        minutes = round((int(hours) + float(part.replace(",", "."))) * 60) + int(rest) + int(whole)
        if minutes <= LONGEST_DOSE_MINUTES:
            return minutes
    if text in "123456789":
        what = f"{text!r} can be hours or minutes"
        return Problem(where, what, f"type {text}h or {text}min, or 1:30")
    limit = f"up to {LONGEST_DOSE_MINUTES} minutes"
    return Problem(
        where, f"{text!r} is no time since {what}", f"as 90, 90min, 3h, 1h30 or 1:30, {limit}"
    )


def lists_offered(checklists: Sequence[Checklist], last: Session | None) -> tuple[Checklist, ...]:
    """The clinic's checklists; last session's own list first when it is none of them."""
    if last is None or not last.checklist.items or _chosen(checklists, last.checklist.id):
        return tuple(checklists)
    return (as_offered(last.checklist), *checklists)


def as_offered(checklist: Checklist) -> Checklist:
    """A settled checklist with the two sides of a muscle group put together again.

    Postures and angle scales are left out: settled() remembers them from the readings.
    """
    sides: dict[tuple[str, FastVelocity | None], set[Side]] = {}
    for item in checklist.items:
        of_item = sides_of(item, "", checklist.first_side)
        sides.setdefault((item.muscle, item.fast_velocity), set()).update(of_item)
    items = tuple(
        Item(muscle, "both" if len(found) == 2 else min(found).value, velocity)
        for (muscle, velocity), found in sides.items()
    )
    return replace(checklist, items=items)


def setup_of(
    catalogue: Catalogue, chart: Chart, clock: Callable[[], datetime] = local_now
) -> Setup:
    """What is asked before the next session of a chart."""
    last = next(reversed(chart.by_date), None)
    lists = lists_offered(catalogue.checklists, last)
    asked = questions_of(lists, last)
    patient = chart.patient
    setup = Setup(asked, lists, last, catalogue.muscles, patient.affected, patient.code, clock)
    ways = setup.ways(next(question.value for question in asked if question.name == "checklist"))
    offered = tuple(replace(q, value=ways.get(q.name, q.value)) for q in asked)
    return replace(setup, questions=offered)


def _chosen(lists: Sequence[Checklist], id: str) -> Checklist | None:
    return next((one for one in lists if one.id == id), None)


def session_of(
    values: Mapping[str, str], catalogue: Catalogue, chart: Chart, id: str, started: str
) -> Session:
    """The session that checked values make; its cautions are not confirmed yet.

    Args:
        values: of the form, without problems.
        catalogue: checklists, muscle groups, and the clinic's angle scales.
        chart: for the affected side and what is remembered.
        id: random id of the session.
        started: ISO 8601 local time with offset: the present.
    """
    lists = lists_offered(catalogue.checklists, next(reversed(chart.by_date), None))
    chosen = _chosen(lists, values["checklist"])
    assert chosen is not None
    ways = {way: values.get(way, own) for way, own in ways_of(chosen).items()}
    checklist = with_ways(chosen, {**ways, "tries": int(ways["tries"])})
    when = when_measured(values["date"], values["time"], datetime.fromisoformat(started))
    assert not isinstance(when, Problem)
    session = Session(
        id=id,
        started=when.isoformat(timespec="seconds") if when else started,
        examiner=values["examiner"].upper(),
        recorder=values["recorder"].upper(),
        checklist=checklist,
        conditions=replace(_conditions(values), typed_later=started if when else ""),
        rules=RULES_VERSION,
    )
    scales, affected = catalogue.settings.scales, chart.patient.affected
    earlier = chart.before(session)
    return replace(
        session, checklist=settled(checklist, affected, catalogue.muscles, earlier, scales)
    )


def _conditions(values: Mapping[str, str]) -> Conditions:
    """The conditions that checked values make; the cautions are not confirmed yet."""
    minutes, off = parse_minutes(values["minutes"]), parse_minutes(values["orthosis"])
    assert not isinstance(minutes, Problem)
    assert not isinstance(off, Problem)
    instrument = values["instrument"]
    return Conditions(
        values["posture"],
        minutes,
        values["notes"],
        reader=values["reader"].upper(),
        instrument="" if instrument == "goniometer" else instrument,
        minutes_since_orthosis=off,
        illness=values["illness"],
        blind=values["last_values"] == "hidden",
    )
