"""Which session a report is about, and which one it is held against."""

from __future__ import annotations

from collections.abc import Sequence

from ..chart.chart import Chart
from ..chart.events import latest_injection, parse_day
from ..chart.session import Session
from ..language import day_words
from ..problem import Problem

BASELINE, INJECTION = "baseline", "injection"
"""Words for a session to compare with: the first on record, the last before an injection."""


def choose_session(chart: Chart, day: str = "") -> Session | Problem:
    """Choose the session of a day, the latest for "", the last one of several on a day.

    Args:
        chart: the chart.
        day: YYYY-MM-DD, or "".
    """
    sessions = chart.by_date
    if not sessions:
        return Problem("", "there is no closed session", "close one first")
    wanted = parse_day(day)
    found = [each for each in sessions if not day or each.when.date() == wanted]
    if found:
        return found[-1]
    dates = ", ".join(dict.fromkeys(each.when.date().isoformat() for each in sessions))
    return Problem("", f"there is no closed session on {day}", f"one of {dates}")


def previous(sessions: Sequence[Session], session: Session) -> Session | None:
    """Find the session just before one of these, None for the first."""
    place = [each.id for each in sessions].index(session.id)
    return sessions[place - 1] if place else None


def choose_before(chart: Chart, session: Session, against: str) -> Session | Problem | None:
    """Choose the session that a report is held against; it lies before the one reported.

    Args:
        chart: the chart.
        session: the one reported.
        against: "" for the session just before (None when there is none), BASELINE,
            INJECTION, or a day YYYY-MM-DD.
    """
    sessions = chart.by_date
    if not against:
        return previous(sessions, session)
    earlier = sessions[: [each.id for each in sessions].index(session.id)]
    if not earlier:
        return Problem("", "this is the first session", "a report of it compares nothing")
    if against == BASELINE:
        return earlier[0]
    if against == INJECTION:
        return _before_injection(chart, session, earlier)
    found = choose_session(chart, against)
    if isinstance(found, Problem):
        return found
    days = [each for each in earlier if each.when.date() == parse_day(against)]
    if not days:
        return Problem("", "that session is not before the reported one", "name an earlier one")
    return days[-1]


def _before_injection(
    chart: Chart, session: Session, earlier: Sequence[Session]
) -> Session | Problem:
    """Choose the last session up to the day of the latest injection before this one.

    A session on the day of an injection counts as before it: one measures, then injects.
    """
    injected = latest_injection(chart.events, session.when.date())
    if injected is None:
        return Problem("", "no injection is on record up to this session", "see treatment dates")
    found = [each for each in earlier if each.when.date() <= injected]
    if found:
        return found[-1]
    words = f"no session before the injection of {day_words(injected)}"
    return Problem("", words, "choose another one to compare with")
