"""Workbooks: what is written comes back typed, formulas are never evaluated, bombs stay small."""

from __future__ import annotations

import io
import json
import random
import tracemalloc
import zipfile
from datetime import datetime, time, timedelta
from io import BytesIO
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange import xlsx_read
from limbscribe.core.exchange.csv_rows import COLUMNS, CsvRow
from limbscribe.core.exchange.import_row import Refused
from limbscribe.core.exchange.own_table import open_own
from limbscribe.core.exchange.xlsx_write import EXPLAINED
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import as_typed, cells, run_import
from tests.support.exported import fill
from tests.support.random_sessions import sessions
from tests.support.run import Run


def book_of(*rows: list[object], header: list[str] | None = None) -> openpyxl.Workbook:
    """A workbook as somebody's spreadsheet has it: every cell of the type it looks like."""
    book = openpyxl.Workbook()
    for row in ([*(header or COLUMNS)], *rows):
        book.active.append(row)
    return book


def typed(**changed: object) -> list[object]:
    """A row whose date, time and numbers are cells of those types."""
    row: list[object] = [
        int(c) if c.lstrip("-").isdigit() and c != "-" else c or None for c in cells()
    ]
    row[1], row[2] = datetime(2026, 3, 2), time(9, 30)
    for name, value in changed.items():
        row[COLUMNS.index(name)] = value
    return row


def saved(book: openpyxl.Workbook) -> bytes:
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def read(data: bytes) -> list[CsvRow | Refused | Problem]:
    return list(open_own(BytesIO(data), "x.xlsx").rows)


def the_problem(data: bytes) -> str:
    """What is wrong with a workbook that is refused as a whole."""
    [problem] = read(data)
    assert isinstance(problem, Problem)
    return str(problem)


def with_part(name: str, text: str | bytes, data: bytes = b"") -> bytes:
    """A workbook of ours in which one part is another."""
    out = BytesIO()
    with (
        zipfile.ZipFile(BytesIO(data or saved(book_of(typed())))) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, text)
    return out.getvalue()


MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = "xl/worksheets/sheet1.xml"


def sheet(inside: str) -> bytes:
    """A workbook whose sheet is this."""
    return with_part(SHEET, f'<worksheet xmlns="{MAIN}">{inside}</worksheet>')


# There and back -------------------------------------------------------------------------------


def test_typed_cells_are_read_as_our_csv_has_them() -> None:
    offset = timedelta(hours=-3, minutes=-30)
    data = saved(
        book_of(typed(), typed(r1=-60.0, time="9:30 AM"), typed(utc_offset=offset, quality=None))
    )
    first, second, third = (row.cells for row in read(data) if isinstance(row, CsvRow))
    assert first[1:4] == ("2026-03-02", "09:30:00", "+01:00")
    assert first[11:14] == ("-60", "-35", "2")
    assert second == first
    assert third[3] == "-03:30"
    assert third[13] == ""
    assert len(first) == len(COLUMNS)


def test_a_shelf_comes_back_from_its_workbook(run: Run, tmp_path: Path) -> None:
    charts = {f"G-{n}": list(sessions(random.Random(n), 8)) for n in range(4)}
    shelf = fill(tmp_path / "made")
    patients = [Patient(code) for code in charts]
    shelf.create_all(patients, "RC", "2026-04-08T10:00:00+02:00", charts)
    for form in ("csv", "xlsx"):
        run("export", "--shelf", str(shelf.folder), "--format", form, "-o", f"one.{form}")
    ran = run("import", "one.xlsx", "--shelf", "other")
    assert ran.code == 0, ran.err
    run("export", "--shelf", "other", "-o", "two.csv")
    one, two = (as_typed(Path(name).read_bytes()) for name in ("one.csv", "two.csv"))
    assert two == one
    for name in ("one.xlsx", "one.csv"):
        counts = json.loads(run("import", name, "--shelf", "other", "--json").out)
        assert (counts["stored"], counts["refused"]) == (0, 0)


def test_columns_are_typed_and_explained(run: Run, tmp_path: Path) -> None:
    """By pandas, an outside reader."""
    fill(tmp_path / "shelf")
    run("export", "--format", "xlsx", "-o", "a.xlsx")
    table = pd.read_excel("a.xlsx", sheet_name="readings")
    assert list(table.columns)[: len(COLUMNS)] == list(COLUMNS)
    first = table.iloc[0]
    assert first["date"] == pd.Timestamp("2026-03-02")
    assert first["time"] == time(9, 30)
    assert first["utc_offset"] == "UTC+01:00"
    assert (first["r1"], first["r2"]) == (62, 35)
    assert pd.api.types.is_numeric_dtype(table["r1"])
    about = pd.read_excel("a.xlsx", sheet_name=EXPLAINED)
    assert list(about["column"]) == list(table.columns)
    assert about.set_index("column").loc["r1", "unit"] == "deg"
    assert Path("a.xlsx").stat().st_mode & 0o777 == 0o600


