"""``limbscribe export``: closed sessions as CSV, xlsx, JSON or FHIR."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

from ...core.chart.chart import Chart
from ...core.chart.session import Session
from ...core.exchange import wide
from ...core.exchange.csv_rows import COLUMNS, columns_for, write_rows, written_rows
from ...core.exchange.derived import OF_READING, OF_SESSION, derived_rows, session_cells_derived
from ...core.exchange.json_export import chart_doc, render, written_list
from ...core.exchange.own_table import NEED_XLSX, SHEET
from ...core.shelf import ChartEntry
from ...core.tardieu.muscles import Muscle
from ...core.text import visible
from ..terminal.output import DATA, OK, USAGE, print_err, version
from .charts import EachChart, catalogue
from .files import FORCE, folder_path, hand_out, output_path, write_folder
from .stop import Stop


def run(args: Namespace) -> int:
    """Export one chart or all; exit code 1 when something of them could not be read."""
    form = "json" if args.json else args.format
    _check_options(args, form)
    if form == "fhir-ndjson":
        return _bulk(args)
    outputs = outputs_of(args)
    charts = EachChart(args)
    _report_open(charts.entries)
    muscles = catalogue().muscles
    documents = _documents(args, form, charts, muscles, outputs)
    hand_out(outputs, documents, replace=args.force)
    return OK if charts.sound else DATA


def _bulk(args: Namespace) -> int:
    """Write a folder for bulk loading, a file for each type of resource; exit code as run()."""
    from ...core.exchange.fhir.bundle import FILES, bulk_lines

    folder = folder_path(args.output, FILES, replace=args.force)
    charts = EachChart(args)
    _report_open(charts.entries)
    lines = bulk_lines(_told(charts), catalogue().muscles)
    written = write_folder(folder, FILES, lines, replace=args.force)
    print_err(f"written to {folder}: {', '.join(written)}")
    return OK if charts.sound else DATA


def _check_options(args: Namespace, form: str) -> None:
    if args.datapackage and form != "csv":
        raise Stop(USAGE, "--datapackage goes with --format csv only")
    if args.transaction and form != "fhir":
        raise Stop(USAGE, "--transaction goes with --format fhir only")
    if form == "fhir-ndjson" and args.output in (None, "", "-"):
        raise Stop(USAGE, "fhir-ndjson is several files: name a folder for them with --output")
    check_table(args, form)
    if args.datapackage and args.output in (None, "-"):
        raise Stop(USAGE, "--datapackage describes a file: name it with --output")


def check_table(args: Namespace, form: str) -> None:
    """Refuse --wide for what is no table, and a workbook that cannot be made or shown."""
    if args.wide and form not in ("csv", "xlsx"):
        raise Stop(USAGE, "--wide goes with --format csv or xlsx only")
    if form == "xlsx" and find_spec("openpyxl") is None:
        raise Stop(USAGE, NEED_XLSX)
    if form == "xlsx" and args.output in (None, "-") and sys.stdout.isatty():
        raise Stop(USAGE, "a workbook is not text for a terminal: name a file with --output")


def outputs_of(args: Namespace) -> list[Path]:
    """Name the files to be written, the description last; none may exist without --force."""
    named = output_path(args.output, FORCE, replace=args.force)
    if named is None:
        return []
    paths = [named]
    if args.datapackage:
        from ...core.exchange.datapackage import FILE

        if named.name == FILE:
            raise Stop(USAGE, f"{FILE} is the name of the description: choose another --output")
        described = str(named.with_name(FILE))
        beside = output_path(described, replace=args.force, advice=_ONE_TABLE)
        paths += [beside] if beside else []
    return paths


_ONE_TABLE = (
    "it always has this name and describes one table, so write this one to another folder; --force "
    "replaces it, and the table that it describes now is then without one"
)

Pieces = bytes | Iterable[bytes]


def _documents(
    args: Namespace,
    form: str,
    charts: EachChart,
    muscles: Mapping[str, Muscle],
    outputs: Sequence[Path],
) -> tuple[Pieces, bytes]:
    """Write the document, and the description of it where one is wanted."""
    if form == "json":
        items = (chart_doc(chart, muscles) for chart in _told(charts))
        return written_list({"limbscribe": version()}, "patients", items), b""
    if form == "fhir":
        from ...core.exchange.fhir.bundle import BUNDLE, TRANSACTION, entries, puts

        head, each = (TRANSACTION, puts) if args.transaction else (BUNDLE, entries)
        return written_list(head, "entry", each(_told(charts), muscles), in_lines=True), b""
    return _table(args, charts, muscles, outputs)


def _told(charts: EachChart) -> Iterator[Chart]:
    """Yield the charts, saying of each what a reader of the file must know."""
    for chart in charts:
        _report_conflicts(chart)
        yield chart


def _report_open(entries: Sequence[ChartEntry]) -> None:
    for entry in entries:
        if entry.open_since:
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


def _report_other_zeros(chart: Chart, muscles: Mapping[str, Muscle]) -> None:
    """Report angles read from another zero: a CSV names a scale only."""
    others = {
        f"{reading.muscle} ({reading.scale.id})"
        for session in chart.by_date
        for reading in session.readings
        if reading.muscle in muscles
        and reading.scale.id in {scale.id for scale in muscles[reading.muscle].scales}
        and reading.scale.stretch(0) != muscles[reading.muscle].scale(reading.scale.id).stretch(0)
    }
    if others:
        print_err(
            f"{chart.patient.code}: read from another zero than the one in use now: "
            f"{', '.join(sorted(others))}. The CSV cannot show that: use --format json or "
            "fhir, or --wide"
        )


def _table(
    args: Namespace, charts: EachChart, muscles: Mapping[str, Muscle], outputs: Sequence[Path]
) -> tuple[Pieces, bytes]:
    """Write the CSV, and the description of it where one is wanted.

    The columns depend on all of the charts, so they are gone through twice.
    """
    seen = _columns_of(args, charts, muscles)
    if args.wide:
        columns = (*wide.columns(seen.stations), *OF_SESSION)
        rows = (
            (
                *wide.row(chart.patient.code, session, seen.stations),
                *session_cells_derived(chart, session),
            )
            for chart, session in _sessions(charts)
        )
    else:
        columns = (*seen.columns, *OF_READING)
        visits = _sessions(charts)
        rows = (
            row
            for chart, session in visits
            for row in derived_rows(chart, session, seen.columns, muscles)
        )

    if args.format == "xlsx" and not args.json:
        return _workbook(args, rows, seen), b""
    if not outputs and sys.stdout.isatty():
        # A file keeps every character; a terminal must not be steered by them.
        rows = (tuple(map(visible, row)) for row in rows)
    if not args.datapackage:
        return written_rows(rows, columns), b""
    from ...core.exchange.datapackage import readings_package, wide_package

    data = write_rows(rows, columns)
    if args.wide:
        return data, render(wide_package(outputs[0].name, data, seen.stations, muscles))
    readings = (reading for _, session in _sessions(charts) for reading in session.readings)
    return data, render(readings_package(outputs[0].name, data, columns, muscles, readings))


def _workbook(args: Namespace, rows: Iterable[tuple[str, ...]], seen: _Seen) -> bytes:
    from ...core.exchange.datapackage import reading_fields, wide_fields

    fields = (
        wide_fields(seen.stations) if args.wide else reading_fields((*seen.columns, *OF_READING))
    )
    return workbook_of("sessions" if args.wide else SHEET, rows, fields)


def workbook_of(
    name: str, rows: Iterable[tuple[str, ...]], fields: Sequence[dict[str, Any]]
) -> bytes:
    """Write a table as a workbook, or stop where it has too many rows for one."""
    from ...core.exchange.xlsx_write import MOST_ROWS, workbook

    data = workbook(name, rows, fields)
    if data is None:
        what = f"a workbook holds at most {MOST_ROWS:,} rows here; export CSV, or one patient"
        raise Stop(USAGE, f"{what}. Nothing was written")
    return data


class _Seen(NamedTuple):
    """What the columns of a CSV depend on."""

    columns: tuple[str, ...]
    stations: tuple[wide.WideStation, ...]


def _columns_of(args: Namespace, charts: EachChart, muscles: Mapping[str, Muscle]) -> _Seen:
    def alone() -> Iterator[Session]:
        for chart in _told(charts):
            if not args.wide:
                _report_other_zeros(chart, muscles)
            yield from chart.by_date

    if args.wide:
        return _Seen((), wide.stations_in(alone(), list(muscles)))
    needed = (columns_for([session]) for session in alone())
    return _Seen(max(needed, key=len, default=COLUMNS), ())


def _sessions(charts: EachChart) -> Iterator[tuple[Chart, Session]]:
    return ((chart, session) for chart in charts for session in chart.by_date)
