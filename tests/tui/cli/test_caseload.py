"""``limbscribe caseload``: its options, its forms, and what it says where it cannot."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import openpyxl
import pytest
from limbscribe.demo.caseload import build_caseload
from limbscribe.tui.__main__ import main

from tests.support.pages import Page

ON = ("--on", "2026-11-25")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("few") / "shelf"
    build_caseload(found, 12)
    return found


def run(capsys: pytest.CaptureFixture[str], folder: Path, *args: str) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main(["caseload", "--shelf", str(folder), *ON, *args])
    said = capsys.readouterr()
    return code, said.out, said.err


def document(capsys: pytest.CaptureFixture[str], folder: Path, *args: str) -> dict:
    code, out, _ = run(capsys, folder, "--json", *args)
    assert code == 0
    return json.loads(out)


def test_the_document_has_the_names_others_rely_on(folder, capsys) -> None:
    doc = document(capsys, folder)
    assert {"patients", "sessions", "cycles", "stations"} <= doc.keys()
    assert doc["patients"] == 12
    station = doc["stations"][0]
    assert {"muscle", "side", "windows"} <= station.keys()
    names = {"name", "from_day", "to_day", "n", "missed", "catch_gone", "range_lost", "larger"}
    names |= {"within", "by_chance", "not_tested"}
    for angle in ("r1", "r2", "gap"):
        names |= {f"{angle}_{part}" for part in ("n", "mean_change", "low", "high")}
        names.add(f"{angle}_median_change")
    assert all(names <= window.keys() for window in station["windows"])
    assert [w["from_day"] for w in station["windows"]] == [-42, 14, 49, 84]


def test_choices_narrow_it(folder, capsys) -> None:
    everything = document(capsys, folder)
    stroke = document(capsys, folder, "--diagnosis", "stroke", "--age", "18-")
    assert 0 < stroke["patients"] < everything["patients"]
    one = document(capsys, folder, "--muscle", "soleus", "--sides-together")
    assert [s["muscle"] for s in one["stations"]] == ["soleus"]
    mean = document(capsys, folder, "--mean-of", "14 to 48 days", "49 to 83 days")
    assert mean["stations"][0]["mean_of"]["windows"] == ["14 to 48 days", "49 to 83 days"]
    none = document(capsys, folder, "--since", "2027-01-01")
    assert (none["patients"], none["stations"]) == (0, [])


def test_text_fits_80_columns_and_names_who_is_missing(folder, capsys) -> None:
    code, out, err = run(capsys, folder)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("Caseload on 25 Nov 2026: 12 patients,")
    assert "missed" in out
    assert "R1 and gap change only where there was a catch both times" in " ".join(out.split())
    assert "not a verdict" in out
    code, out, _ = run(capsys, folder, "--since", "2027-01-01", "--diagnosis", "stroke")
    assert "Only after stroke, treated since 01 Jan 2027." in out


def test_csv_and_workbook_hold_the_same_and_are_described(folder, capsys, tmp_path) -> None:
    for wide in ((), ("--wide",)):
        path = tmp_path / f"t{len(wide)}" / "table.csv"
        path.parent.mkdir()
        more = ("--format", "csv", "--datapackage", "--output", str(path), *wide)
        assert run(capsys, folder, *more)[0] == 0
        rows = list(csv.reader(path.open(encoding="utf-8", newline="")))
        package = json.loads((path.parent / "datapackage.json").read_text("utf-8"))
        resource, muscles = package["resources"]
        fields = resource["schema"]["fields"]
        assert [field["name"] for field in fields] == rows[0]
        assert all(field["description"] for field in fields)
        key = [rows[0].index(name) for name in resource["schema"]["primaryKey"]]
        keys = [tuple(row[place] for place in key) for row in rows[1:]]
        assert len(set(keys)) == len(keys) > 0
        known = {row["id"] for row in muscles["data"]}
        assert {row[rows[0].index("muscle")] for row in rows[1:]} <= known
        book = path.with_suffix(".xlsx")
        assert run(capsys, folder, "--format", "xlsx", "--output", str(book), *wide)[0] == 0
        sheet = openpyxl.load_workbook(book).worksheets[0]
        for csv_row, row in zip(
            rows[1:], sheet.iter_rows(min_row=2, values_only=True), strict=True
        ):
            for field, text, value in zip(fields, csv_row, row, strict=True):
                if field["type"] in ("number", "integer") and text:
                    assert value == pytest.approx(float(text)), field["name"]
                elif not text:
                    assert value is None


def test_the_wide_table_has_the_changes_of_the_document(folder, capsys) -> None:
    _, out, _ = run(capsys, folder, "--format", "csv", "--wide")
    rows = list(csv.DictReader(io.StringIO(out)))
    doc = document(capsys, folder)
    for station in doc["stations"]:
        own = [
            int(row["14_to_48_days_r1_change"])
            for row in rows
            if (row["muscle"], row["side"]) == (station["muscle"], station["side"])
            and row["14_to_48_days_r1_change"]
        ]
        window = station["windows"][1]
        assert len(own) == window["r1_n"]
        if own:
            assert sum(own) / len(own) == pytest.approx(window["r1_mean_change"], abs=1e-3)
    with_percent = [row for row in rows if row["14_to_48_days_gap_percent"]]
    assert with_percent
    for row in with_percent:
        percent = 100 * int(row["14_to_48_days_gap_change"]) / int(row["before_gap"])
        assert float(row["14_to_48_days_gap_percent"]) == pytest.approx(percent, abs=0.051)


def test_html_is_one_page_without_script_and_with_a_picture_each(folder, capsys) -> None:
    code, out, _ = run(capsys, folder, "--format", "html")
    assert code == 0
    page = Page(out)
    assert page.unbalanced == []
    assert "script" not in page.tags
    assert not [value for _, name, value in page.attributes if name in ("src", "href")]
    stations = document(capsys, folder)["stations"]
    assert page.tags.count("section") == len(stations)
    drawn = [s for s in stations if any(w["r1_n"] or w["r2_n"] for w in s["windows"][1:])]
    assert page.tags.count("svg") == len(drawn) > 0


@pytest.mark.parametrize(
    ("args", "what"),
    [
        (("--age", "old"), "--age 'old'"),
        (("--age", "-"), "--age '-'"),
        (("--age", "65-18"), "--age '65-18'"),
        (("--since", "2026-03-01", "--until", "2026-02-28"), "2026-02-28 is before 2026-03-01"),
        (("--examiner", "zz"), "--examiner: 'ZZ' has no session (one of BN, DU, GO)"),
        (("--muscle", "none"), "--muscle 'none' is not known"),
        (("--since", "1/2/2026"), "--since '1/2/2026'"),
        (("--mean-of", "a", "b"), "no window 'a'"),
        (("--wide",), "--wide goes with"),
        (("--datapackage",), "--datapackage goes with"),
        (("--format", "csv", "--datapackage"), "--datapackage goes with"),
        (("--output", ""), "names no file"),
    ],
)
def test_what_cannot_be_asked_is_said(folder, capsys, args, what) -> None:
    code, out, err = run(capsys, folder, *args)
    assert (code, out) == (2, "")
    assert what in err


def test_a_chart_that_cannot_be_read_is_counted_and_the_others_are_told(
    folder, capsys, tmp_path
) -> None:
    import shutil

    copy = Path(shutil.copytree(folder, tmp_path / "copy"))
    path = next((copy / "charts").glob("*.json"))
    path.unlink()
    path.mkdir()
    code, out, err = run(capsys, copy, "--json")
    assert code == 1
    assert json.loads(out)["unread"] == 1
    assert json.loads(out)["patients"] == 11
    assert "1 chart could not be read" in err


def test_nothing_is_written_over_unasked(folder, capsys, tmp_path) -> None:
    path = tmp_path / "c.html"
    path.write_text("mine")
    assert run(capsys, folder, "--format", "html", "--output", str(path))[0] == 2
    assert path.read_text() == "mine"
    assert run(capsys, folder, "--format", "html", "--output", str(path), "--force")[0] == 0
    assert "<main>" in path.read_text()
