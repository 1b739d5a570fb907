"""``limbscribe export``: closed sessions as CSV, JSON or FHIR."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from ...core.chart.chart import Chart
from ...core.chart.session import Session
from ...core.errors import ShelfError
from ...core.exchange import wide
from ...core.exchange.csv_rows import columns_for, session_rows, write_rows
from ...core.exchange.json_export import export_doc, render
from ...core.outside import write_new, write_over
from ...core.shelf import ChartEntry, Shelf
from ...core.tardieu.muscles import Muscle
from ...core.text import visible
from ..terminal.output import DATA, OK, USAGE, print_document, print_err, version
from .charts import catalogue, chart_of, code_of, existing_folder, open_shelf, tell_problems
from .stop import Stop


def run(args: Namespace) -> int:
    """Export one chart or all; exit code 1 when something of them could not be read."""
    form = "json" if args.json else args.format
    _check_options(args, form)
    outputs = _outputs(args)
    shelf = open_shelf(existing_folder(args))
    if args.code is None:
        charts, sound = _all_charts(shelf)
    else:
        charts, sound = [chart_of(shelf, code_of(args))], True
    _tell_open(shelf.charts(), charts)
    for chart in charts:
        tell_problems(chart)
        _tell_conflicts(chart)
        sound = sound and not chart.problems
    muscles = catalogue().muscles
    if form == "csv" and not args.wide:
        _tell_other_zeros(charts, muscles)
    data, package = _documents(args, form, charts, muscles, outputs)
    if not outputs:
        print_document(data)
    for path, document in zip(outputs, (data, package), strict=False):
        _write(path, document, args.force)
        print_err(f"written to {path}")
    return OK if sound else DATA


def _check_options(args: Namespace, form: str) -> None:
    if (args.wide or args.datapackage) and form != "csv":
        raise Stop(USAGE, "--wide and --datapackage go with --format csv only")
    if args.datapackage and not args.output:
        raise Stop(USAGE, "--datapackage describes a file: name it with --output")


def _outputs(args: Namespace) -> list[Path]:
    """The files to be written, none of them there yet unless --force is given."""
    if not args.output:
        return []
    paths = [Path(args.output)]
    if args.datapackage:
        from ...core.exchange.datapackage import FILE

        if paths[0].name == FILE:
            raise Stop(USAGE, f"{FILE} is the name of the description: choose another --output")
        paths.append(paths[0].with_name(FILE))
    for path in paths:
        if not args.force and (path.exists() or path.is_symlink()):
            raise Stop(USAGE, f"{path} exists: choose another name, or add --force to replace it")
    return paths


def _documents(
    args: Namespace,
    form: str,
    charts: Sequence[Chart],
    muscles: Mapping[str, Muscle],
    outputs: Sequence[Path],
) -> tuple[bytes, bytes]:
    """The document, and the description of it where one is wanted."""
    if form == "json":
        return render(export_doc(charts, muscles, version())), b""
    if form == "fhir":
        from ...core.exchange.fhir.bundle import fhir_bundle

        return render(fhir_bundle(charts, muscles)), b""
    make = _wide if args.wide else _csv
    to_terminal = not outputs and sys.stdout.isatty()
    return make(charts, muscles, to_terminal, outputs[0].name if args.datapackage else "")


def _all_charts(shelf: Shelf) -> tuple[list[Chart], bool]:
    """Every chart by patient code, and whether every one could be read."""
    charts: list[Chart] = []
    sound = True
    for entry in sorted(shelf.charts(), key=lambda entry: (entry.code, entry.id)):
        try:
            charts.append(shelf.load(entry.id))
        except ShelfError as error:
            print_err(f"{entry.code}: {error}")
            sound = False
    return charts, sound


def _tell_open(entries: Sequence[ChartEntry], charts: Sequence[Chart]) -> None:
    wanted = {chart.id for chart in charts}
    for entry in entries:
        if entry.id in wanted and entry.open_since:
            print_err(
                f"{entry.code}: the session open since {entry.open_since} is left out; "
                "close it to export it"
            )


def _tell_conflicts(chart: Chart) -> None:
    for chain in chart.conflicts:
        print_err(
            f"{chart.patient.code}: amendments of the session of {chain.session.date_words} "
            "disagree; what stood before them is written. Settle that in the chart"
        )


def _tell_other_zeros(charts: Sequence[Chart], muscles: Mapping[str, Muscle]) -> None:
    """A CSV names a scale only; an angle read from another zero would be taken for another."""
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


def _sessions(charts: Sequence[Chart]) -> Iterator[tuple[str, Session]]:
    for chart in charts:
        for session in chart.by_date:
            yield chart.patient.code, session


def _csv(
    charts: Sequence[Chart], muscles: Mapping[str, Muscle], to_terminal: bool, described: str
) -> tuple[bytes, bytes]:
    sessions = list(_sessions(charts))
    columns = columns_for(session for _, session in sessions)
    rows = [row for code, session in sessions for row in session_rows(code, session, columns)]
    data = _table(rows, columns, to_terminal)
    if not described:
        return data, b""
    from ...core.exchange.datapackage import readings_package

    readings = (reading for _, session in sessions for reading in session.readings)
    return data, render(readings_package(described, data, columns, muscles, readings))


def _wide(
    charts: Sequence[Chart], muscles: Mapping[str, Muscle], to_terminal: bool, described: str
) -> tuple[bytes, bytes]:
    sessions = list(_sessions(charts))
    stations = wide.stations_in((session for _, session in sessions), list(muscles))
    rows = [wide.row(code, session, stations) for code, session in sessions]
    data = _table(rows, wide.columns(stations), to_terminal)
    if not described:
        return data, b""
    from ...core.exchange.datapackage import wide_package

    return data, render(wide_package(described, data, stations, muscles))


def _table(rows: Sequence[tuple[str, ...]], columns: Sequence[str], to_terminal: bool) -> bytes:
    # A file keeps every character; a terminal must not be steered by them.
    shown = [tuple(map(visible, row)) for row in rows] if to_terminal else rows
    return write_rows(shown, columns)


def _write(output: Path, data: bytes, force: bool) -> None:
    try:
        (write_over if force else write_new)(output, data)
    except FileExistsError as error:
        raise Stop(USAGE, f"{output} exists: choose another name, or add --force") from error
    except OSError as error:
        raise Stop(DATA, f"{output} was not written: {error.strerror}") from error
