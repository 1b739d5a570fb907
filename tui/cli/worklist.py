"""``limbscribe worklist``: who is due, and what was left open."""

from __future__ import annotations

from argparse import Namespace
from datetime import date

from ...core.change.worklist import KINDS, Task, counts_words, worklist
from ...core.chart.chart_entry import cannot_be_read
from ...core.dates import local_now
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out
from .charts import catalogue, existing_place, open_shelf
from .stop import Stop

_MOST_AHEAD = 366
"""Days."""


def run(args: Namespace) -> int:
    """List what waits, as the list of patients shows it; exit code 1 with an unreadable chart."""
    if not 0 <= args.ahead <= _MOST_AHEAD:
        raise Stop(USAGE, f"--ahead {args.ahead}: a number of days from 0 to {_MOST_AHEAD}")
    shelf = open_shelf(existing_place(args))
    today = local_now().date()
    tasks = worklist(shelf.charts(), today, catalogue().settings.follow_up, args.ahead)
    unread = sum(task.kind == "unread" for task in tasks)
    if unread:
        print_err(f"{cannot_be_read(unread)}: see limbscribe verify, who waits may be missing here")
    if args.json:
        rows = [_document(task, today) for task in tasks]
        print_json({"today": today.isoformat(), "tasks": rows})
        return DATA if unread else OK
    wide = max((len(task.entry.code) for task in tasks), default=0)
    for task in tasks:
        by = task.by.isoformat() if task.by else ""
        kind = KINDS[task.kind] if task.kind != "due" else ("overdue" if task.overdue else "due")
        print_out(
            f"{task.entry.code:{wide}}  {kind:11}  {by:10}  {_days(task, today):>5}  {task.why}"
        )
    print_out(counts_words(tasks) or "nothing waits")
    return DATA if unread else OK


def _days(task: Task, today: date) -> str:
    """Write days until the date, negative when it has passed."""
    return f"{(task.by - today).days:+d}" if task.by else ""


def _document(task: Task, today: date) -> dict[str, object]:
    return {
        "code": task.entry.code,
        "kind": task.kind,
        "reason": task.why,
        "due": task.by.isoformat() if task.by else None,
        "days": (task.by - today).days if task.by else None,
        "overdue": task.overdue,
    }
