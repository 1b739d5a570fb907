"""What waits at a clinic: who is due, what was left open or unsigned, what disagrees.

Made from the list of charts alone, so that it is there at once however many charts there are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Literal

from ..chart.chart_entry import ChartEntry
from ..chart.events import day_words, parse_day
from ..chart.windows import DEFAULT_WINDOWS, Window

Kind = Literal["unread", "conflict", "open", "amending", "due"]

KINDS: dict[Kind, str] = {
    "unread": "unreadable",
    "conflict": "in conflict",
    "open": "not signed",
    "amending": "amending",
    "due": "due",
}
"""Kinds of tasks in the order in which they are listed: id -> words."""


@dataclass(frozen=True, slots=True)
class Task:
    """One thing that waits.

    Attributes:
        entry: the chart.
        kind: what waits.
        why: in words.
        by: the day by which; only who is due has one.
        overdue: that day has passed.
    """

    entry: ChartEntry
    kind: Kind
    why: str
    by: date | None = None
    overdue: bool = False


def worklist(
    entries: Iterable[ChartEntry],
    today: date,
    windows: Sequence[Window] = DEFAULT_WINDOWS,
    ahead: int = 0,
) -> tuple[Task, ...]:
    """List everything that waits: what cannot be read or disagrees, what is open, who is due.

    Args:
        entries: the list of charts.
        today: the day to look from.
        windows: when to measure again after an injection.
        ahead: days to look ahead.
    """
    look = (today, tuple(windows), ahead)
    tasks = [task for entry in entries if _may_wait(entry) for task in _tasks(entry, *look)]
    places = {kind: place for place, kind in enumerate(KINDS)}
    return tuple(
        sorted(tasks, key=lambda t: (places[t.kind], *_earliest(t), t.entry.code, t.entry.id))
    )


def _earliest(task: Task) -> tuple[date, str]:
    """Order by the day by which, or since when it is open."""
    return task.by or date.min, task.entry.open_since[:10] if task.kind == "open" else ""


def _may_wait(e: ChartEntry) -> bool:
    waits = e.injected or e.wanted or e.open_since or e.conflicts or e.amending
    return bool(waits) or not e.is_readable


def counts_words(tasks: Iterable[Task]) -> str:
    """Say how many charts wait for what, on one line; "" when nothing does."""
    charts: dict[Kind, set[str]] = {}
    for task in tasks:
        charts.setdefault(task.kind, set()).add(task.entry.id)
    return ", ".join(f"{len(charts[kind])} {KINDS[kind]}" for kind in KINDS if kind in charts)


def _tasks(
    entry: ChartEntry, today: date, windows: tuple[Window, ...], ahead: int
) -> Iterable[Task]:
    if not entry.is_readable:
        yield Task(entry, "unread", "whose chart this is cannot be read, see limbscribe verify")
    if entry.conflicts:
        count = "1 session" if entry.conflicts == 1 else f"{entry.conflicts} sessions"
        yield Task(entry, "conflict", f"amendments of {count} disagree")
    if entry.open_since:
        opened = parse_day(entry.open_since[:10])
        since = day_words(opened) if opened else entry.open_since
        who = f" ({entry.open_recorder})" if entry.open_recorder else ""
        yield Task(entry, "open", f"session open since {since}{who}")
    if entry.amending:
        yield Task(entry, "amending", "an amendment was begun")
    if entry.injected or entry.wanted:
        dates = (entry.last[:10], entry.injected, entry.wanted)
        for why, by in _due(*dates, today, windows, ahead):
            yield Task(entry, "due", why, by, by < today)


@lru_cache(maxsize=1 << 17)  # asked about everybody each time the list is read
def _due(
    last: str, injected: str, wanted: str, today: date, windows: tuple[Window, ...], ahead: int
) -> tuple[tuple[str, date], ...]:
    """List why one patient is due to be measured, and by when.

    After the latest injection each window that has begun asks for one session in it, or
    later; a next date for a session on that day or later, of which only the one set last
    counts. Closed sessions only.

    Args:
        last: day of the latest closed session, "" without one.
        injected: days of injections, blanks between them.
        wanted: the next date set by hand, "" without one.
        today: the day to look from.
        windows: when to measure again after an injection.
        ahead: days to look ahead.
    """
    until, measured = today + timedelta(days=ahead), parse_day(last) or date.min
    due: list[tuple[str, date]] = []
    injections = (parse_day(text) for text in injected.split())
    latest = max((day for day in injections if day and day <= today), default=None)
    if latest is not None:
        for window in windows:
            first, end = (latest + timedelta(days=n) for n in (window.first, window.last))
            if first <= until and measured < first:
                due.append((f"{window.name} after toxin on {day_words(latest)}", end))
    by_hand = parse_day(wanted)
    if by_hand is not None and by_hand <= until and measured < by_hand:
        due.append(("next date set by hand", by_hand))
    return tuple(due)
