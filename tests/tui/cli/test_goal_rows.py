"""Goals in the CSV of treatment dates: what goes in comes out, and nothing twice."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.goals import goal_event, goals_of, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.tui.__main__ import main

from tests.support.table_schema import faults

HEADER = (
    "patient,date,kind,muscle,side,note,amount,unit,dilution,guidance,product,weight,score,scored"
)
TOXIN = "INV-1,2026-03-02,botulinum-toxin,soleus,left,as told,50,U,in 1 ml,,Invented A,,,"
FILE = (
    TOXIN,
    "INV-1,2026-03-02,botulinum-toxin,gastrocnemius,left,,75,V,in 2 ml,,Invented B,,,",
    'INV-1,2026-03-02,goal,,,"heel on the floor, standing",,,,,,2.5,-1,2026-04-14',
    'INV-1,2026-03-02,goal,,,"heel on the floor, standing",,,,,,2.5,1,2026-06-01',
    "INV-1,2026-03-02,goal,,,shoe on without help,,,,,,,,",
    "INV-2,2026-03-03,cast-on,,left,,,,,,,,,",
    "INV-2,2026-03-03,goal,,,heel on the floor,,,,,,,0,2026-03-31",
)


@pytest.fixture
def shelf(tmp_path, monkeypatch) -> Shelf:
    monkeypatch.chdir(tmp_path)
    found = Shelf(tmp_path / "shelf")
    for code in ("INV-1", "INV-2"):
        found.create(Patient(code))
    return found


def imported(capsys, *rows: str, options: tuple[str, ...] = ()) -> tuple[int, dict, str]:
    Path("events.csv").write_text("\n".join((HEADER, *rows, "")), "utf-8")
    code = main(["events", "--json", "--import", "events.csv", *options])
    ran = capsys.readouterr()
    return code, json.loads(ran.out), ran.err


def exported(capsys) -> list[str]:
    assert main(["events", "--export"]) == 0
    return capsys.readouterr().out.replace("\r\n", "\n").splitlines()


def chart(shelf: Shelf, code: str = "INV-1"):
    return shelf.load(shelf.find(code) or "")


def test_treatments_and_goals_go_in_once_and_come_out_the_same(shelf, capsys) -> None:
    code, first, _ = imported(capsys, *FILE, options=("--dry-run",))
    assert (code, first["stored"], chart(shelf).events) == (0, 7, ())
    code, first, _ = imported(capsys, *FILE)
    assert (code, first["rows"], first["stored"], first["refused"]) == (0, 7, 7, 0)
    code, again, _ = imported(capsys, *FILE)
    assert (code, again["stored"], again["already_there"]) == (0, 0, 7)
    assert exported(capsys) == [HEADER, *FILE]
    found = goals_of(chart(shelf).events)
    assert [(g.text, g.weight, g.score, g.scored) for g in found] == [
        ("heel on the floor, standing", 2.5, 1, "2026-06-01"),
        ("shoe on without help", None, None, ""),
    ]
    assert len([e for e in chart(shelf).events if e.kind == "goal-score"]) == 2
    other = Shelf(Path("other"))
    for patient in ("INV-1", "INV-2"):
        other.create(Patient(patient))
    argv = ("--shelf", "other")
    assert main(["events", "--import", "events.csv", *argv]) == 0
    capsys.readouterr()
    assert main(["events", "--export", *argv]) == 0
    out = capsys.readouterr().out.replace("\r\n", "\n")
    assert out == Path("events.csv").read_text("utf-8")


def test_a_score_typed_into_an_exported_row_is_added_to_the_goal_that_is_there(
    shelf, capsys
) -> None:
    imported(capsys, *FILE)
    scored = FILE[4].removesuffix(",,") + ",+2,2026-06-01"  # the sign may stay, or be lost
    code, found, _ = imported(capsys, scored)
    assert (code, found["stored"]) == (0, 1)
    assert [g.score for g in goals_of(chart(shelf).events)] == [1, 2]
    assert exported(capsys)[5] == scored.replace("+2", "2")
    assert imported(capsys, scored.replace("+2", "2"))[1]["already_there"] == 1


def test_what_was_struck_is_not_written_and_does_not_come_back(shelf, capsys) -> None:
    imported(capsys, *FILE)
    events = chart(shelf).events
    [first] = [e for e in events if e.kind == "goal-score" and e.date == "2026-04-14"]
    [shoe] = [e for e in events if e.note == "shoe on without help"]
    for n, wrong in enumerate((first, shoe)):
        shelf.add_event(shelf.find("INV-1") or "", strike(wrong, f"x{n}", "typed twice"), "JT")
    kept = [FILE[0], FILE[1], FILE[3], FILE[5], FILE[6]]
    assert exported(capsys) == [HEADER, *kept]
    scored = FILE[4].removesuffix(",,") + ",0,2026-06-01"
    code, found, _ = imported(capsys, *FILE[:4], scored, *FILE[5:])
    assert (code, found["stored"], found["already_there"]) == (0, 0, 7)
    assert exported(capsys) == [HEADER, *kept]


def test_a_goal_typed_again_after_it_was_struck_takes_the_score(shelf, capsys) -> None:
    chart_id, day = shelf.find("INV-1") or "", date(2026, 3, 2)
    treated = Event("t", "botulinum-toxin", "2026-03-02", "", "", "")
    wrong, right = goal_event("g1", "heel", day), goal_event("g2", "heel", day)
    shelf.add_events(chart_id, [treated, wrong, strike(wrong, "x", "slip"), right], "JT")
    imported(capsys, "INV-1,2026-03-02,goal,,,heel,,,,,,,0,2026-04-01")
    [goal] = goals_of(chart(shelf).events)
    assert (goal.id, goal.score) == ("g2", 0)


def test_of_two_scores_on_one_day_the_one_that_counts_is_written(shelf, capsys) -> None:
    imported(capsys, *FILE[:4])
    [goal] = [e for e in chart(shelf).events if e.kind == "goal"]
    later = score_event("s9", goal.id, 2, date(2026, 6, 1))
    shelf.add_event(shelf.find("INV-1") or "", later, "JT")
    assert exported(capsys)[3:] == [FILE[2], FILE[3].replace(",1,2026", ",2,2026")]


def test_without_a_goal_the_file_is_as_before_there_were_any(shelf, capsys) -> None:
    imported(capsys, *FILE[:2])
    assert exported(capsys)[0] == HEADER.removesuffix(",weight,score,scored")


GOAL = "INV-1,2026-03-02,goal,{},{},{},{},,,,,{},{},{}"


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        (("", "", "", "", "", "", ""), "note: it is missing"),
        (("soleus", "", "heel", "", "", "", ""), "muscle: a goal has none"),
        (("", "left", "heel", "", "", "", ""), "side: a goal has none"),
        (("", "", "heel", "5", "", "", ""), "amount: a goal has none"),
        (("", "", "heel", "", "0", "", ""), "weight: '0' is no weight"),
        (("", "", "heel", "", "", "3", "2026-04-01"), "score: '3' is no score"),
        (("", "", "heel", "", "", "", "2026-04-01"), "score: the score is missing"),
        (("", "", "heel", "", "", "1", ""), "scored: '' is not a date"),
        (("", "", "heel", "", "", "1", "2026-03-01"), "scored: the goal was set later"),
        (("", "", "heel", "", "", "1", "2099-03-01"), "scored: this day is in the future"),
    ],
)
def test_a_row_of_a_goal_that_is_not_right_is_refused_with_all_of_it(
    shelf, capsys, cells: tuple[str, ...], why: str
) -> None:
    row = GOAL.format(*cells)
    code, found, err = imported(capsys, TOXIN, row)
    assert (code, found["stored"], found["refused"]) == (1, 1, 1)
    assert f"events.csv line 3, {why}" in err
    beside = Path("events.refused.csv").read_text("utf-8").splitlines()
    assert beside[1].startswith(row)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (TOXIN[:-2] + "2,,", "weight: only a goal has one"),
        (TOXIN[:-1] + "1,", "score: only a goal has one"),
        (TOXIN.replace("botulinum-toxin", "goals"), "next-date, goal"),
        (FILE[2].replace("2026-03-02", "2026-03-09"), "no treatment on 2026-03-09"),
        (FILE[2].replace("2026-03-02", "2.3.2026"), "date: '2.3.2026' is not a date"),
        (FILE[2].replace("INV-1", "NOBODY"), "NOBODY has no chart"),
    ],
)
def test_other_rows_say_why(shelf, capsys, row: str, why: str) -> None:
    code, found, err = imported(capsys, row)
    assert (code, found["refused"]) == (1, 1)
    assert why in err
    assert row in Path("events.refused.csv").read_text("utf-8")


def test_every_column_is_described_and_the_rows_keep_to_it(shelf, capsys) -> None:
    imported(capsys, *FILE)
    argv = ["events", "--export", "--datapackage", "--output", "out.csv"]
    assert main(argv) == 0
    package = json.loads(Path("datapackage.json").read_text("utf-8"))
    assert main(["export", "--datapackage", "--output", "readings.csv"]) == 2
    assert "one table, so write this one to another folder; --force" in capsys.readouterr().err
    assert faults(package, Path()) == []
    fields = package["resources"][0]["schema"]["fields"]
    assert [field["name"] for field in fields] == HEADER.split(",")
    assert all(field["description"] for field in fields)
    table = pd.read_csv("out.csv")
    assert table.score.dropna().tolist() == [-1, 1, 0]
    assert main(argv) == 2, "nothing is written over"
    assert main([*argv, "--force"]) == 0
    Path("out.csv").write_text(Path("out.csv").read_text("utf-8").replace(",1,2026", ",7,2026"))
    assert any("7" in fault for fault in faults(package, Path()))
    capsys.readouterr()


def test_the_description_needs_a_file(shelf, capsys) -> None:
    for argv in (("--datapackage",), ("--export", "--datapackage")):
        assert main(["events", *argv]) == 2
        assert "--datapackage describes a file" in capsys.readouterr().err


def test_scores_of_no_goal_or_no_day_are_left_out(shelf, capsys) -> None:
    imported(capsys, *FILE[:2], FILE[4])
    odd = [
        score_event("o1", "nothing", 1, date(2026, 4, 1)),
        replace(score_event("o2", "nothing", 1, date(2026, 4, 1)), date="soon"),
    ]
    shelf.add_events(shelf.find("INV-1") or "", odd, "JT")
    assert exported(capsys)[1:] == [*FILE[:2], FILE[4]]
