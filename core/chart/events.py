"""Treatment dates: what was done when.

An event is a date, a kind, what was given, and free text. Amounts and products are kept as
typed, shown back, and never computed with. How a date is shown: "toxin day 30" says how long
ago an injection was, not what it should have done by then.

An event is never changed. A wrong one is struck by another event that names it; both stay in
the chart's history, and whatever is computed from events passes over both, see standing().
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from ..language import N_, day_words, decimal, gettext
from ..problem import Problem
from ..tardieu.muscle import same_group
from ..tardieu.reading import MAX_TEXT, Side
from ..text import hidden_character
from .event import Event
from .windows import DEFAULT_BANDS, Band, band_of

TOXIN = "botulinum-toxin"
NEXT_DATE = "next-date"

KINDS = {
    TOXIN: N_("botulinum toxin"),
    "cast-on": N_("cast on"),
    "cast-off": N_("cast off"),
    "medication-started": N_("medication started"),
    "medication-changed": N_("medication changed"),
    "pump": N_("pump"),
    "orthosis": N_("orthosis"),
    "surgery": N_("surgery"),
    "programme": N_("programme"),
    "other": N_("other"),
    NEXT_DATE: "next date",
}
"""Kinds of events: id as stored -> words. A next date lies ahead and is set by hand."""

STRUCK = "struck"
"""Kind of an event that strikes another: its note is that one's id, a blank, and the reason."""

GOAL = "goal"
"""Kind of an event that sets a goal, see goals.py."""

GOAL_SCORE = "goal-score"
"""Kind of an event that says how far a goal was reached."""

NOT_DONE = (STRUCK, GOAL, GOAL_SCORE)
"""Kinds of events by which nothing was done to the patient."""

GIVEN = ("amount", "unit", "dilution", "guidance", "product")
"""What was given: fields of an event that a clinic fills in its own words."""

_AMOUNT = re.compile(r"[0-9]{1,6}([.,][0-9]{1,4})?", re.ASCII)
_OF_THOUSANDS = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}", re.ASCII)
"""May be meant as thousands: 1,000 is 1000 to one person and 1 to another."""

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
FIRST_YEAR = 1900


def kind_words(kind: str) -> str:
    """Write a kind in words; one that is not known is shown as it was stored."""
    if kind == GOAL_SCORE:
        return "goal scored"
    return gettext(KINDS[kind]) if kind in KINDS else kind


def day_of(event: Event) -> date | None:
    """Read the day of an event, None when what is stored is not a date."""
    return parse_day(event.date)


def parse_day(text: str) -> date | None:
    """Read a day written YYYY-MM-DD, None for anything else."""
    if not _DATE.fullmatch(text):
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def event_words(event: Event, names: Mapping[str, str]) -> str:
    """Write an event on one line.

    Args:
        event: the event.
        names: names of the muscle groups by id; an unknown id is shown as it is.
    """
    day = day_of(event)
    where = [names.get(event.muscle, event.muscle), event.side.capitalize()]
    text = ", ".join(filter(None, (kind_words(event.kind), *where)))
    said = said_words(event)
    return f"{day_words(day) if day else event.date} {text}" + (f": {said}" if said else "")


def said_words(event: Event) -> str:
    """Write what was given and what was noted, "" for neither."""
    return "; ".join(filter(None, (given_words(event), event.note)))


def given_words(event: Event) -> str:
    """Write what was given as it was typed, "" for nothing."""
    dilution = f"dilution {event.dilution}" if event.dilution else ""
    guidance = f"guidance {event.guidance}" if event.guidance else ""
    return ", ".join(filter(None, (quantity_words(event), event.product, dilution, guidance)))


def quantity_words(event: Event) -> str:
    """Write the amount with its unit, "" for none."""
    return f"{decimal(given_amount(event.amount))} {event.unit}".strip()


def amount_words(amount: float | None) -> str:
    """Write an amount without a fraction where it has none, "" for None."""
    return "" if amount is None else f"{amount:.10g}"


def given_amount(amount: float | None) -> str:
    """Write an amount that was given so that its fraction is not taken for thousands: 1.1250."""
    text = amount_words(amount)
    return f"{text}0" if _OF_THOUSANDS.fullmatch(text) else text


def parse_amount(text: str) -> float | Problem:
    """Read an amount; three digits behind the mark are refused where they may be thousands."""
    if not _AMOUNT.fullmatch(text):
        return Problem("amount", f"{text!r} is not an amount", "a number, as 50 or 2.5")
    number = float(text.replace(",", "."))
    if not _OF_THOUSANDS.fullmatch(text):
        return number
    whole, part = f"{number * 1000:.0f}", given_amount(number)
    part = part if "." in part else f"{part}.0"
    return Problem("amount", f"{text} can be {whole} or {number:.10g}", f"type {whole} or {part}")


