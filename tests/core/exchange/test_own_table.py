"""Tables of ours as spreadsheets give them back: read, and what was assumed is said."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow, written_rows
from limbscribe.core.exchange.own_table import open_own
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.csv_rows import cells, file_of, line, run_import
from tests.support.run import Run

ROWS = (
    cells(comment="für später, ja;\nzwei Zeilen", examiner="A-B"),
    cells(side="right", date="2025-07-02", utc_offset="+02:00", examiner="A-B", comment="=1+1"),
)
"""In winter and in summer of Vienna."""

VIENNA = ZoneInfo("Europe/Vienna")


@pytest.fixture
def vienna(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer whose time zone is that of the rows."""
    monkeypatch.setenv("TZ", "Europe/Vienna")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


def saved(separator: str = ",", encoding: str = "utf-8", **changed: dict[str, str]) -> bytes:
    """The rows as a program saves them that writes other words into some columns."""
    rows = [
        [changed.get(name, {}).get(cell, cell) for name, cell in zip(COLUMNS, row, strict=True)]
        for row in ROWS
    ]
    return b"".join(written_rows(rows, COLUMNS, separator, encoding))


def read(data: bytes, zone: ZoneInfo | None = VIENNA) -> tuple[list[tuple[str, ...]], list[str]]:
    """The cells of every row, and what was assumed."""
    table = open_own(BytesIO(data), "x.csv", zone)
    rows = list(table.rows)
    assert all(isinstance(row, CsvRow) for row in rows), rows
    return [row.cells for row in rows if isinstance(row, CsvRow)], table.assumed.sentences


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be"]
)
def test_separators_and_encodings(separator: str, encoding: str) -> None:
    rows, assumed = read(saved(separator, encoding))
    assert rows == [tuple(row) for row in ROWS]
    ours = separator == "," and encoding.startswith("utf-8")
    assert len(assumed) == (not ours)
    if not ours:
        assert {",": "comma", ";": "semicolon", "\t": "tab"}[separator] in assumed[0]
        assert ("windows-1252" if encoding == "cp1252" else encoding[:5]) in assumed[0]


@pytest.mark.parametrize(
    ("column", "words", "assumption"),
    [
        (
            "date",
            {"2026-03-02": "02.03.2026", "2025-07-02": "2.7.2025"},
            "dates read as DD.MM.YYYY",
        ),
        ("time", {"09:30": "09:30:00 AM"}, "times read with AM and PM"),
        ("time", {"09:30": "9:30 am"}, "times read with AM and PM"),
        (
            "utc_offset",
            {"+01:00": "01:00:00", "+02:00": "02:00:00"},
            "offsets that had become a time read by date and time zone Europe/Vienna",
        ),
        (
            "utc_offset",
            {"+01:00": "01:00:00 AM", "+02:00": "2:00"},
            "offsets that had become a time read by date and time zone Europe/Vienna",
        ),
        ("r1", {"-60": "\u221260"}, "dashes read as hyphens and minus signs"),
        ("patient", {"P-01": "P\u201301"}, "dashes read as hyphens and minus signs"),
    ],
)
def test_what_a_spreadsheet_made_of_a_column_is_read_and_said_once(
    column: str, words: dict[str, str], assumption: str
) -> None:
    rows, assumed = read(saved(**{column: words}))
    with_seconds = [[c + ":00" if c == "09:30" else c for c in row] for row in ROWS]
    assert [list(row) for row in rows] in ([list(row) for row in ROWS], with_seconds)
    assert assumed == [f"{assumption} in 2 rows"]


@pytest.mark.parametrize(
    ("text", "zone", "offset"),
    [
        ("05:00:00", "America/New_York", "-05:00"),
        ("19:00:00", "America/New_York", "-05:00"),
        ("-03:30:00", "Europe/Vienna", "-03:30"),
        ("03:30:00", "America/St_Johns", "-03:30"),
        ("00:00:00", "Europe/Vienna", "+00:00"),
        ("12:00:00 AM", "Europe/London", "+00:00"),
        ("05:30", "Europe/Vienna", "+05:30"),
        ("20:30:00", "Europe/Vienna", "-03:30"),
    ],
)
def test_an_offset_that_lost_its_sign_gets_that_of_the_zone(
    text: str, zone: str, offset: str
) -> None:
    """The hours in the file are kept also where that zone never has them."""
    rows, _ = read(file_of(line(utc_offset=text)), ZoneInfo(zone))
    assert rows[0][3] == offset


@pytest.mark.parametrize(
    ("text", "read_as"),
    [
        ("12:05 AM", "00:05:00"),
        ("12:05:09 PM", "12:05:09"),
        ("1:10 p.m.", "13:10:00"),
        ("10:10", "10:10:00"),
        ("13:10 PM", "13:10 PM"),
        ("24:00", "24:00"),
        ("-1:00", "-1:00"),
        ("1010", "1010"),
    ],
)
def test_times_of_day(text: str, read_as: str) -> None:
    rows, _ = read(file_of(line(time=text, date="02.03.2026")))
    assert rows[0][2] == read_as


