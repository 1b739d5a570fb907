"""``limbscribe withdraw``: a session taken on the wrong patient, or not to be kept."""

from __future__ import annotations

import re
from argparse import Namespace

from ...core.chart.chart import Chart
from ...core.chart.session import Session
from ...core.chart.transfer import withdrawal_words
from ...core.dates import stamp
from ...core.errors import NotConfirmed
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out, version
from .charts import chart_of, code_from, date_from, open_chart
from .signature import author_from, reason_from
from .stop import Stop


def run(args: Namespace) -> int:
    """Withdraw or move one session; exit code 1 when a chart is damaged, or it is not done yet."""
    author, why = author_from(args.by), reason_from(args.reason)
    if not why:
        raise Stop(USAGE, "--reason: say why the session goes; nothing was changed")
    shelf, chart = open_chart(args)
    session = _session_of(chart, args.session)
    to = code_from(args.to) if args.to else ""
    ids, signature = (chart.id, session.id), (author, why, stamp())
    try:
        if to:
            shelf.move(*ids, chart_of(shelf, to).id, *signature)
        else:
            shelf.withdraw(*ids, *signature)
    except NotConfirmed as error:
        print_err(error)
        return DATA
    if args.json:
        done = {"session": session.started, "withdrawn_from": chart.patient.code, "moved_to": to}
        print_json({"limbscribe": version(), **done})
    else:
        print_out(withdrawal_words(session, to))
    return DATA if chart.problems else OK


def _session_of(chart: Chart, text: str) -> Session:
    """Find the one session that is meant: by its day, its time too, or its number in reports.

    Raises:
        Stop: when it is not exactly one.
    """
    sessions = chart.by_date
    number = text.strip()
    if re.fullmatch("[0-9]{1,4}", number, re.ASCII) and 0 < int(number) <= len(sessions):
        return sessions[int(number) - 1]
    day, _, time = number.replace("T", " ").partition(" ")
    wanted = date_from(day)
    found = [s for s in sessions if f"{s.when:%Y-%m-%d}" == wanted]
    found = [s for s in found if f"{s.when:%H:%M}".startswith(time.strip())]
    if len(found) == 1:
        return found[0]
    each = enumerate(sessions, 1)
    listed = (f"{n}: {s.when:%Y-%m-%d %H:%M}" for n, s in each if s in (found or sessions))
    what = f"there are {len(found)} sessions" if found else "there is no closed session"
    there = ", ".join(listed) or "none"
    more = "(--session also takes the number)" if sessions else ""
    raise Stop(USAGE, f"{what} on {text!r}: nothing was changed; there are {there} {more}".strip())
