"""Treatment dates as values: the list as it is shown, and an event as it is typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from ....core.chart.chart import Chart
from ....core.chart.event import Event
from ....core.chart.events import (
    GOAL,
    GOAL_SCORE,
    KINDS,
    NEXT_DATE,
    STRUCK,
    TOXIN,
    day_of,
    in_date_order,
    parse_event,
    struck,
)
from ....core.chart.goals import (
    Goal,
    goal_texts,
    goals_by_day,
    goals_of,
    readable,
    score_of,
    t_words,
    treatment_days,
    treatment_words,
)
from ....core.dates import HOW, typed_day
from ....core.problem import Problem
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import MAX_TEXT
from ....core.text import counted
from ...kit.form import FormField, FormState, Problems, with_field
from ...kit.muscle_letters import muscle_named
from ...kit.signature import LONGEST_REASON, author_problems, problems_in, reason_problems
from .treatment import (
    explained,
    given_fields,
    row_fields,
    spelled,
    treatment_events,
    treatment_problems,
)

SIDES = (("", "both sides, or none"), ("left", "Left"), ("right", "Right"))


@dataclass(frozen=True, slots=True)
class Listed:
    """One event of the list.

    Attributes:
        event: the event.
        shown: the event with a note that can be read, and with what became of a goal.
        who: who wrote it, "" when that was not recorded.
        at: ISO 8601 time, "" when that was not recorded.
        struck: why it was struck; None while it holds.
    """

    event: Event
    shown: Event
    who: str
    at: str
    struck: str | None


def listed(chart: Chart) -> tuple[Listed, ...]:
    """Every event of a chart in the order of dates, struck ones marked and kept in sight."""
    wrote = {each.id: (each.author, each.at) for each in chart.written if each.table == "events"}
    reasons, texts = struck(chart.events), goal_texts(chart.events)
    goals = {goal.id: goal for goal in goals_of(chart.events)}

    def shown(event: Event) -> Event:
        if goal := goals.get(event.id):
            return replace(event, note=f"{goal.attained or 'not scored yet'}: {goal.title}")
        return readable(event, texts)

    return tuple(
        Listed(event, shown(event), *wrote.get(event.id, ("", "")), reasons.get(event.id))
        for event in in_date_order(chart.events)
        if event.kind != STRUCK
    )


def goal_named(chart: Chart, event: Event) -> Goal | None:
    """The goal that a row of the list is about, None where it is not clear or was struck.

    Of a goal it is that one, of a score the one that was scored, of a treatment its only one.
    """
    goals = goals_of(chart.events)
    score = score_of(event)
    id_ = score[0] if score else event.id
    if event.kind in (GOAL, GOAL_SCORE):
        return next((goal for goal in goals if goal.id == id_), None)
    of_day = goals_by_day(goals).get(day_of(event), [])
    return of_day[0] if len(of_day) == 1 else None


def treatment_of(chart: Chart, event: Event) -> date | None:
    """The day of the treatment that a row of the list is about, None when it is about none."""
    day = day_of(event)
    if event.kind == GOAL_SCORE:
        goal = goal_named(chart, event)
        day = goal.day if goal else None
    return day if day in treatment_days(chart.events) else None


def goals_told(chart: Chart, event: Event) -> str:
    """How far the goals of the treatment were reached that a row is about, "" without goals."""
    day = treatment_of(chart, event)
    goals = goals_by_day(goals_of(chart.events)).get(day, []) if day else []
    if not goals:
        return ""
    count = f"{counted(len(goals), 'goal')}, none scored yet"
    return f"{treatment_words(day)}: {t_words(goals) or count}"


@dataclass(frozen=True, slots=True)
class Before:
    """What the event typed before had, offered for the next: injections come in rows.

    Attributes:
        kind: id of the kind.
        day: YYYY-MM-DD.
        author: initials or staff code.
        given: product, unit, dilution and guidance of a toxin treatment, with their names.
    """

    kind: str = ""
    day: str = ""
    author: str = ""
    given: tuple[tuple[str, str], ...] = ()


def event_form(muscles: Mapping[str, Muscle], today: date, before: Before) -> FormState:
    """The form for a new event."""
    check = partial(problems_of, muscles=muscles, today=today)
    kinds = tuple(KINDS.items())
    words = dict(kinds).get(before.kind, "")
    hint = "Letters of any word of it; the same letter again for the next."
    kind = FormField("kind", "What", hint, "choice", before.kind, words, kinds, needed=True)
    return asked_for(FormState((kind,), check=check), before, {}, muscles)


def asked_for(
    form: FormState, before: Before, kept: Mapping[str, FormField], muscles: Mapping[str, Muscle]
) -> FormState:
    """The form with the fields that the chosen kind asks for.

    Args:
        form: as it was typed.
        before: what the event typed before had.
        kept: every field that was in the form, also of another kind chosen meanwhile.
        muscles: all muscle groups by id.
    """
    kept = {**kept, **{field.name: field for field in form.fields}}
    kind = kept["kind"]
    if kind.value == TOXIN:
        asked = (kind, _date(before), *given_fields(dict(before.given)), *_last(before))
    else:
        asked = (kind, _date(before), *_place(), *_last(before))
    fields = [kept.get(field.name, field) for field in asked]
    if kind.value == TOXIN:
        fields += row_fields(form, kept)
    values = {field.name: field.value.strip() for field in fields}
    fields = [explained(field, values, muscles, field.name in form.problems) for field in fields]
    at = next((n for n, field in enumerate(fields) if field.name == form.current.name), 0)
    return replace(form, fields=tuple(fields), at=at)


def _date(before: Before) -> FormField:
    day = before.day
    return FormField("date", "Date", f"{HOW}.", "text", day, day, longest=12, needed=True)


def _place() -> tuple[FormField, ...]:
    hint = "Letters of its name, enough to tell it from others. Empty: none, or not known."
    return (
        FormField("muscle", "Muscle group", hint),
        FormField("side", "Side", "L or R; both or none else.", "choice", choices=SIDES),
    )


def _last(before: Before) -> tuple[FormField, ...]:
    hint = "Free text, never computed with. May stay empty."
    return (FormField("note", "Note", hint, longest=MAX_TEXT), author_field(before.author))


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
    return author_problems(values) | reason_problems(values, "say why the event is wrong")


def problems_of(values: Mapping[str, str], muscles: Mapping[str, Muscle], today: date) -> Problems:
    """What is wrong with an event as typed, by field name."""
    problems = author_problems(values)
    if not values["kind"]:
        problems["kind"] = Problem("kind", "nothing is chosen", "type letters of it")
    day = typed_day(values["date"], today)
    if isinstance(day, date):
        day = _right_time(values["kind"], day, today)
    problems |= problems_in(date=day)
    if values["kind"] == TOXIN:
        return {**treatment_problems(values, muscles), **problems}
    problems |= problems_in(muscle=muscle_named(values["muscle"], muscles))
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
    """The form with what letters stand for, where it is left, as it was understood."""
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
        else:
            form = with_field(form, spelled(field, muscles))
    return form


def events_of(
    values: Mapping[str, str],
    muscles: Mapping[str, Muscle],
    today: date,
    id_of: Callable[[int], str],
) -> list[Event]:
    """The events that checked values make; see treatment_events()."""
    day = typed_day(values["date"], today)
    assert isinstance(day, date)
    if values["kind"] == TOXIN:
        return treatment_events(values, muscles, day, id_of)
    muscle = muscle_named(values["muscle"], muscles)
    assert isinstance(muscle, str)
    place = (muscle, values["side"], values["note"])
    return [Event(id_of(0), values["kind"], day.isoformat(), *place)]
