"""Treatment dates as values: the list as it is shown, and an event as it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from ....core.chart.chart import Chart
from ....core.chart.event import Event
from ....core.chart.events import KINDS, NEXT_DATE, STRUCK, in_date_order, parse_event, struck
from ....core.dates import HOW, typed_day
from ....core.problem import Problem
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import MAX_TEXT
from ...kit.form import FormField, FormState, Problems, with_field
from ...kit.muscle_letters import muscle_named
from ...kit.signature import LONGEST_REASON, author_problems

SIDES = (("", "both sides, or none"), ("left", "Left"), ("right", "Right"))


@dataclass(frozen=True, slots=True)
class Listed:
    """One event of the list.

    Attributes:
        event: the event.
        who: who wrote it, "" when that was not recorded.
        at: ISO 8601 time, "" when that was not recorded.
        struck: why it was struck; None while it holds.
    """

    event: Event
    who: str
    at: str
    struck: str | None


def listed(chart: Chart) -> tuple[Listed, ...]:
    """Every event of a chart in the order of dates, struck ones marked and kept in sight."""
    wrote = {each.id: (each.author, each.at) for each in chart.written if each.table == "events"}
    reasons = struck(chart.events)
    return tuple(
        Listed(event, *wrote.get(event.id, ("", "")), reasons.get(event.id))
        for event in in_date_order(chart.events)
        if event.kind != STRUCK
    )


@dataclass(frozen=True, slots=True)
class Before:
    """What the event typed before had, offered for the next: injections come in rows.

    Attributes:
        kind: id of the kind.
        day: YYYY-MM-DD.
        author: initials or staff code.
    """

    kind: str = ""
    day: str = ""
    author: str = ""


def event_form(muscles: Mapping[str, Muscle], today: date, before: Before) -> FormState:
    """The form for a new event."""
    kinds = tuple(KINDS.items())

    def check(values: Mapping[str, str]) -> Problems:
        return problems_of(values, muscles, today)

    fields = (
        FormField(
            "kind",
            "What",
            "Letters of any word of it; the same letter again for the next.",
            "choice",
            before.kind,
            dict(kinds).get(before.kind, ""),
            kinds,
            needed=True,
        ),
        FormField(
            "date", "Date", f"{HOW}.", "text", before.day, before.day, longest=12, needed=True
        ),
        FormField(
            "muscle",
            "Muscle group",
            "Letters of its name, enough to tell it from others. Empty: none, or not known.",
        ),
        FormField("side", "Side", "L or R; both or none else.", "choice", choices=SIDES),
        FormField(
            "note",
            "Note",
            "Product, dose and the like as text, never computed with. May stay empty.",
            longest=MAX_TEXT,
        ),
        author_field(before.author),
    )
    return FormState(fields, check=check)


def author_field(value: str) -> FormField:
    """The field for who types."""
    hint = "Initials or staff code of who enters this. Never a full name."
    return FormField("author", "Entered by", hint, "text", value, value, longest=12, needed=True)


def strike_form(author: str) -> FormState:
    """The form for striking an event."""
    reason = "Why it is wrong: another patient's, wrong date, typed twice. It stays on record."
    return FormState(
        (
            FormField("reason", "Reason", reason, longest=LONGEST_REASON, needed=True),
            author_field(author),
        ),
        check=strike_problems,
    )


def strike_problems(values: Mapping[str, str]) -> Problems:
    """What is wrong with the reason for striking an event, and who strikes it."""
    problems = author_problems(values)
    if not values["reason"]:
        problems["reason"] = Problem("reason", "it is missing", "say why the event is wrong")
    return problems


def problems_of(values: Mapping[str, str], muscles: Mapping[str, Muscle], today: date) -> Problems:
    """What is wrong with an event as typed, by field name."""
    problems = author_problems(values)
    if not values["kind"]:
        problems["kind"] = Problem("kind", "nothing is chosen", "type letters of it")
    day = typed_day(values["date"], today)
    if isinstance(day, date):
        day = _right_time(values["kind"], day, today)
    if isinstance(day, Problem):
        problems["date"] = day
    muscle = muscle_named(values["muscle"], muscles)
    if isinstance(muscle, Problem):
        problems["muscle"] = muscle
    event = parse_event({"note": values["note"], "kind": "other", "date": "2000-01-01"}, "", ())
    if isinstance(event, list):
        problems["note"] = event[0]
    return problems


def _right_time(kind: str, day: date, today: date) -> date | Problem:
    """Refuse what was done in the future, and a next date in the past: both are slips."""
    if kind == NEXT_DATE and day < today:
        return Problem("date", "a next date cannot be in the past", "check day, month and year")
    if kind != NEXT_DATE and day > today:
        mend = "check it; a day to measure again is a next date"
        return Problem("date", "this day is in the future", mend)
    return day


def spelled_out(form: FormState, muscles: Mapping[str, Muscle], today: date) -> FormState:
    """The form with date and muscle group, where they are left, as they were understood."""
    values = form.values
    for field in form.fields:
        if field.name == form.current.name or not field.touched:
            continue
        if field.name == "date":
            day = typed_day(values["date"], today)
            if isinstance(day, date):
                form = with_field(form, replace(field, value=day.isoformat()))
        elif field.name == "muscle":
            id_ = muscle_named(values["muscle"], muscles)
            if isinstance(id_, str) and id_:
                form = with_field(form, replace(field, value=muscles[id_].name))
    return form


def event_of(
    values: Mapping[str, str], muscles: Mapping[str, Muscle], today: date, id: str
) -> Event:
    """The event that checked values make."""
    day, muscle = typed_day(values["date"], today), muscle_named(values["muscle"], muscles)
    assert isinstance(day, date)
    assert isinstance(muscle, str)
    return Event(id, values["kind"], day.isoformat(), muscle, values["side"], values["note"])
