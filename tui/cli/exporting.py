"""``limbscribe export``: closed sessions as CSV, JSON or FHIR."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Mapping, Sequence
from pathlib import Path

from ...core.chart.chart import Chart
from ...core.exchange import wide
from ...core.exchange.csv_rows import columns_for, session_rows, write_rows
from ...core.exchange.json_export import export_doc, render
from ...core.shelf import ChartEntry
from ...core.tardieu.muscles import Muscle
from ...core.text import visible
from ..terminal.output import DATA, OK, USAGE, print_document, print_err, version
from .charts import catalogue, open_charts
from .files import FORCE, output_path, write_file
from .stop import Stop


def run(args: Namespace) -> int:
    """Export one chart or all; exit code 1 when something of them could not be read."""
    form = "json" if args.json else args.format
    _check_options(args, form)
    outputs = _outputs(args)
    shelf, charts, sound = open_charts(args)
    _report_open(shelf.charts(), charts)
    for chart in charts:
        _report_conflicts(chart)
    muscles = catalogue().muscles
    if form == "csv" and not args.wide:
        _report_other_zeros(charts, muscles)
    data, package = _documents(args, form, charts, muscles, outputs)
    if not outputs:
        print_document(data)
    for path, document in zip(outputs, (data, package), strict=False):
        write_file(path, document, replace=args.force)
        print_err(f"written to {path}")
    return OK if sound else DATA


def _check_options(args: Namespace, form: str) -> None:
    if (args.wide or args.datapackage) and form != "csv":
        raise Stop(USAGE, "--wide and --datapackage go with --format csv only")
    if args.datapackage and args.output in (None, "-"):
        raise Stop(USAGE, "--datapackage describes a file: name it with --output")


def _outputs(args: Namespace) -> list[Path]:
    """Name the files to be written; none may exist unless --force is given."""
    named = output_path(args.output, FORCE, replace=args.force)
    if named is None:
        return []
    paths = [named]
    if args.datapackage:
        from ...core.exchange.datapackage import FILE

        if named.name == FILE:
            raise Stop(USAGE, f"{FILE} is the name of the description: choose another --output")
        beside = output_path(str(named.with_name(FILE)), FORCE, replace=args.force)
        paths += [beside] if beside else []
    return paths


def _documents(
    args: Namespace,
    form: str,
    charts: Sequence[Chart],
    muscles: Mapping[str, Muscle],
    outputs: Sequence[Path],
) -> tuple[bytes, bytes]:
    """Write the document, and the description of it where one is wanted."""
    if form == "json":
        return render(export_doc(charts, muscles, version())), b""
    if form == "fhir":
        from ...core.exchange.fhir.bundle import fhir_bundle

        return render(fhir_bundle(charts, muscles)), b""
    return _table(args, charts, muscles, outputs)


def _report_open(entries: Sequence[ChartEntry], charts: Sequence[Chart]) -> None:
    wanted = {chart.id for chart in charts}
    for entry in entries:
        if entry.id in wanted and entry.open_since:
            print_err(
                f"{entry.code}: the session open since {entry.open_since} is left out; "
                "close it to export it"
            )


def _report_conflicts(chart: Chart) -> None:
    for chain in chart.conflicts:
        print_err(
            f"{chart.patient.code}: amendments of the session of {chain.session.date_words} "
            "disagree; the values before them are written. Settle that in the chart"
        )


def _report_other_zeros(charts: Sequence[Chart], muscles: Mapping[str, Muscle]) -> None:
    """Report angles read from another zero: a CSV names a scale only."""
    for chart in charts:
        others = {
            f"{reading.muscle} ({reading.scale.id})"
            for session in chart.by_date
            for reading in session.readings
            if reading.muscle in muscles
            and reading.scale.id in {scale.id for scale in muscles[reading.muscle].scales}
            and reading.scale.stretch(0)
            != muscles[reading.muscle].scale(reading.scale.id).stretch(0)
        }
        if others:
            print_err(
                f"{chart.patient.code}: read from another zero than the one in use now: "
                f"{', '.join(sorted(others))}. The CSV cannot show that: use --format json or "
                "fhir, or --wide"
            )


def _table(
    args: Namespace, charts: Sequence[Chart], muscles: Mapping[str, Muscle], outputs: Sequence[Path]
) -> tuple[bytes, bytes]:
    """Write the CSV, and the description of it where one is wanted."""
    sessions = [(chart.patient.code, session) for chart in charts for session in chart.by_date]
    alone = [session for _, session in sessions]
    stations = wide.stations_in(alone, list(muscles)) if args.wide else ()
    if args.wide:
        columns = wide.columns(stations)
        rows = [wide.row(code, session, stations) for code, session in sessions]
    else:
        columns = columns_for(alone)
        rows = [row for code, session in sessions for row in session_rows(code, session, columns)]
    if not outputs and sys.stdout.isatty():
        # A file keeps every character; a terminal must not be steered by them.
        rows = [tuple(map(visible, row)) for row in rows]
    data = write_rows(rows, columns)
    if not args.datapackage:
        return data, b""
    from ...core.exchange.datapackage import readings_package, wide_package

    if args.wide:
        return data, render(wide_package(outputs[0].name, data, stations, muscles))
    readings = (reading for session in alone for reading in session.readings)
    return data, render(readings_package(outputs[0].name, data, columns, muscles, readings))
