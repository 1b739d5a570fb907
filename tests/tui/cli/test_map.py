"""``limbscribe map`` as typed: shows the first rows, asks, and writes a mapping that works."""

from __future__ import annotations

import io
import json
import tomllib
from pathlib import Path

import pytest
from limbscribe.core.exchange.foreign.dates import DATE_FORMS, fitting

from tests.support.run import Run

TABLE = (
    "Code;Datum;Muskel;Seite;X;Y;Ende;Notiz\r\n"
    "K-01;03.04.2025;Sol;li;2;95\xb0;85\xb0;gut\r\n"
    "K-01;03.04.2025;Sol;re;0;-;80\xb0;\r\n"
    "K-01;03.04.2025;Hams;li;II;60;35;\x1b[2J\r\n"
)
COLUMNS = ["patient", "date", "muscle", "side"]
AFTER = ["r2", "comment", "V3", "DD.MM.YYYY", "Europe/Vienna", "y", "b"]
WORDS = ["left", "right", "2", "sol", "hams", "plantigrade-90", "deficit"]


@pytest.fixture
def talk(run: Run, monkeypatch: pytest.MonkeyPatch):
    """Answers the questions line by line and gives what was said."""

    def go(*answers: str, table: str = TABLE, argv: tuple[str, ...] = ()):
        Path("t.csv").write_bytes(table.encode("windows-1252"))
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in answers)))
        return run("map", "t.csv", *argv)

    return go


def test_a_workbook_is_called_one(run: Run) -> None:
    Path("r.xlsx").write_bytes(b"PK\x03\x04 and so on")
    ran = run("map", "r.xlsx")
    assert (ran.code, ran.out) == (1, "")
    assert "r.xlsx is a workbook: save its sheet as CSV; nothing was written" in ran.err


def test_the_answers_make_a_mapping_that_imports(talk, run: Run) -> None:
    ran = talk(*COLUMNS, "quality", "r1", *AFTER, *WORDS)
    assert ran.code == 0, ran.out
    assert "3 rows, 8 columns, parted by a semicolon, in windows-1252" in ran.out
    assert "K-01 | 03.04.2025 | Sol | li | 2 | 95\xb0 | 85\xb0 | gut" in ran.out
    assert "\x1b" not in ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["letters"] == {"X": "quality", "Y": "r1"}
    assert found["numbers"] == {"unit": "\xb0", "blank": ["-"]}
    assert found["scales"] == {"soleus": "plantigrade-90", "hamstrings": "deficit"}
    Path("t.csv").write_bytes(TABLE.replace("\x1b[2J", "").encode("windows-1252"))
    counts = json.loads(run("import", "t.csv", "--mapping", "t.map.toml", "--json").out)
    assert (counts["stored"], counts["refused"]) == (3, 0)


def test_a_letter_is_asked_about_until_it_is_answered(talk) -> None:
    ran = talk(*COLUMNS, "", "?", "x", "quality", "", "r1", *AFTER, *WORDS)
    assert ran.code == 0
    assert "'X' means different things to different authors:" in ran.out
    assert "Gracies et al. 2010: X = angle" in ran.out
    assert ran.out.count("Column 5, 'X'") == 4, "asked again after each answer that is none"
    assert "[quality]" not in ran.out, "nothing is offered"


def test_a_letter_can_be_left_out(talk) -> None:
    ran = talk(
        *COLUMNS, "quality", "left out", "r2", "comment", "V3", "DD.MM.YYYY", "", "y", *WORDS
    )
    assert ran.code == 0, ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["letters"]["Y"] == "left out"
    assert "r1" not in found["columns"]


def test_the_other_tradition_makes_the_other_mapping(talk) -> None:
    table = TABLE.replace("II", "10").replace(";2;95\xb0;", ";10;2;").replace(";0;-;", ";;0;")
    table = table.replace(";10;60;", ";10;2;")
    ran = talk(*COLUMNS, "gap", "quality", "r2", "", "V3", "DD.MM.YYYY", "", "y", "left", "right",
               "soleus", "hams", "plantigrade-90", "deficit", table=table)  # fmt: skip
    assert ran.code == 0, ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["letters"] == {"X": "gap", "Y": "quality"}


def test_combined_cells_are_noticed_and_their_order_asked(talk) -> None:
    table = "Code;Datum;Muskel;Seite;Befund\r\nK-01;03.04.2025;soleus;left;3/-25\r\n"
    answers = [*COLUMNS, "r1", "combined", "quality", "V3", "MM/DD/YYYY", "DD.MM.YYYY", "", ""]
    ran = talk(*answers, "neutral-zero", table=table)
    assert "its cells hold two values with / between them: combined" in ran.out
    assert "In '3/-25', which comes first" in ran.out
    assert "1 of 1 are not of that form, e.g. '03.04.2025'" in ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["combined"] == {"order": "quality/r1", "separator": "/"}


