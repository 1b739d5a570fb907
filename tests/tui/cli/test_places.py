"""No shelf, one that cannot be looked at, or a chart that cannot be read: nothing is made up."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf import Shelf

from tests.support.csv_rows import file_of, line
from tests.support.only_read import only_read
from tests.support.run import Run
from tests.support.shelves import content

READING = (
    *(("verify",), ("worklist",), ("export",), ("caseload",), ("agreement",), ("events",)),
    *(("backup", "a.tar"), ("report", "DEMO-04"), ("erase", "DEMO-04", "--yes-erase", "DEMO-04")),
    *(("encryption", "on"), ("shelf", "copy", "shelf", "new"), ("verify", "--set-aside")),
)


@pytest.mark.parametrize("words", READING)
def test_an_empty_folder_is_no_shelf_to_those_who_read(run: Run, words: tuple[str, ...]) -> None:
    Path("shelf").mkdir(0o755)  # the place where a disk is to be mounted
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert "there is no shelf at " in err
    assert "the folder has no charts in it: nothing was changed" in err
    assert "chmod" not in err
    assert [*Path("shelf").iterdir()] == []
    assert not Path("a.tar").exists()


@pytest.mark.parametrize("words", [*READING, ("import", "a.csv", "--dry-run")])
def test_a_closed_folder_is_named(
    run: Run, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("a.csv").write_bytes(file_of(line()))
    closed = Path("closed").absolute()
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(closed / "shelf"))
    closed.mkdir(0)
    at = ("shelf", "copy", str(closed / "shelf"), "new") if words[0] == "shelf" else words
    with only_read(closed):
        code, out, err = run(*at)
    assert (code, out) == (2, "")
    assert f"this account may not enter {closed}: nothing was changed" in err


def test_what_looks_at_everything_goes_on_where_a_folder_is_closed(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = Path("closed").absolute()
    monkeypatch.setenv("LIMBSCRIBE_SHELF", str(closed / "shelf"))
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(closed / "config.toml"))
    closed.mkdir(0)
    with only_read(closed):
        config, doctor = run("config"), run("doctor")
        made = run("shelf", "copy", "nothing", str(closed / "shelf"))
    assert f"config.toml (this account may not enter {closed})" in config.out
    assert f"folder of the shelf: {closed / 'shelf'}: Permission denied" in doctor.out
    assert [config.code, doctor.code, made.code] == [1, 1, 2]


@pytest.mark.parametrize("left", [b"", b"\0\0\0\0"])
def test_a_patient_whose_chart_cannot_be_read_is_not_taken_for_a_new_one(
    demo_copy: Path, run: Run, left: bytes
) -> None:
    assert run("backup", "a.tar").code == 0
    shelf = Shelf(demo_copy)
    chart = demo_copy / "charts" / f"{shelf.find('DEMO-04')}.json"
    chart.write_bytes(left)
    before = content(demo_copy)
    ran = run("worklist")
    assert (ran.code, "1 chart cannot be read: see limbscribe verify" in ran.err) == (1, True)
    assert "1 unreadable" in ran.out
    ran = run("worklist", "--json")
    assert ran.code == 1
    assert json.loads(ran.out)["tasks"][0]["kind"] == "unread"
    for words in (("report",), ("history",), ("patient",), ("sheet",), ("trend",), ("compare",)):
        ran = run(*words, "DEMO-04")
        assert (ran.code, ran.out) == (1, "")
        assert "the code DEMO-04, but 1 chart cannot be read and may be it" in ran.err
    assert run("report", "DEMO-01").code == 0
    Path("a.csv").write_bytes(file_of(line(patient="DEMO-04"), line(patient="NEW-1")))
    ran = run("import", "a.csv")
    assert (ran.code, "new charts" in ran.out, "one was made" in ran.err) == (1, True, False)
    assert ran.err.count("1 chart cannot be read and may be it: nothing was changed") == 2
    with pytest.raises(ShelfError, match="put it back with limbscribe restore"):
        shelf.create(Patient("NEW-1"))
    assert content(demo_copy) == before
    assert run("restore", "a.tar").code == 0
    assert run("import", "a.csv").code == 0
    assert sorted(entry.code for entry in shelf.charts())[-2:] == ["DEMO-04", "NEW-1"]


def test_a_write_that_is_refused_names_the_file_and_what_was_not_touched(
    demo_copy: Path, run: Run
) -> None:
    with only_read(demo_copy):
        goal = ("--goal", "walks", "--date", "2026-04-01", "--by", "KM")
        code, _, err = run("events", "DEMO-01", *goal)
        assert (code, "because this account may not write there (" in err) == (1, True), err
        code, _, err = run("erase", "DEMO-01", "--yes-erase", "DEMO-01")
        assert (code, "DEMO-01 was not erased because this account" in err) == (1, True), err
        assert "nothing was changed" in err
        assert "in part" not in err
    assert os.access(demo_copy, os.W_OK)