def test_the_wide_table_is_typed_too(run: Run, tmp_path: Path) -> None:
    fill(tmp_path / "shelf")
    run("export", "--format", "xlsx", "--wide", "-o", "w.xlsx")
    run("export", "--wide", "-o", "w.csv")
    table, plain = pd.read_excel("w.xlsx"), pd.read_csv("w.csv")
    assert list(table.columns) == list(plain.columns)
    assert list(table["hamstrings_left_gap"].dropna()) == list(
        plain["hamstrings_left_gap"].dropna()
    )


@pytest.mark.parametrize(
    "text", ["=1+1", "+1 more", "-a", "@sum", "'=1", "=cmd|' /C calc'!A0", "_x0041_", "a\tb\nc"]
)
def test_text_stays_text(run: Run, tmp_path: Path, text: str) -> None:
    quoted = f'"{text}"'
    row = ",".join(cells(comment=quoted))
    data = (",".join(COLUMNS) + "\r\n" + row + "\r\n").encode()
    run_import(data, Shelf(tmp_path / "shelf"))
    run("export", "-o", "a.csv")
    run("export", "--format", "xlsx", "-o", "a.xlsx")
    cell = openpyxl.load_workbook("a.xlsx")["readings"].cell(2, COLUMNS.index("comment") + 1)
    assert (cell.data_type, cell.number_format) == ("s", "@")
    assert not str(cell.value).startswith(tuple("=+-@"))
    run("import", "a.xlsx", "--shelf", "other")
    run("export", "--shelf", "other", "-o", "b.csv")
    assert Path("b.csv").read_bytes() == Path("a.csv").read_bytes()


def test_the_sheet_of_readings_is_read_wherever_it_is() -> None:
    book = book_of(typed())
    book.active.title = "readings"
    book.create_sheet("first", 0).append(["something", "else"])
    assert [type(row) for row in read(saved(book))] == [CsvRow]
    book["readings"].title = "mine"
    assert "column 1 is 'something'" in the_problem(saved(book))


def test_a_formula_is_refused_with_its_column_and_never_evaluated(run: Run) -> None:
    book = book_of(typed(), typed(side="right", r2="=L2+25"), typed(examiner="=E2"))
    Path("a.xlsx").write_bytes(saved(book))
    ran = run("import", "a.xlsx")
    assert ran.code == 1
    assert "line 3 refused: r2 is a formula; copy the cell and paste it as a value" in ran.err
    assert "line 4 refused: examiner is a formula" in ran.err
    assert "1  stored" in ran.out
    assert "'=L2+25" in Path("a.xlsx.refused.csv").read_text()


