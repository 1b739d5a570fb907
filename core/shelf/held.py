"""Words about somebody else's entry: who has a chart open, and whose entry is taken over."""

from __future__ import annotations

from datetime import date, datetime

from ..chart.session import Session
from ..errors import Holder
from ..language import day_words


def held_words(holder: Holder, today: datetime) -> str:
    """Who has a chart open for entry, on which machine and since when."""
    if not holder.pid:
        return "Another process has this chart open for entry"
    who = holder.who or "Somebody"
    return f"{who} has this chart open for entry on {holder.host} since {since(holder, today)}"


def taken_over_words(holder: Holder, today: datetime) -> str:
    """Whose entry ended without leaving, and what that means."""
    who = holder.who or "somebody"
    return (
        f"the entry of {who} on {holder.host}, since {since(holder, today)}, ended without "
        "leaving; taken over, nothing accepted was lost"
    )


def begun_words(session: Session, today: date) -> tuple[str, str]:
    """When and by whom an open session of another day was begun, and what that means."""
    day, people = session.date_words, f"recorder {session.recorder}, examiner {session.examiner}"
    return (
        f"Begun {day} by {people}. Today is {day_words(today)}.",
        f"What is typed now is dated {day} and has those people's names.",
    )


def since(holder: Holder, today: datetime) -> str:
    """The time of day, with the date unless it is today's; as stored if it is no time."""
    try:
        when = datetime.fromisoformat(holder.since)
    except ValueError:
        return holder.since
    time = f"{when:%H:%M}"
    if when.date() == today.date():
        return time
    return f"{day_words(when)} {time}"
