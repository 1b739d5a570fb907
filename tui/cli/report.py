"""``limbscribe report``: one session as text, Markdown, HTML or PDF to hand over."""

from __future__ import annotations

import sys
from argparse import Namespace
from datetime import datetime
from pathlib import Path

from ...core.change.compare import Basis
from ...core.chart.chart import Chart
from ...core.dates import typed_day
from ...core.outside import write_new
from ...core.problem import Problem
from ...core.report.forms import ALL_FORMS, PDF, NoPdf, document
from ...core.report.model import Report
from ...core.report.model_build import choose_session, make_report
from ..terminal.output import DATA, OK, USAGE, print_document, print_err, version
from .charts import catalogue, chart_of, code_of, existing_folder, open_shelf, tell_problems
from .stop import Stop


def run(args: Namespace) -> int:
    """Write the report; exit code 1 without a session, or when the chart is damaged."""
    if args.short and args.format not in (None, "text"):
        raise Stop(USAGE, "--short is plain text: leave --format out")
    code = code_of(args)
    output = _output(args)
    if args.format == PDF and output is None and sys.stdout.isatty():
        raise Stop(USAGE, "a PDF is no text for a terminal: name a file with --output")
    shelf = open_shelf(existing_folder(args))
    chart = chart_of(shelf, code)
    if shelf.has_open(chart.id):
        print_err(f"{code}: the open session is left out; close it to report it")
    tell_problems(chart)
    form = "short" if args.short else (args.format or "text")
    try:
        data = document(_report(args, chart, code), form)
    except NoPdf as error:
        raise Stop(USAGE, f"{error}; nothing was written") from None
    if output is None:
        print_document(data)
    else:
        _write(output, data)
        print_err(f"the {ALL_FORMS[form].words} report is written to {output}, not encrypted")
    return DATA if chart.problems else OK


def _report(args: Namespace, chart: Chart, code: str) -> Report:
    session = choose_session(chart, _day(args.session))
    if isinstance(session, Problem):
        raise Stop(DATA, f"{code}: {session}")
    before = None
    if args.against:
        before = choose_session(chart, _day(args.against))
        if isinstance(before, Problem):
            raise Stop(DATA, f"{code}: {before}")
        if before.when >= session.when:
            raise Stop(USAGE, "--against names a session before the reported one")
    found = catalogue()
    basis = Basis(found.muscles, found.settings, found.own_errors)
    return make_report(chart, session, basis, version(), before)


def _day(text: str | None) -> str:
    """A date of the command line as YYYY-MM-DD, "" for none.

    Raises:
        Stop: when it is none.
    """
    if not text:
        return ""
    day = typed_day(text, datetime.now().astimezone().date())
    if isinstance(day, Problem):
        raise Stop(USAGE, f"{day.what}: {day.mend}")
    return day.isoformat()


def _output(args: Namespace) -> Path | None:
    """The file to be written, not there yet."""
    if not args.output:
        return None
    path = Path(args.output)
    if path.exists() or path.is_symlink():
        raise Stop(USAGE, f"{path} exists and was not touched: choose another name")
    return path


def _write(output: Path, data: bytes) -> None:
    try:
        write_new(output, data)
    except FileExistsError as error:
        what = f"{output} exists and was not touched: choose another name"
        raise Stop(USAGE, what) from error
    except OSError as error:
        raise Stop(DATA, f"{output} was not written: {error.strerror}") from error
