"""A day as a person types it, read in one way only: what could be two days is refused."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from .problem import Problem

HOW = "25.11.2026, 2026-11-25, t for today, -14 for 14 days ago, +14 for 14 days ahead"

FIRST_YEAR = 1900
MOST_YEARS_AHEAD = 5
"""A day further ahead is a slip."""

_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", re.ASCII)
_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})", re.ASCII)
_AWAY = re.compile(r"[+-][0-9]{1,4}", re.ASCII)
_AMBIGUOUS = re.compile(r"[0-9]{1,4}([/.\- ])[0-9]{1,2}\1[0-9]{1,4}", re.ASCII)


def local_now() -> datetime:
    """The present, aware of its offset."""
    return datetime.now().astimezone()


def stamp() -> str:
    """The present as records have it: ISO 8601 to the second, with its UTC offset."""
    return local_now().isoformat(timespec="seconds")


def typed_day(text: str, today: date) -> date | Problem:
    """The day that was typed, or what is wrong with it.

    Taken are DD.MM.YYYY (day and month of one or two digits), YYYY-MM-DD, ``t`` for today, and
    a signed number of days away from today. Refused is what people read in two ways: slashes,
    DD-MM-YYYY, and years of two digits.
    """
    text = text.strip()
    if text in ("t", "T"):
        return today
    if _AWAY.fullmatch(text):
        return _checked(text, today + timedelta(days=int(text)), today)
    dotted, iso = _DOTTED.fullmatch(text), _ISO.fullmatch(text)
    if dotted:
        day, month, year = map(int, dotted.groups())
    elif iso:
        year, month, day = map(int, iso.groups())
    elif not text:
        return Problem("date", "the date is missing", HOW)
    elif _AMBIGUOUS.fullmatch(text):
        return Problem("date", f"{text!r} can be read as more than one day", f"type {HOW}")
    else:
        return Problem("date", f"{text!r} is no date", f"type {HOW}")
    try:
        return _checked(text, date(year, month, day), today)
    except ValueError:
        return Problem("date", f"there is no day {text}", "look at day and month again")


def _checked(text: str, day: date, today: date) -> date | Problem:
    """The day, unless it lies where only a slip leads."""
    if FIRST_YEAR <= day.year <= today.year + MOST_YEARS_AHEAD:
        return day
    years = f"{FIRST_YEAR} to {today.year + MOST_YEARS_AHEAD}"
    return Problem("date", f"{text} lies in the year {day.year}", f"the years {years} are taken")
