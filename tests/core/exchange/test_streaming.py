"""An import of many rows: memory that does not follow the file, and the checks as before."""

from __future__ import annotations

import random
import tracemalloc
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session, sorted_by_start
from limbscribe.core.entry.plan import last_reading
from limbscribe.core.exchange.csv_rows import CsvRow, written_rows
from limbscribe.core.exchange.import_plan import ImportRules, plan_visits
from limbscribe.core.exchange.import_row import ParsedRow, Visit, Whose
from limbscribe.core.exchange.importing import Outcome, import_rows
from limbscribe.core.shelf import Shelf
from limbscribe.tui.__main__ import main
from limbscribe.tui.terminal import output

from tests.bench.bench_import import rows as bench_rows
from tests.support.exported import MUSCLES
from tests.support.random_sessions import sessions
from tests.support.run import Run

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
RULES = ImportRules(MUSCLES)


def many(count: int, a_chart: int) -> Iterator[CsvRow]:
    for line, cells in enumerate(bench_rows(count, a_chart), 2):
        yield CsvRow(line, cells)


def most_memory(count: int, shelf: Shelf | None, bad: bool = False) -> int:
    """Bytes that an import of so many rows allocated at most."""
    rows = many(count, 40)
    if bad:
        rows = (CsvRow(row.line, (*row.cells[:-1], "\u202e")) for row in rows)
    tracemalloc.start()
    outcome = import_rows(rows, shelf, RULES, NOW, dry_run=shelf is None)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert isinstance(outcome, Outcome)
    assert (outcome.stored, len(outcome.refused)) == ((0, count) if bad else (count, 0))
    return most


@pytest.mark.deep
@pytest.mark.parametrize("bad", [False, True])
def test_memory_does_not_follow_the_length_of_the_file(bad: bool) -> None:
    most_memory(400, None, bad)  # what is loaded once
    small, large = most_memory(2000, None, bad), most_memory(8000, None, bad)
    # Beside the rows put aside in memory, at most 1 MiB, a few numbers a row.
    assert large < small + (1 << 20) + 6000 * 150, (small, large)


@pytest.mark.deep
def test_memory_does_not_follow_it_when_charts_are_written(tmp_path: Path) -> None:
    most_memory(400, Shelf(tmp_path / "first"))
    small = most_memory(2000, Shelf(tmp_path / "second"))
    large = most_memory(6000, Shelf(tmp_path / "third"))
    # Rows of new charts are held until 2,000 of them, or 50 charts, are together.
    assert large < small + (3 << 20), (small, large)


@pytest.mark.deep
def test_of_one_large_chart_only_what_will_be_stored_is_held() -> None:
    """Readings and sessions, some 600 bytes a row; the rows themselves took twice as much."""
    most_memory(400, None)
    tracemalloc.start()
    import_rows(many(6000, 6000), None, RULES, NOW, dry_run=True)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # The rows put aside, at most 1 MiB of them in memory, and 16 bytes a row for their places.
    assert most < (1 << 20) + 6000 * 700, most


