"""``limbscribe patient``: what is stated of a patient, and putting it right."""

from __future__ import annotations

import secrets
from argparse import Namespace
from dataclasses import replace
from datetime import datetime

from ...core.chart.chart import UNREADABLE, Chart
from ...core.chart.details import LABELS, change_words, details_doc, details_words
from ...core.chart.events import moment_words
from ...core.chart.patient import DETAILS, Patient, parse_details
from ...core.dates import local_now
from ...core.shelf import Shelf
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out, version
from .charts import open_chart
from .signature import author_from, reason_from
from .stop import Stop

_OPTIONS = {name: f"--{name}" for name in DETAILS} | {"height_cm": "--height"}


def run(args: Namespace) -> int:
    """Show the details, after changing them; exit code 1 when the chart is damaged."""
    given = {name: value for name in DETAILS if (value := getattr(args, name)) is not None}
    if not given and (args.by or args.reason):
        raise Stop(USAGE, "--by and --reason go with what is to be changed, e.g. --sex female")
    now = local_now()
    wanted = parse_details(given, now.date())
    if isinstance(wanted, list):
        for problem in wanted:
            print_err(f"{_OPTIONS[problem.where]}: {problem.what}: {problem.mend}")
        raise Stop(USAGE, "nothing was changed")
    author, reason = (author_from(args.by), reason_from(args.reason)) if given else ("", "")
    shelf, chart = open_chart(args)
    if given:
        if chart.patient == UNREADABLE:
            raise Stop(DATA, "the patient's part of this chart is damaged: nothing was changed")
        new = replace(chart.patient, **wanted)
        at = now.isoformat(timespec="seconds")
        chart = _changed(shelf, chart, new, author, reason, at)
    if args.json:
        print_json(_document(chart))
    else:
        _say(chart, now)
    return DATA if chart.problems else OK


def _changed(shelf: Shelf, chart: Chart, new: Patient, author: str, reason: str, at: str) -> Chart:
    """Store what differs; returns the chart as it is then."""
    change = chart.change_of_details(secrets.token_hex(16), new, author, reason, at)
    if change is None:
        print_err("this is what is stated already: nothing was changed")
        return chart
    shelf.change_details(chart.id, change)
    for words in change_words(chart.patient, new):
        print_err(f"changed: {words}")
    return shelf.load(chart.id)


def _say(chart: Chart, now: datetime) -> None:
    patient = chart.patient
    words = details_words(patient)
    if patient.born:
        words["born"] = f"{patient.born} ({patient.age_words(now)})"
    print_out(patient.code)
    for name, label in LABELS.items():
        print_out(f"{label:<15} {words[name]}")
    if chart.details:
        last = chart.details[-1]
        reason = f", reason: {last.reason}" if last.reason else ""
        print_out(f"{'last changed':<15} {moment_words(last.at)} by {last.author}{reason}")
        print_out(f"{'':<15} former values: limbscribe history {patient.code}")


def _document(chart: Chart) -> dict[str, object]:
    return {
        "limbscribe": version(),
        "patient": chart.patient.code,
        **details_doc(chart.patient),
        "changes": [
            {"author": change.author, "at": change.at, "reason": change.reason, "hash": change.hash}
            for change in chart.details
        ],
    }