def parse_event(
    fields: Mapping[str, str],
    id: str,
    muscles: Collection[str],
    where: str = "",
    kinds: Iterable[str] = KINDS,
) -> Event | list[Problem]:
    """Read an event from typed fields, or list everything that is wrong with them.

    Args:
        fields: texts under date, kind, muscle, side, note and the names of GIVEN; missing
            means "".
        id: for the new event.
        muscles: ids of the known muscle groups.
        where: for the problems, e.g. file and line; "" names the field alone.
        kinds: those that may be.
    """
    problems: list[Problem] = []
    given = {name: fields.get(name, "").strip() for name in ("date", "kind", "muscle", "side")}
    texts = {name: fields.get(name, "").strip() for name in ("note", *GIVEN)}

    def complain(name: str, what: str, fix: str) -> None:
        problems.append(Problem(f"{where}, {name}" if where else name, what, fix))

    day = parse_day(given["date"])
    if day is None or day.year < FIRST_YEAR:
        complain("date", f"{given['date']!r} is not a date", "write it as 2026-11-25")
    for name, allowed in (
        ("kind", tuple(kinds)),
        ("muscle", (*muscles, "")),
        ("side", (Side.LEFT.value, Side.RIGHT.value, "")),
    ):
        if given[name] not in allowed:
            listed = ", ".join(word for word in allowed if word)
            complain(name, f"{given[name]!r} is not known", f"one of {listed}")
    for name, text in texts.items():
        if len(text) > MAX_TEXT:
            complain(name, f"{len(text)} characters", f"at most {MAX_TEXT}")
        if hidden := hidden_character(text):
            complain(name, f"it has a hidden character, {hidden}", "type it again")
    amount = texts.pop("amount")
    number = parse_amount(amount) if amount else None
    if isinstance(number, Problem):
        complain("amount", number.what, number.mend)
    elif amount and not texts["unit"]:
        complain("unit", "it is missing", "an amount needs the word of its unit")
    elif texts["unit"] and not amount:
        complain("amount", "it is missing", "a unit stands beside an amount")
    if problems or isinstance(number, Problem):
        return problems
    plain = Event(id, given["kind"], given["date"], given["muscle"], given["side"], "")
    return replace(plain, amount=number, **texts)


def strike(event: Event, id: str, reason: str) -> Event:
    """Make the event that strikes another.

    Args:
        event: the wrong one.
        id: for the new event.
        reason: why it is wrong, as typed.
    """
    note = f"{event.id} {reason.strip()}"
    return Event(id, STRUCK, event.date, event.muscle, event.side, note)


def struck(events: Iterable[Event]) -> dict[str, str]:
    """List the reasons why events were struck, by the ids of those events."""
    reasons: dict[str, str] = {}
    for event in events:
        if event.kind == STRUCK:
            id_, _, reason = event.note.partition(" ")
            reasons.setdefault(id_, reason)
    return reasons


def standing(events: Iterable[Event]) -> tuple[Event, ...]:
    """Keep what was done and holds: neither struck events nor those that strike, no goals."""
    return tuple(event for event in unstruck(events) if event.kind not in NOT_DONE)


def unstruck(events: Iterable[Event]) -> tuple[Event, ...]:
    """Keep the events of every kind that were not struck."""
    events = tuple(events)
    gone = struck(events)
    return tuple(event for event in events if event.id not in gone)


def in_date_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """Sort events by date; equal dates keep their order, those without a date come last."""
    return tuple(sorted(events, key=lambda event: day_of(event) or date.max))


def between(events: Iterable[Event], first: date, last: date) -> tuple[Event, ...]:
    """List what was done from one day to another, both inclusive, in the order of dates.

    Next dates are left out: nothing is done on them yet.
    """
    found = [
        event
        for event in standing(events)
        if event.kind != NEXT_DATE and first <= (day_of(event) or date.max) <= last
    ]
    return in_date_order(found)


def latest_injection(events: Iterable[Event], day: date) -> date | None:
    """Find the day of the latest injection of whatever muscle group up to a day."""
    days = (day_of(event) for event in standing(events) if event.kind == TOXIN)
    return max((one for one in days if one and one <= day), default=None)


def touches(event: Event, muscle: str, side: Side) -> bool:
    """Say whether an event concerns a muscle group on a side.

    It does in every test position of the group; one without a muscle group or side concerns
    every one of them: which it was is not known.
    """
    in_group = not event.muscle or same_group(event.muscle, muscle)
    return in_group and event.side in (side.value, "")


def toxin_day(events: Iterable[Event], muscle: str, side: Side, day: date) -> int | None:
    """Count the whole days since the latest injection of a muscle group on a side.

    See touches() for which count. 0 on the day itself, whether measured before or after; None
    when none is on record up to that day.
    """
    past = [
        injected
        for event in standing(events)
        if event.kind == TOXIN
        and touches(event, muscle, side)
        and (injected := day_of(event)) is not None
        and injected <= day
    ]
    return (day - max(past)).days if past else None


def toxin_words(
    events: Iterable[Event],
    muscle: str,
    side: Side,
    day: date,
    bands: Sequence[Band] = DEFAULT_BANDS,
) -> str:
    """Write the days since the latest injection of a muscle group on a side, "" without one."""
    days = toxin_day(events, muscle, side, day)
    return "" if days is None else toxin_label(days, band_of(days, bands))


def toxin_label(days: int, band: str) -> str:
    """Write days since an injection as screens write them."""
    return f"toxin day {days}" + (f" ({band})" if band else "")


def injection_days(events: Iterable[Event]) -> tuple[date, ...]:
    """List the days of injections, each once, the earliest first."""
    found = (day_of(event) for event in standing(events) if event.kind == TOXIN)
    return tuple(sorted({day for day in found if day is not None}))


def next_date(events: Iterable[Event]) -> Event | None:
    """Find the next date that was set last, None when there is none."""
    found = [event for event in standing(events) if event.kind == NEXT_DATE and day_of(event)]
    return found[-1] if found else None


def moment_words(at: str) -> str:
    """An ISO 8601 time as screens write it, e.g. 25 Nov 2026 14:05; as stored if it is none."""
    try:
        when = datetime.fromisoformat(at)
    except ValueError:
        return at
    return f"{day_words(when)} {when:%H:%M}"
