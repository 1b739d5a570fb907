"""``limbscribe compare``: two sessions of one patient side by side."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from datetime import datetime

from ...core.change.compare import Basis, compare_dates
from ...core.change.compare_doc import comparison_doc
from ...core.change.compare_words import comparison_lines
from ...core.dates import typed_day
from ...core.exchange.json_export import problem_doc, render
from ...core.problem import Problem
from ..terminal.characters import needs_ascii
from ..terminal.output import DATA, OK, USAGE, print_document, print_out, version
from .charts import catalogue, chart_of, code_of, existing_folder, open_shelf, tell_problems
from .stop import Stop


def run(args: Namespace) -> int:
    """Show the comparison; exit code 1 without two sessions, or when the chart is damaged."""
    code = code_of(args)
    chart = chart_of(open_shelf(existing_folder(args)), code)
    found = catalogue()
    tell_problems(chart)
    basis = Basis(found.muscles, found.settings, found.own_errors)
    comparison = compare_dates(chart, basis, _day(args.first), _day(args.last))
    if isinstance(comparison, Problem):
        raise Stop(DATA, f"{code}: {comparison}")
    if args.by_size:
        comparison = replace(comparison, rows=comparison.by_size)
    if args.json:
        document: dict[str, object] = {"limbscribe": version(), **comparison_doc(comparison)}
        document["problems"] = [problem_doc(problem) for problem in chart.problems]
        print_document(render(document))
    else:
        names = {id_: muscle.name for id_, muscle in found.muscles.items()}
        ascii_only = getattr(args, "ascii", False) or needs_ascii()
        for line in comparison_lines(comparison, names):
            print_out(line, ascii_only)
    return DATA if chart.problems else OK


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