def test_a_workbook_to_a_pipe_and_without_the_package(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(tmp_path / "shelf")
    run("export", "--format", "xlsx", "-o", "a.xlsx")
    monkeypatch.setattr("limbscribe.tui.cli.exporting.find_spec", lambda _: None)
    ran = run("export", "--format", "xlsx", "-o", "b.xlsx")
    assert (ran.code, Path("b.xlsx").exists()) == (2, False)
    assert "pip install '.[xlsx]'" in ran.err
    assert (
        "--datapackage goes with --format csv only"
        in run("export", "--format", "xlsx", "--datapackage", "-o", "b.xlsx").err
    )
    monkeypatch.setitem(__import__("sys").modules, "limbscribe.core.exchange.xlsx_read", None)
    assert "pip install '.[xlsx]'" in run("import", "a.xlsx").err


def test_no_temporary_file_is_made(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import tempfile

    fill(tmp_path / "shelf")

    def refuse(*_: object, **__: object) -> object:
        raise AssertionError("a temporary file")

    for name in ("NamedTemporaryFile", "TemporaryFile", "mkstemp"):
        monkeypatch.setattr(tempfile, name, refuse)
    monkeypatch.setattr("openpyxl.worksheet._writer.NamedTemporaryFile", refuse)
    assert run("export", "--format", "xlsx", "-o", "a.xlsx").code == 0


def test_too_many_rows_are_not_written(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(tmp_path / "shelf")
    monkeypatch.setattr("limbscribe.core.exchange.xlsx_write.MOST_ROWS", 3)
    ran = run("export", "--format", "xlsx", "-o", "a.xlsx")
    assert (ran.code, Path("a.xlsx").exists()) == (2, False)
    assert "at most 3 rows" in ran.err


# What a workbook may do to its reader ---------------------------------------------------------

BOMB = f'<!DOCTYPE x [<!ENTITY a "{"lol" * 10}"><!ENTITY b "{"&a;" * 10}">]>'


def rows_of(row: str, count: int) -> str:
    return f"<sheetData>{row * count}</sheetData>"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04 and nothing more", "no workbook that can be read"),
        (with_part("xl/x.xml", b"\0" * (65 << 20)), "larger than 64 MB"),
        (with_part(SHEET, BOMB + f'<worksheet xmlns="{MAIN}">&b;</worksheet>'), "document type"),
        (with_part("xl/styles.xml", BOMB + "<styleSheet/>"), "document type"),
        (sheet("<a>" * 100 + "</a>" * 100), "too deep"),
        (sheet("<mergeCells>" + '<mergeCell ref="A1:B2"/>' * 30_000 + "</mergeCells>"), "too many"),
        (sheet(rows_of("<row>" + "<c/>" * 3000 + "</row>", 1)), "too many"),
        (with_part("xl/styles.xml", "<a>" + "<xf/>" * 30_000 + "</a>"), "too many"),
        (
            with_part(
                "xl/sharedStrings.xml", f'<sst xmlns="{MAIN}"><si>{"<r/>" * 3000}</si></sst>'
            ),
            "too many",
        ),
        (sheet(rows_of('<row r="50002"><c r="A50002"><v>1</v></c></row>', 1)), "50,000 rows"),
        (sheet(rows_of('<row r="999999"><c><v>1</v></c></row>', 1)), "50,000 rows"),
        (sheet(rows_of('<row r="1"><c r="CZ1"><v>1</v></c></row>', 1)), "100 columns"),
        (sheet("<sheetData/>"), "empty"),
        (with_part("xl/workbook.xml", "<workbook"), "no workbook that can be read"),
        (
            with_part(
                "[Content_Types].xml",
                '<Types><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/'
                'vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>',
            ),
            "parts that are not read",
        ),
        (
            with_part(
                "xl/_rels/workbook.xml.rels",
                '<Relationships><Relationship Type="x/chartsheet" Target="a"/></Relationships>',
            ),
            "parts that are not read",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_workbook_that_means_harm_is_refused_and_takes_little_memory(
    data: bytes, words: str
) -> None:
    assert len(data) < 1 << 20
    tracemalloc.start()
    problem = the_problem(data)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert words in problem
    assert most < 24 << 20, most


@pytest.mark.deep
def test_too_many_rows_take_little_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """A tenth of what is read at most: 80 bytes kept of each element would be seen."""
    monkeypatch.setattr(xlsx_read, "MOST_ELEMENTS", xlsx_read.MOST_ELEMENTS // 10)
    many = xlsx_read.MOST_ELEMENTS + 1
    test_a_workbook_that_means_harm_is_refused_and_takes_little_memory(
        sheet(rows_of("<row/>", many)), "too many"
    )


def test_a_zip_that_is_no_workbook_says_so() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("content.xml", "<a/>")
    assert "this is no xlsx workbook" in the_problem(out.getvalue())


def test_a_sheet_of_more_rows_than_are_read_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_read, "MOST_ROWS", 2)
    found = read(saved(book_of(typed(), typed(), typed())))
    assert "more than 2 rows" in str(found[-1])
    assert len(read(saved(book_of(typed(), typed())))) == 2


@pytest.mark.parametrize("seed", range(60))
def test_a_damaged_workbook_is_read_or_refused_and_nothing_else(seed: int) -> None:
    """Bytes of a part changed behind the archive's own check sums."""
    chance = random.Random(seed)
    data = saved(book_of(typed(), typed(side="right", comment="=1")))
    with zipfile.ZipFile(BytesIO(data)) as archive:
        name = chance.choice(archive.namelist())
        part = bytearray(archive.read(name))
    for _ in range(chance.randint(1, 12)):
        part[chance.randrange(len(part))] = chance.choice(b'<>/"=& 019aZ\xff')
    found = read(with_part(name, bytes(part), data))
    assert all(isinstance(row, CsvRow | Refused | Problem) for row in found)


@pytest.mark.parametrize("seed", range(30))
def test_a_workbook_cut_short_is_refused(seed: int) -> None:
    data = saved(book_of(typed()))
    the_problem(data[: random.Random(seed).randrange(4, len(data) - 1)])
