"""``limbscribe sheet``: a blank sheet of the checklist, to measure on paper and type in later."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace

from ...core.chart.chart import Chart
from ...core.chart.patient import Patient
from ...core.dates import stamp
from ...core.entry.as_saved import plan_of
from ...core.entry.setup import session_of, setup_of
from ...core.errors import ShelfError
from ...core.report.forms import PDF, needs_pdf
from ...core.report.sheet import Sheet, make_sheet, sheet_html, sheet_text
from ...core.shelf.server.address import ServerAddress
from ...core.text import names
from ..terminal.output import DATA, OK, USAGE, print_err, version
from .charts import catalogue, code_from, open_chart, shelf_place
from .files import hand_over, page_path
from .stop import Stop


def run(args: Namespace) -> int:
    """Write the sheet; exit code 1 when the chart is damaged."""
    output = page_path(args)
    chart = _chart(args)
    found = catalogue()
    setup = setup_of(found, chart)
    values = {asked.name: asked.value for asked in setup.questions}
    known = {one.id: one.title for one in setup.lists}
    chosen = args.checklist or values["checklist"]
    if chosen not in known:
        chosen = _named(chosen, known)
    values |= {"checklist": chosen, **setup.ways(chosen)}
    if wrong := setup.problems(values).get("checklist"):
        raise Stop(DATA, f"{wrong}; with --checklist")
    session = session_of(values, found, chart, "", stamp())
    session = replace(session, conditions=replace(session.conditions, blind=args.blind))
    plan = plan_of(found, chart, session)
    sheet = make_sheet(plan, chart.patient.code, known[chosen], f"limbscribe {version()}")
    hand_over(output, _rendered(sheet, args.format), "the sheet", replace=args.force)
    return DATA if chart.problems else OK


def _chart(args: Namespace) -> Chart:
    """The chart of the command line; an empty one where the server that has it is away."""
    try:
        return open_chart(args)[1]
    except ShelfError as error:
        if not isinstance(shelf_place(args), ServerAddress):
            raise
        print_err(error)
        print_err("the sheet has no last values; type it in later, with the day in the set-up")
        return Chart("", Patient(code_from(args.code)), (), (), (), ())


def _named(letters: str, known: dict[str, str]) -> str:
    """Find the one checklist whose name has words that begin with these letters."""
    found = [id_ for id_, name in known.items() if names(f"{name} {id_}", letters)]
    if len(found) > 1:  # "lower" is rather "Lower limb" than "Child, lower limb"
        first = [id_ for id_ in found if known[id_].casefold().startswith(letters.casefold())]
        found = first or found
    if len(found) == 1:
        return found[0]
    there = ", ".join(found or known) or "none"
    what = "several checklists are called so" if found else "there is no such checklist"
    raise Stop(USAGE, f"--checklist {letters}: {what}; there is {there}")


def _rendered(sheet: Sheet, form: str) -> bytes:
    if form != PDF:
        return (sheet_html if form == "html" else sheet_text)(sheet).encode("utf-8")
    if missing := needs_pdf():
        raise Stop(USAGE, f"{missing}; nothing was written")
    from ...core.report.sheet_pdf import sheet_pdf

    return sheet_pdf(sheet)
