"""From a chart to the report of one of its sessions."""

from __future__ import annotations

from textual.app import App

from ....core.change.compare import Basis
from ....core.errors import ShelfError
from ....core.problem import Problem
from ....core.report.model_build import choose_session, make_report
from ...kit.context import Context
from ...terminal.output import version
from .screen import ReportScreen


def begin_report(app: App[int], context: Context, chart_id: str, session_id: str = "") -> str:
    """Show the report of a session, of the latest one for "".

    Returns:
        Why there is none, as a sentence; "" when it is shown.
    """
    try:
        chart = context.shelf.load(chart_id)
    except ShelfError as error:
        return str(error)
    if session_id:
        session = next((one for one in chart.by_date if one.id == session_id), None)
        if session is None:
            return "this session is not in the chart any more: there is no report of it"
    else:
        found = choose_session(chart)
        if isinstance(found, Problem):
            return f"{found.what}: {found.mend}"
        session = found
    catalogue = context.catalogue
    basis = Basis(catalogue.muscles, catalogue.settings, catalogue.own_errors)
    report = make_report(chart, session, basis, version())
    app.push_screen(ReportScreen(context, report, session.when.date().isoformat()))
    return ""
