"""``limbscribe history``: who did what when in one chart, and what it looked like then."""

from __future__ import annotations

from argparse import Namespace

from ...core.change.history import Step, chart_at, history, step_doc, step_named
from ...core.chart.chart import Chart
from ...core.chart.details import LABELS, details_doc, details_words
from ...core.chart.session import Session
from ...core.exchange.json_export import problem_doc
from ...core.tardieu.reading import reading_to_doc
from ...core.tardieu.reading_words import reading_words, station_words
from ...core.text import counted
from ..terminal.output import DATA, OK, USAGE, print_err, print_json, print_out, version
from .charts import open_chart
from .stop import Stop

SHORT_HASH = 12


def run(args: Namespace) -> int:
    """Print the history; exit code 1 when the chart is damaged."""
    _, chart = open_chart(args)
    steps = history(chart)
    then = None if args.at is None else step_named(steps, args.at)
    if then is None and args.at is not None:
        what = f"no step {args.at!r}: give a number of 1 to {len(steps)}"
        raise Stop(USAGE, f"{what}, or 6 or more characters of one hash")
    past = chart_at(chart, steps[: then.number]) if then else None
    if args.json:
        print_json(_document(chart, steps, past, then))
    elif past is not None and then is not None:
        _say_state(past, then)
    else:
        _say_steps(chart, steps)
    return DATA if chart.problems else OK


def _say_steps(chart: Chart, steps: tuple[Step, ...]) -> None:
    print_out(
        f"history of {chart.patient.code}, in the order of the documents' links; angles in deg"
    )
    for step in steps:
        who = step.who or "not recorded"
        named = "of" if step.kind in ("session", "import") else "of the session of"
        about = f" {named} {step.session}" if step.session else ""
        head = f"{step.number}  {step.kind}{about}, by {who}, at {step.at or 'not recorded'}"
        texts = (f"hash {step.hash}", *step.what, *(change.words for change in step.changes))
        print_out("", head, *(f"    {text}" for text in texts))
        if step.conflict:
            hashes = ", ".join(name[:SHORT_HASH] for name in step.conflict)
            print_out(f"    CONFLICT, not settled here: {hashes}")
    unsettled = len(chart.conflicts)
    print_out("")
    if unsettled:
        count = counted(unsettled, "session")
        print_out(f"{count} with amendments that disagree; settle that in the chart")
    if steps:
        print_out(f"{counted(len(steps), 'document')}, the newest {steps[-1].hash}")
        print_err(
            "the loss of the newest document alone shows only against that hash noted elsewhere"
        )


def _say_state(past: Chart, then: Step) -> None:
    print_out(f"{past.patient.code} after step {then.number} ({then.kind}, hash {then.hash})")
    for name, words in details_words(past.patient).items():
        print_out(f"    {LABELS[name]}: {words}")
    for session in past.by_date:
        later = session.conditions.typed_later_words
        words = f"session of {session.date_words}, started {session.started}"
        print_out("", f"{words}, {later}" if later else words)
        for reading in session.readings:
            print_out(f"    {station_words(reading)}: {reading_words(reading)}")
            for flag in reading.flags:
                print_out(f"        ! {flag.level}: {flag.text}")


def _document(
    chart: Chart, steps: tuple[Step, ...], past: Chart | None, then: Step | None
) -> dict[str, object]:
    shown: dict[str, object] = {
        "limbscribe": version(),
        "patient": chart.patient.code,
        "steps": [step_doc(step) for step in steps],
        "conflicts": [[a.hash for a in chain.conflict] for chain in chart.conflicts],
        "problems": [problem_doc(problem) for problem in chart.problems],
    }
    if past is not None and then is not None:
        shown["after_step"] = then.number
        shown["details"] = details_doc(past.patient)
        shown["sessions"] = [_session(session) for session in past.by_date]
    return shown


def _session(session: Session) -> dict[str, object]:
    return {
        "started": session.started,
        "closed": session.seal.hash if session.seal else None,
        "readings": [reading_to_doc(reading) for reading in session.readings],
    }
