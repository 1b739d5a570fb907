"""``limbscribe export``: closed sessions as CSV or JSON."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path

from ...core.report.csv_rows import session_rows, write_rows
from ...core.report.json_export import export_doc, render
from ...core.shelf import Chart, ChartEntry, Shelf, ShelfError
from ...core.text import visible
from .charts import Stop, catalogue, chart_of, code_of, existing_folder, tell_problems
from .output import DATA, OK, USAGE, put, tell, version, write_new, write_over


def run(args: Namespace) -> int:
    """Export one chart or all; exit code 1 when something of them could not be read."""
    output = Path(args.output) if args.output else None
    if output and not args.force and (output.exists() or output.is_symlink()):
        raise Stop(USAGE, f"{output} exists: choose another name, or add --force to replace it")
    shelf = Shelf(existing_folder(args))
    if args.code is None:
        charts, sound = _all_charts(shelf)
    else:
        charts, sound = [chart_of(shelf, code_of(args))], True
    _tell_open(shelf.charts(), charts)
    for chart in charts:
        tell_problems(chart)
        sound = sound and not chart.problems
    as_json = args.json or args.format == "json"
    to_terminal = output is None and sys.stdout.isatty()
    data = _json(charts) if as_json else _csv(charts, to_terminal)
    if output is None:
        put(data)
    else:
        _write(output, data, args.force)
        tell(f"written to {output}")
    return OK if sound else DATA


def _all_charts(shelf: Shelf) -> tuple[list[Chart], bool]:
    """Every chart by patient code, and whether every one could be read."""
    charts: list[Chart] = []
    sound = True
    for entry in sorted(shelf.charts(), key=lambda entry: (entry.code, entry.id)):
        try:
            charts.append(shelf.load(entry.id))
        except ShelfError as error:
            tell(f"{entry.code}: {error}")
            sound = False
    return charts, sound


def _tell_open(entries: Sequence[ChartEntry], charts: Sequence[Chart]) -> None:
    wanted = {chart.id for chart in charts}
    for entry in entries:
        if entry.id in wanted and entry.open_since:
            tell(
                f"{entry.code}: the session open since {entry.open_since} is left out; "
                "close it to export it"
            )


def _csv(charts: Sequence[Chart], to_terminal: bool) -> bytes:
    rows = [
        row
        for chart in charts
        for session in chart.by_date
        for row in session_rows(chart.patient.code, session)
    ]
    # A file keeps every character; a terminal must not be steered by them.
    return write_rows([tuple(map(visible, row)) for row in rows] if to_terminal else rows)


def _json(charts: Sequence[Chart]) -> bytes:
    return render(export_doc(charts, catalogue().muscles, version()))


def _write(output: Path, data: bytes, force: bool) -> None:
    try:
        (write_over if force else write_new)(output, data)
    except FileExistsError as error:
        raise Stop(USAGE, f"{output} exists: choose another name, or add --force") from error
    except OSError as error:
        raise Stop(DATA, f"{output} was not written: {error.strerror}") from error
