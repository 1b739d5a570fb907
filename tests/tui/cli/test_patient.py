"""``limbscribe patient``: details shown and put right."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from limbscribe.core.chart.details import DetailsChange
from limbscribe.core.chart.patient import DIAGNOSIS_GROUPS, Patient
from limbscribe.core.shelf import Shelf

from tests.support.run import Run
from tests.support.shelves import AT, session


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    found = Shelf(tmp_path / "shelf")
    found.create(Patient("P-01", 1961, "male"))
    return found


def patient(shelf: Shelf) -> Patient:
    return shelf.load(shelf.find("P-01") or "").patient


ALL = ("--born", "1961-04", "--sex", "female", "--diagnosis", "stroke", "--affected", "left")
ALL += ("--height", "170")


def test_details_are_shown(run: Run, shelf: Shelf) -> None:
    ran = run("patient", "p-01")
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "P-01"
    assert lines[1].split() == ["born", "1961", "(about", lines[1].split()[3], "years)"]
    assert lines[2].split() == ["sex", "male"]
    assert lines[5].split() == ["height", "not", "stated"]
    assert patient(shelf) == Patient("P-01", 1961, "male")


def test_details_are_changed_and_the_former_ones_stay_in_the_history(
    run: Run, shelf: Shelf
) -> None:
    ran = run("patient", "P-01", *ALL, "--by", "jt", "--reason", "typed wrongly")
    assert ran.code == 0
    assert "changed: sex: male -> female" in ran.err
    assert "by JT, reason: typed wrongly" in ran.out
    assert patient(shelf) == Patient("P-01", 1961, "female", "stroke", "left", 170, birth_month=4)
    (change,) = shelf.load(shelf.find("P-01") or "").details
    assert (change.author, change.reason) == ("JT", "typed wrongly")
    said = run("history", "P-01").out
    assert "born: 1961 -> Apr 1961" in said
    assert "reason: typed wrongly" in said
    then = run("history", "P-01", "--at", "1")
    assert "sex: male" in then.out
    assert json.loads(run("history", "P-01", "--at", "1", "--json").out)["details"]["sex"] == "male"
    assert run("verify").code == 0


def test_json(run: Run, shelf: Shelf) -> None:
    run("patient", "P-01", *ALL, "--by", "JT")
    doc = json.loads(run("patient", "P-01", "--json").out)
    assert (doc["born"], doc["birth_year"], doc["height_cm"]) == ("1961-04", 1961, 170)
    assert [change["author"] for change in doc["changes"]] == ["JT"]
    exported = json.loads(run("export", "P-01", "--format", "json").out)["patients"][0]
    assert all(exported[name] == doc[name] for name in ("born", "sex", "diagnosis", "affected"))


def test_an_empty_value_takes_a_detail_away(run: Run, shelf: Shelf) -> None:
    assert run("patient", "P-01", "--born", "", "--sex", "", "--by", "JT").code == 0
    assert patient(shelf) == Patient("P-01")


def test_nothing_is_written_where_nothing_differs(run: Run, shelf: Shelf) -> None:
    ran = run("patient", "P-01", "--sex", "male", "--by", "JT")
    assert ran.code == 0
    assert "nothing was changed" in ran.err
    assert shelf.load(shelf.find("P-01") or "").details == ()


@pytest.mark.parametrize(
    ("argv", "part"),
    [
        (("--sex", "female"), "--by: the initials are missing"),
        (("--sex", "female", "--by", "Jo Doe"), "--by: these are no initials"),
        (("--by", "JT"), "go with what is to be changed"),
        (("--reason", "x"), "go with what is to be changed"),
        (("--born", "1961-13", "--by", "JT"), "--born: '1961-13'"),
        (("--height", "1.70", "--by", "JT"), "--height: '1.70'"),
        (("--diagnosis", "palsy", "--by", "JT"), "--diagnosis: 'palsy'"),
        (("--sex", "female", "--by", "JT", "--reason", "a\u202eb"), "--reason: plain text"),
    ],
)
def test_what_is_wrong_changes_nothing(
    run: Run, shelf: Shelf, argv: tuple[str, ...], part: str
) -> None:
    ran = run("patient", "P-01", *argv)
    assert (ran.code, ran.out) == (2, "")
    assert part in ran.err
    assert patient(shelf) == Patient("P-01", 1961, "male")


def test_a_code_without_a_chart_and_a_chart_in_use(run: Run, shelf: Shelf) -> None:
    ran = run("patient", "P-99", "--sex", "male", "--by", "JT")
    assert (ran.code, "P-99 has no chart" in ran.err) == (1, True)
    opened = shelf.start(shelf.find("P-01") or "", session(), "CD")
    ran = run("patient", "P-01", "--sex", "female", "--by", "JT")
    opened.leave()
    assert (ran.code, ran.out) == (1, "")
    assert patient(shelf).sex == "male"


def test_hostile_text_in_a_change_cannot_steer_the_terminal(run: Run, shelf: Shelf) -> None:
    bad = DetailsChange("d1", "J\x1b[2J", "\x1b]0;x\x07\u202e", AT, {"diagnosis": "\x1b[2J"})
    shelf.change_details(shelf.find("P-01") or "", bad)
    for argv in (("patient", "P-01"), ("history", "P-01"), ("history", "P-01", "--at", "2")):
        ran = run(*argv)
        assert ran.out
        assert not set("\x1b\x07\u202e") & set(ran.out + ran.err)


def test_the_help_names_every_group(run: Run) -> None:
    said = " ".join(run("patient", "--help").out.split())
    assert all(group in said for group in DIAGNOSIS_GROUPS)


def test_an_import_takes_details_and_says_so(run: Run, shelf: Shelf, tmp_path: Path) -> None:
    from tests.support.csv_rows import file_of, line

    header = "patient,date,time,utc_offset,examiner,recorder,muscle,side,posture,scale,"
    header += "fast_velocity,r1,r2,quality,clonus_s,pain,not_tested,comment,height_cm"
    (tmp_path / "r.csv").write_bytes(file_of(f"{line()},170", header=header))
    ran = run("import", "r.csv", "--json")
    assert json.loads(ran.out)["details_filled_in"] == 1
    assert patient(shelf).height_cm == 170
