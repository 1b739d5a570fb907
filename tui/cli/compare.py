"""``limbscribe compare``: two sessions of one patient side by side."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace

from ...core.change.compare import basis_of, compare_dates
from ...core.change.compare_doc import comparison_doc
from ...core.change.compare_words import comparison_lines
from ...core.exchange.json_export import problem_doc
from ...core.problem import Problem
from ..terminal.output import DATA, OK, USAGE, print_json, print_out, version
from .charts import ascii_wanted, catalogue, date_from, open_chart
from .stop import Stop


def run(args: Namespace) -> int:
    """Show the comparison; exit code 1 without two sessions, or when the chart is damaged.

    Dates that do not name two of the sessions there are is wrong use, exit code 2.
    """
    _, chart = open_chart(args)
    found = catalogue()
    first, last = date_from(args.first), date_from(args.last)
    comparison = compare_dates(chart, basis_of(found), first, last)
    if isinstance(comparison, Problem):
        two = len(chart.by_date) > 1  # so that only the dates can be wrong
        raise Stop(USAGE if two else DATA, f"{chart.patient.code}: {comparison}")
    if args.by_size:
        comparison = replace(comparison, rows=comparison.by_size)
    if args.json:
        document: dict[str, object] = {"limbscribe": version(), **comparison_doc(comparison)}
        document["problems"] = [problem_doc(problem) for problem in chart.problems]
        print_json(document)
    else:
        names = {id_: muscle.name for id_, muscle in found.muscles.items()}
        print_out(*comparison_lines(comparison, names), ascii_only=ascii_wanted(args))
    return DATA if chart.problems else OK
