"""``limbscribe caseload``: many patients at once, by treatment cycle and muscle group."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from ...core.caseload.caseload import Caseload, caseload_of
from ...core.caseload.choosing import Choice, ages_from, days_problem, examiner_problem
from ...core.caseload.document import caseload_doc
from ...core.caseload.reading import read_facts
from ...core.caseload.summary import Terms, terms_of
from ...core.caseload.table import (
    CYCLE_KEY,
    CYCLE_ROW,
    SUMMARY_KEY,
    SUMMARY_ROW,
    cycle_table,
    summary_table,
)
from ...core.caseload.text import caseload_lines
from ...core.change.compare import Basis, basis_of
from ...core.dates import local_now
from ...core.exchange.csv_rows import written_rows
from ...core.exchange.datapackage import table_package
from ...core.exchange.json_export import render
from ...core.text import counted, visible
from ..terminal.output import DATA, OK, USAGE, Progress, print_err, version
from .charts import catalogue, date_from, existing_place, open_shelf
from .exporting import check_table, outputs_of, workbook_of
from .files import hand_out
from .stop import Stop


def run(args: Namespace) -> int:
    """Count what changed since the treatments; exit code 1 when a chart could not be read."""
    form = "json" if args.json else args.format
    if args.datapackage and (form != "csv" or args.output in (None, "-")):
        raise Stop(USAGE, "--datapackage goes with --format csv and --output FILE")
    check_table(args, form)
    today = local_now().date()
    basis = basis_of(catalogue())
    choice = _choice(args)
    on = _day(args, "on") or today
    terms = terms_of(basis.settings, basis.muscles, on, choice.examiner)
    mean_of = _mean_of(args, terms)
    outputs = outputs_of(args)
    shelf = open_shelf(existing_place(args))
    opened = [(e.code, e.open_recorder) for e in shelf.charts() if e.open_since]
    facts, order = list(read_facts(shelf, basis, Progress("charts"))), tuple(basis.muscles)
    if nobody := examiner_problem(facts, choice.examiner):
        raise Stop(USAGE, f"--{nobody}")
    found = caseload_of(facts, choice, terms, order, opened, args.sides_together, mean_of)
    documents = _written(found, basis, form, args, outputs)
    hand_out(outputs, documents, replace=args.force)
    if found.unread:
        charts = counted(found.unread, "chart")
        print_err(f"{charts} could not be read, or not whole: see limbscribe verify")
    return DATA if found.unread else OK


def _written(
    found: Caseload, basis: Basis, form: str, args: Namespace, outputs: Sequence[Path]
) -> tuple[bytes, ...]:
    """Write the document, and the description of its columns where one is wanted."""
    if form == "json":
        return (render({"limbscribe": version(), **caseload_doc(found)}),)
    if form == "text":
        lines = caseload_lines(found, basis.muscles)
        return ("".join(f"{visible(line)}\n" for line in lines).encode(),)
    if form == "html":
        from ...core.caseload.page import render_page

        return (render_page(found, basis.muscles, version()).encode(),)
    fields, rows = cycle_table(found, basis.muscles) if args.wide else summary_table(found)
    name = "cycles" if args.wide else "caseload"
    if form == "xlsx":
        return (workbook_of(name, rows, fields),)
    data = b"".join(written_rows(rows, tuple(field["name"] for field in fields)))
    if not args.datapackage:
        return (data,)
    about, key = (CYCLE_ROW, CYCLE_KEY) if args.wide else (SUMMARY_ROW, SUMMARY_KEY)
    file = (outputs[0].name, data)
    package = table_package(f"limbscribe-{name}", about, file, fields, key, basis.muscles)
    return data, render(package)


def _choice(args: Namespace) -> Choice:
    low, high = _ages(args.age) if args.age else (None, None)
    muscle = args.muscle or ""
    if muscle and muscle not in catalogue().muscles:
        raise Stop(USAGE, f"--muscle {muscle!r} is not known: limbscribe config --json lists them")
    since, until = _day(args, "since"), _day(args, "until")
    if reversed_ := days_problem(since, until):
        raise Stop(USAGE, f"--{reversed_}")
    where = (muscle, args.side or "", since, until)
    who = (args.examiner or "").strip().upper()
    return Choice(args.treatment, args.diagnosis or "", low, high, *where, who)


def _ages(text: str) -> tuple[int | None, int | None]:
    ages = ages_from(text)
    if ages is None:
        raise Stop(USAGE, f"--age {text!r}: years from and to, as in 18-65, 18- or -17")
    return ages


def _day(args: Namespace, name: str) -> date | None:
    text = getattr(args, name)
    found = date_from(text, f"--{name} {text!r}: ")
    return date.fromisoformat(found) if found else None


def _mean_of(args: Namespace, terms: Terms) -> tuple[str, ...]:
    if not args.mean_of:
        return ()
    after = [window.name for window in terms.windows if window.first > 0]
    wrong = [name for name in args.mean_of if name not in after]
    if wrong:
        raise Stop(USAGE, f"--mean-of: no window {wrong[0]!r}, one of {', '.join(after)}")
    return tuple(args.mean_of)