def test_leaving_before_the_end_writes_nothing(talk) -> None:
    ran = talk(*COLUMNS, "quality")
    assert ran.code == 1
    assert "nothing was written" in ran.err
    assert not Path("t.map.toml").exists()


def test_a_mapping_that_is_there_is_not_overwritten(talk) -> None:
    Path("t.map.toml").write_text("mine")
    assert talk(*COLUMNS).code == 2
    assert Path("t.map.toml").read_text() == "mine"


@pytest.mark.parametrize("table", ["", 'a;b\r\n"x;y\r\n'])
def test_a_table_that_cannot_be_read(talk, table: str) -> None:
    ran = talk(table=table)
    assert ran.code == 1
    assert "t.csv line" in ran.err


def test_a_wide_table_is_asked_about_in_the_same_way(talk, run: Run) -> None:
    table = (
        "Code;Datum;Sol li R1;Sol li R2;Sol li Grad;Sol re R1;Notiz\r\n"
        "K-01;03.04.2025;95\xb0;85;II;-;gut\r\n"
        "K-01;04.04.2025;96\xb0;85;2;96\xb0;\r\n"
    )
    ran = talk(
        *("patient", "date", "soleus links r1", "soleus left r1", "soleus left r1"),
        *("soleus left r2", "soleus left quality", "soleus right quality", "soleus right V3 r1"),
        *("", "V3", "DD.MM.YYYY", "", "y", "b", "2", "plantigrade-90"),
        table=table,
    )
    assert ran.code == 0, ran.out
    assert "'links' is not a side: one of left, right" in ran.out
    assert "soleus left r1 is another column already" in ran.out
    assert "'r1' is r1 in a column before: it cannot be both" in ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["wide"] == {
        "Sol li R1": "soleus left r1",
        "Sol li R2": "soleus left r2",
        "Sol li Grad": "soleus left quality",
        "Sol re R1": "soleus right V3 r1",
    }
    assert found["letters"] == {"r1": "r1", "r2": "r2"}
    assert found["fixed"] == {"fast_velocity": "V3"}
    assert found["grades"] == {"2": ["II"]}
    assert found["scales"] == {"soleus": "plantigrade-90"}
    counts = json.loads(run("import", "t.csv", "--mapping", "t.map.toml", "--json").out)
    assert (counts["rows"], counts["stored"], counts["refused"]) == (3, 3, 0)


def test_any_column_can_be_left_out_and_fitting_forms_are_offered(talk, run: Run) -> None:
    table = (
        "patient;date;time;muscle;side;r2;comment\r\n"
        "K-01;13/04/2025;9:30;soleus;left;5;a\r\nK-01;02/04/2025;10:30;soleus;left;7;b\r\n"
    )
    ran = talk("", "", "", "", "", "r2", "left out", "", "", "", "neutral-zero", table=table)
    assert ran.code == 0, ran.out
    assert "[DD/MM/YYYY] " in ran.out
    assert "[h:mm] " in ran.out
    found = tomllib.loads(Path("t.map.toml").read_text("utf-8"))
    assert found["date"] == {"form": "DD/MM/YYYY", "time": "h:mm"}
    assert "comment" not in found["columns"]
    counts = json.loads(run("import", "t.csv", "--mapping", "t.map.toml", "--json").out)
    assert (counts["stored"], counts["refused"]) == (2, 0)


@pytest.mark.parametrize(
    ("cells", "form"),
    [
        (("03.04.2025", "13.04.2025"), "DD.MM.YYYY"),
        (("3.4.2025", "13.04.2025"), "D.M.YYYY"),
        (("2025-04-03",), "YYYY-MM-DD"),
        (("03/04/2025", "04/13/2025"), "MM/DD/YYYY"),
        (("03/04/2025",), ""),
        (("03.04.2025", "2025-04-03"), ""),
        ((), ""),
    ],
)
def test_a_form_is_offered_where_only_one_fits(cells: tuple[str, ...], form: str) -> None:
    """03/04/2025 alone may be two days."""
    assert fitting(cells, ("year", "month", "day"), DATE_FORMS) == form


def test_an_import_that_refuses_a_header_says_what_map_would_ask(talk, run: Run) -> None:
    Path("t.csv").write_bytes(TABLE.encode("windows-1252"))
    ran = run("import", "t.csv")
    assert ran.code == 1
    assert "nothing was imported" in ran.err
    assert "limbscribe map t.csv asks what each of its 8 columns is (always of 'X', 'Y'" in ran.err