def test_a_long_import_tells_how_far_it_is(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    ticks = iter(range(10**6))
    monkeypatch.setattr(output, "monotonic", lambda: next(ticks) / 4)
    with Path("a.csv").open("wb") as file:
        file.writelines(written_rows(bench_rows(1000, 100)))
    ran = run("import", "a.csv")
    lines = [line for line in ran.err.splitlines() if " rows " in line]
    assert any(line.endswith(" rows read") for line in lines)
    assert any(line.endswith(" of 1,000 rows dealt with") for line in lines)
    bars = [line.split()[1:3] for line in lines if line.endswith(" dealt with")]
    for bar, done in bars:
        assert bar == f"[{'#' * (int(done) // 50):.<20}]", "a cell for each 50 of 1,000"
    assert 2 < len(lines) < 200
    assert "rows read" not in run("import", "a.csv", "--dry-run").out


def test_a_file_that_breaks_off_at_its_end_changes_nothing(run: Run) -> None:
    data = b"".join(written_rows(bench_rows(3000, 100))) + b'"never closed'
    Path("a.csv").write_bytes(data)
    ran = run("import", "a.csv")
    assert ran.code == 1
    assert (
        "line 3002: a quote opened here is never closed (close it); nothing was imported" in ran.err
    )
    assert "patient" in run("export").out
    assert run("export").out.count("\r\n") == 1


# The look back at earlier sessions ----------------------------------------------------------


def judged_slowly(rows: list[ParsedRow], stored: list[Session]) -> list[tuple[int, int | None]]:
    """By row the R2 that each accepted row is held against, found by looking back every time."""
    found: list[tuple[int, int | None]] = []
    all_sessions = list(stored)
    for row in sorted(rows, key=lambda row: row.whose.visit.when):
        earlier = [s for s in sorted_by_start(all_sessions) if s.when < row.whose.visit.when]
        reading = row.reading
        last = last_reading(earlier, reading.muscle, reading.side, reading.fast_velocity)
        found.append((row.row.line, last[0].r2 if last else None))
    return found


@pytest.mark.parametrize("seed", range(8))
def test_each_row_is_held_against_the_same_reading_as_the_entry_would(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    rnd = random.Random(seed)
    stored = list(sessions(rnd, 12))
    rows: list[ParsedRow] = []
    for number, one in enumerate(sessions(rnd, 12)):
        for reading in one.readings:
            visit = Visit(one.started, f"E{number}", "R")
            rows.append(ParsedRow(CsvRow(len(rows) + 2, ()), Whose("G", visit, {}), reading))
    heard: dict[int, int | None] = {}
    from limbscribe.core.exchange import import_plan

    check = import_plan.check_reading

    def listening(reading, context):
        line = next(row.row.line for row in rows if row.reading is reading)
        heard[line] = context.last.r2 if context.last else None
        return check(reading, context)

    monkeypatch.setattr(import_plan, "check_reading", listening)
    visits: dict[Visit, list[ParsedRow]] = {}
    for row in rows:
        visits.setdefault(row.whose.visit, []).append(row)
    in_order = sorted(visits.items(), key=lambda item: item[0].when)
    plans = list(plan_visits(in_order, Patient("G"), Patient("G"), stored, RULES))
    assert not any(plan.refused for plan in plans)
    made = [plan.change.session for plan in plans if plan.change]
    assert dict(judged_slowly(rows, [*stored, *made])) == heard
    assert sum(value is not None for value in heard.values()) > 5


@pytest.mark.deep
@pytest.mark.parametrize(
    ("form", "count"), [("json", 150), ("fhir --transaction", 60), ("fhir-ndjson", 60)]
)
def test_memory_does_not_follow_the_number_of_charts(form: str, count: int, tmp_path: Path) -> None:
    """An export holds one chart at a time, whatever it writes."""

    def most(charts: int) -> int:
        shelf = Shelf(tmp_path / f"{form}-{charts}")
        patients = [Patient(f"P-{number:04}") for number in range(charts)]
        taken = sorted_by_start(sessions(random.Random(1), 6))
        parts = {patient.code: list(taken) for patient in patients}
        shelf.create_all(patients, "JY", NOW.isoformat(), parts)
        words = ("export", "--format", *form.split(), "--shelf", str(shelf.folder), "-o")
        tracemalloc.start()
        assert main([*words, str(tmp_path / f"{form}-{charts}.out")]) == 0
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    most(2)  # what is loaded once
    few, many_ = most(10), most(count)
    out = tmp_path / f"{form}-{count}.out"
    written = sum(path.stat().st_size for path in (out.iterdir() if out.is_dir() else [out]))
    # Lines of the list, and what waits to be freed; whole documents would be 60 KB a chart or more.
    assert many_ < few + (count - 10) * 1_000 + (2 << 20)
    assert written > 3 * (many_ - few)
