"""``limbscribe report``: one session as text, Markdown, HTML or PDF to hand over."""

from __future__ import annotations

from argparse import Namespace

from ...core.change.compare import basis_of
from ...core.chart.chart import Chart
from ...core.language import ENGLISH
from ...core.problem import Problem
from ...core.report.choosing import BASELINE, INJECTION, choose_before, choose_session
from ...core.report.forms import ALL_FORMS, NoPdf, document
from ...core.report.model import Report
from ...core.report.model_build import make_report
from ...core.report.page import Page
from ...core.report.page_build import make_page
from ..terminal.output import DATA, OK, USAGE, print_err, version
from .charts import ascii_wanted, catalogue, date_from, open_chart
from .files import hand_over, page_path
from .stop import Stop

_AGAINST = f"--against takes {BASELINE}, {INJECTION} or a date: "


def run(args: Namespace) -> int:
    """Write the report; exit code 1 without any session, or when the chart is damaged."""
    if args.short and args.full:
        raise Stop(USAGE, "--short and --full: one of them")
    if args.short and args.format != "text":
        raise Stop(USAGE, "--short is plain text: leave --format out")
    if args.full and args.language not in (None, ENGLISH):
        raise Stop(USAGE, "--full: the full report is in English; leave --language out")
    output = page_path(args)
    shelf, chart = open_chart(args)
    code = chart.patient.code
    if shelf.has_open(chart.id):
        print_err(f"{code}: the open session is left out; close it to report it")
    form = "short" if args.short else args.format
    try:
        data = document(_report(args, chart, code), form, ascii_wanted(args))
    except NoPdf as error:
        raise Stop(USAGE, f"{error}; nothing was written") from None
    hand_over(output, data, f"the {ALL_FORMS[form].words} report", replace=args.force)
    return DATA if chart.problems else OK


def _report(args: Namespace, chart: Chart, code: str) -> Page | Report:
    session = choose_session(chart, date_from(args.session))
    if isinstance(session, Problem):
        raise Stop(USAGE if args.session and chart.by_date else DATA, f"{code}: {session}")
    against: str = args.against or ""
    words = ("", BASELINE, INJECTION)
    day = against if against in words else date_from(against, _AGAINST)
    named = choose_session(chart, day) if day not in words else None
    if isinstance(named, Problem):
        raise Stop(USAGE, f"{_AGAINST}{code}: {named}")
    before = choose_before(chart, session, day)
    if isinstance(before, Problem):
        raise Stop(USAGE if named else DATA, f"{code}: {before}")
    found = catalogue()
    given = (chart, session, basis_of(found), version(), before)
    language = args.language or found.settings.language
    return make_report(*given) if args.full else make_page(*given, language=language)