@pytest.mark.parametrize("text", ["03/02/2026", "02-03-2026", "02.03.26", "31.02.2026"])
def test_a_date_that_may_be_two_days_or_none_is_refused(text: str) -> None:
    outcome = run_import(file_of(line(date=text)), None)
    assert [each.reason.split(":")[0].split()[0] for each in outcome.refused] == ["date"]


def test_empty_columns_behind_the_last_one_are_passed_over() -> None:
    data = file_of(line() + ",,", line() + ",,x", header=",".join(COLUMNS) + ",,")
    outcome = run_import(data, None)
    assert outcome.stored == 1
    assert [each.reason for each in outcome.refused] == ["too many columns: 20, wanted 18"]


def old_form(data: bytes) -> bytes:
    """An export as earlier versions wrote it."""
    return data.replace(b",UTC+", b",+").replace(b",UTC-", b",-")


@pytest.mark.parametrize(
    "changed",
    [
        {"utc_offset": {"+01:00": "UTC+01:00", "+02:00": "UTC+02:00"}},
        {"utc_offset": {"+01:00": "+00:00", "+02:00": ""}},
        {"utc_offset": {"+01:00": "01:00:00", "+02:00": "02:00:00"}},
        {"time": {"09:30": "09:30:41"}},
        {"time": {"09:30": "9:30:00 AM"}},
        {"examiner": {"A-B": "A\u2013B"}},
        {"comment": {"für später, ja;\nzwei Zeilen": "für später, ja;\r\nzwei Zeilen"}},
        {"date": {"2026-03-02": "02.03.2026", "2025-07-02": "02.07.2025"}},
    ],
)
def test_what_a_spreadsheet_changes_makes_no_second_session(
    tmp_path: Path, vienna: None, changed: dict[str, dict[str, str]]
) -> None:
    shelf = Shelf(tmp_path / "shelf")
    assert run_import(saved(), shelf).stored == 2
    for data in (saved(), saved(**changed), saved(";", "cp1252", **changed)):
        outcome = run_import(data, shelf)
        assert (outcome.already, outcome.stored, len(outcome.refused)) == (2, 0, 0)
    assert verify(shelf.folder) == ()


def test_sessions_of_one_minute_on_record_are_told_apart_by_the_second(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "shelf")
    data = file_of(line(time="09:30:05", r1="-60"), line(time="09:30:40", r1="-50"))
    assert run_import(data, shelf).sessions == 2
    assert run_import(data, shelf).already == 2
    other = run_import(file_of(line(time="09:30:05", r1="-50")), shelf)
    assert "r1 -60 there, -50 here" in other.refused[0].reason


def test_a_row_for_a_stored_session_joins_it_whatever_its_seconds(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "shelf")
    run_import(file_of(line(time="09:30:05")), shelf)
    outcome = run_import(file_of(line(side="right", utc_offset="")), shelf)
    assert (outcome.sessions, outcome.amended) == (0, 1)


def test_a_withdrawn_session_does_not_come_back_with_other_seconds(run: Run) -> None:
    Path("a.csv").write_bytes(saved())
    run("import", "a.csv")
    argv = ("P-01", "--session", "2026-03-02", "--by", "JT", "--reason", "wrong patient")
    assert run("withdraw", *argv).code == 0
    Path("b.csv").write_bytes(saved(time={"09:30": "09:30:09"}))
    ran = run("import", "b.csv")
    assert "this session was withdrawn" in ran.err
    assert "1  already there" in ran.out


def test_both_forms_of_an_export_add_nothing(run: Run) -> None:
    Path("a.csv").write_bytes(saved())
    run("import", "a.csv")
    run("export", "-o", "new.csv")
    new = Path("new.csv").read_bytes()
    rows = list(csv.DictReader(io.StringIO(new.decode(), newline="")))
    assert [row["utc_offset"] for row in rows] == ["UTC+02:00", "UTC+01:00"]
    Path("old.csv").write_bytes(old_form(new))
    for name in ("new.csv", "old.csv"):
        counts = json.loads(run("import", name, "--json").out)
        assert (counts["already_there"], counts["rows"], counts["assumed"]) == (2, 2, [])


def test_import_says_what_it_assumed(run: Run) -> None:
    data = saved(";", "cp1252", utc_offset={"+01:00": "01:00:00", "+02:00": "02:00:00"})
    Path("a.csv").write_bytes(data)
    ran = run("import", "a.csv", "--zone", "Europe/Vienna")
    assert ran.code == 0
    lines = ran.err.splitlines()
    assert "limbscribe: read as a table parted by a semicolon, in windows-1252" in lines
    assert sum("date and time zone Europe/Vienna in 2 rows" in each for each in lines) == 1
    assert "there is no time zone 'Mars'" in run("import", "a.csv", "--zone", "Mars").err
