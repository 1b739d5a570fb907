"""``limbscribe events``: treatment dates listed, imported from CSV and exported to it; goals."""

from __future__ import annotations

import secrets
from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path

from ...core.chart.chart import Chart
from ...core.chart.event import Event, shown_doc
from ...core.chart.events import GOAL, day_of, event_words, in_date_order, standing
from ...core.chart.goals import goals_doc, new_events, treatment_days
from ...core.dates import local_now, stamp
from ...core.errors import ShelfError
from ...core.exchange.events_csv import columns_for, event_row, read_events, write_events
from ...core.exchange.goal_rows import GoalRow
from ...core.exchange.import_row import Refused, refused_lines
from ...core.exchange.json_export import render
from ...core.problem import Problem
from ...core.shelf import Shelf
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out, version
from ..terminal.person import who
from .charts import catalogue, existing_place, open_charts, open_shelf
from .exporting import outputs_of
from .files import hand_out, table_of
from .goals import add, goal_lines
from .importing import refused_beside
from .stop import Stop


def run(args: Namespace) -> int:
    """List, import or export; exit code 1 when a row was refused or a chart is damaged."""
    _check_goal(args)
    if args.source and (args.code or args.export or args.output is not None):
        raise Stop(USAGE, "--import names its patients row by row: leave CODE and --export out")
    if (args.output is not None or args.force) and not args.export:
        raise Stop(USAGE, "--output and --force go with --export")
    if args.datapackage and args.output in (None, "-"):
        raise Stop(USAGE, "--datapackage describes a file: name it with --export --output")
    if args.dry_run and not args.source:
        raise Stop(USAGE, "--dry-run goes with --import")
    if args.source:
        return _import(open_shelf(existing_place(args)), args)
    if args.goal is not None or args.score is not None:
        chart = add(args)
        charts, sound = [chart], not chart.problems
    else:
        charts, sound = open_charts(args)
    if args.export:
        _export(charts, args)
    elif args.json:
        print_json(_document(charts))
    else:
        _say(charts)
    return OK if sound else DATA


def _check_goal(args: Namespace) -> None:
    """Stop where the options of goals are given by halves, or beside others."""
    goal, score = args.goal is not None, args.score is not None
    if (args.weight is not None and not goal) or (args.number is not None) != score:
        raise Stop(USAGE, "--weight goes with --goal; --score and --number go together")
    if not (goal or score):
        if args.date is not None:
            raise Stop(USAGE, "--date goes with --goal or --score")
        return
    if (goal and score) or args.source or args.export:
        raise Stop(USAGE, "one at a time: --goal, --score, --import or --export")
    if args.code is None or not args.date:
        raise Stop(USAGE, "a goal or score needs CODE, --date and --by; nothing was changed")


def _say(charts: Sequence[Chart]) -> None:
    names = {id_: muscle.name for id_, muscle in catalogue().muscles.items()}
    for chart in charts:
        for event in in_date_order(standing(chart.events)):
            print_out(f"{chart.patient.code}  {event_words(event, names)}")
        for line in goal_lines(chart):
            print_out(f"{chart.patient.code}  {line}")
    if not any(standing(chart.events) for chart in charts):
        print_err("no treatment date is on record")


def _document(charts: Sequence[Chart]) -> dict[str, object]:
    goals = [(chart.patient.code, goals_doc(chart.events)) for chart in charts]
    return {
        "limbscribe": version(),
        "events": [
            {"patient": chart.patient.code, **shown_doc(event)}
            for chart in charts
            for event in in_date_order(standing(chart.events))
        ],
        **{
            name: [{"patient": code, **one} for code, doc in goals for one in doc[name]]
            for name in ("goals", "t_scores")
        },
    }


def _export(charts: Sequence[Chart], args: Namespace) -> None:
    """Write the CSV, and the description of it where one is wanted."""
    outputs, data = outputs_of(args), write_events(charts)
    documents = [data]
    if args.datapackage:
        from ...core.exchange.events_package import events_package

        file, columns = (outputs[0].name, data), columns_for(charts)
        documents.append(render(events_package(file, columns, catalogue().muscles)))
    hand_out(outputs, documents, replace=args.force)


# Import -----------------------------------------------------------------------------------


@dataclass
class _Counted:
    """What an import did."""

    columns: tuple[str, ...]
    rows: int = 0
    stored: int = 0
    already: int = 0
    refused: list[Refused] = field(default_factory=list[Refused])

    def refuse(self, code: str, row: GoalRow, why: object) -> None:
        """Note a row that was read and cannot be stored."""
        self.refused.append(Refused(event_row(code, row, self.columns), f"{code}: {why}"))


def _import(shelf: Shelf, args: Namespace) -> int:
    path = Path(args.source)
    found = read_events(
        table_of(path),
        path.name,
        catalogue().muscles,
        lambda: secrets.token_hex(8),
        local_now().date(),
    )
    if isinstance(found, Problem):
        raise Stop(DATA, f"{found}; nothing was imported")
    rows = sum(map(len, found.by_patient.values())) + len(found.refused)
    counted = _Counted(found.columns, rows, refused=list(found.refused))
    for code, each in found.by_patient.items():
        _store(shelf, code, each, counted, args)
    _tell(path, counted, args)
    return DATA if counted.refused else OK


def _store(
    shelf: Shelf, code: str, rows: Sequence[GoalRow], counted: _Counted, args: Namespace
) -> None:
    """Add what one chart does not have; an event that was struck does not come back."""
    try:
        chart_id = shelf.find(code)
        if chart_id is None:
            raise ShelfError(f"{code} has no chart on this shelf")
        there = shelf.load(chart_id).events
    except ShelfError as error:
        for row in rows:
            counted.refuse(code, row, error)
        return
    rows = _of_treatments(code, rows, there, counted)
    fresh = new_events(there, rows)
    counted.already += fresh.count(())
    try:
        if any(fresh) and not args.dry_run:
            shelf.add_events(chart_id, [*chain.from_iterable(fresh)], who(args), stamp())
        counted.stored += sum(map(bool, fresh))
    except ShelfError as error:
        for row, added in zip(rows, fresh, strict=True):
            if added:
                counted.refuse(code, row, error)


def _of_treatments(
    code: str, rows: Sequence[GoalRow], events: Sequence[Event], counted: _Counted
) -> list[GoalRow]:
    """Refuse goals of days on which nothing was done, unless the chart has them already."""
    days = treatment_days([*events, *(event for event, _ in rows)])
    there = {replace(event, id="") for event in events}
    kept: list[GoalRow] = []
    for row in rows:
        event = row[0]
        if event.kind != GOAL or day_of(event) in days or replace(event, id="") in there:
            kept.append(row)
        else:
            counted.refuse(code, row, f"no treatment on {event.date}: correct the date, or add it")
    return kept


def _tell(path: Path, counted: _Counted, args: Namespace) -> None:
    for one in counted.refused:
        print_err(f"refused: {one.reason}")
    beside = None
    if counted.refused and not args.dry_run:
        beside = refused_beside(path, lambda: refused_lines(counted.refused))
    if beside:
        print_err(f"refused rows with their reasons: {beside}")
    numbers = {
        "rows": counted.rows,
        "stored": counted.stored,
        "already_there": counted.already,
        "refused": len(counted.refused),
    }
    if args.json:
        file = None if beside is None else str(beside)
        print_json({"dry_run": args.dry_run, **numbers, "refused_file": file})
        return
    print_out("dry run, nothing was changed" if args.dry_run else "imported")
    for name, number in numbers.items():
        print_out(f"{number:6}  {name.replace('_', ' ')}")
