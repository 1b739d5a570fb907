"""``limbscribe events``: list, import and export."""

from __future__ import annotations

import json
from datetime import date

import pytest
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.goals import goal_event, goals_of, score_event
from limbscribe.core.chart.patient import Patient
from limbscribe.core.exchange.json_export import chart_doc
from limbscribe.core.shelf import Shelf
from limbscribe.tui.__main__ import main

HEADER = "patient,date,kind,muscle,side,note"
ROWS = (
    "INV-1,2026-03-02,botulinum-toxin,soleus,left,as told",
    "INV-1,2026-03-01,cast-off,,,",
    "INV-2,2026-12-02,next-date,,,",
)


@pytest.fixture
def shelf(tmp_path, monkeypatch) -> Shelf:
    found = Shelf(tmp_path / "shelf")
    for code in ("INV-1", "INV-2"):
        found.create(Patient(code))
    return found


def write(tmp_path, *rows: str) -> str:
    path = tmp_path / "events.csv"
    path.write_text("\n".join((HEADER, *rows, "")), "utf-8")
    return str(path)


def imported(capsys, *argv: str) -> tuple[int, dict, str]:
    code = main(["events", "--json", *argv])
    ran = capsys.readouterr()
    return code, json.loads(ran.out), ran.err


def test_a_file_goes_in_once_and_comes_out_the_same(shelf, tmp_path, capsys) -> None:
    path = write(tmp_path, *ROWS)
    code, first, _ = imported(capsys, "--import", path, "--dry-run")
    assert (code, first["stored"], first["dry_run"]) == (0, 3, True)
    assert all(shelf.load(entry.id).events == () for entry in shelf.charts())
    assert imported(capsys, "--import", path)[1]["stored"] == 3
    code, again, _ = imported(capsys, "--import", path)
    assert (code, again["stored"], again["already_there"]) == (0, 0, 3)
    assert main(["events", "--export"]) == 0
    out = capsys.readouterr().out.replace("\r\n", "\n")
    whole = f"{HEADER},amount,unit,dilution,guidance,product"
    assert out == "\n".join((whole, *(f"{ROWS[n]},,,,," for n in (1, 0, 2)), ""))
    assert main(["events", "INV-2", "--export", "--output", str(tmp_path / "o.csv")]) == 0
    assert (tmp_path / "o.csv").read_text("utf-8").splitlines() == [whole, f"{ROWS[2]},,,,,"]
    assert main(["events", "--export", "--output", str(tmp_path / "o.csv")]) == 2


def test_refused_rows_go_beside_the_file_with_their_reasons(shelf, tmp_path, capsys) -> None:
    path = write(tmp_path, ROWS[0], "INV-1,02.03.2026,other,,,", "NOBODY,2026-03-01,other,,,")
    code, counted, err = imported(capsys, "--import", path)
    assert (code, counted["stored"], counted["refused"]) == (1, 1, 2)
    assert "NOBODY has no chart on this shelf" in err
    beside = (tmp_path / "events.refused.csv").read_text("utf-8")
    assert beside.splitlines()[0] == f"{HEADER},reason"
    assert "02.03.2026" in beside
    mended = beside.replace("02.03.2026", "2026-03-02").replace("NOBODY", "INV-2")
    (tmp_path / "events.csv").write_text(mended, "utf-8")
    code, counted, _ = imported(capsys, "--import", path)
    assert (code, counted["stored"]) == (0, 2)


def test_a_chart_in_use_loses_nothing(shelf, tmp_path, capsys) -> None:
    from tests.support.records import session

    path = write(tmp_path, *ROWS)
    opened = shelf.start(shelf.find("INV-1") or "", session("2026-03-05"), "CD")
    code, counted, err = imported(capsys, "--import", path)
    assert (code, counted["stored"], counted["refused"]) == (1, 1, 2)
    assert "open for entry" in err
    opened.leave()
    assert imported(capsys, "--import", path)[1]["stored"] == 2


def test_a_struck_event_is_neither_listed_nor_brought_back(shelf, tmp_path, capsys) -> None:
    path = write(tmp_path, ROWS[0])
    assert imported(capsys, "--import", path)[1]["stored"] == 1
    chart_id = shelf.find("INV-1") or ""
    [event] = shelf.load(chart_id).events
    shelf.add_event(chart_id, strike(event, "s1", "typed twice"), "JT")
    assert imported(capsys, "--import", path)[1]["already_there"] == 1
    assert main(["events", "INV-1", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["events"] == []


def test_the_list_is_in_words(shelf, tmp_path, capsys) -> None:
    main(["events", "--import", write(tmp_path, *ROWS)])
    capsys.readouterr()
    assert main(["events"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "INV-1  01 Mar 2026 cast off",
        "INV-1  02 Mar 2026 botulinum toxin, Soleus, Left: as told",
        "INV-2  02 Dec 2026 next date",
    ]


@pytest.mark.parametrize(
    "argv",
    [
        ("INV-1", "--import", "events.csv"),
        ("--import", "events.csv", "--export"),
        ("--output", "o.csv"),
        ("--dry-run",),
        ("--import", "nowhere.csv"),
    ],
)
def test_options_that_do_not_go_together(shelf, tmp_path, monkeypatch, capsys, argv) -> None:
    monkeypatch.chdir(tmp_path)
    write(tmp_path, *ROWS)
    assert main(["events", *argv]) == 2
    assert capsys.readouterr().err
    assert not (tmp_path / "o.csv").exists()


# Goals ------------------------------------------------------------------------------------


@pytest.fixture
def treated(shelf) -> Shelf:
    given = {"amount": 50.0, "unit": "U", "product": "Invented A", "guidance": "ultrasound"}
    one = Event("t1", "botulinum-toxin", "2026-03-02", "soleus", "left", "", **given)
    shelf.add_event(shelf.find("INV-1") or "", one, "JT")
    return shelf


def test_goals_are_added_scored_and_listed_with_what_was_given(treated, capsys) -> None:
    on = ("events", "INV-1", "--by", "jt", "--date")
    assert main([*on, "2026-03-02", "--goal", " heel on the floor ", "--weight", "2,5"]) == 0
    assert "stored: a goal of the treatment of 02 Mar 2026" in capsys.readouterr().err
    assert main([*on, "02.03.2026", "--goal", "shoe on"]) == 0
    assert main([*on, "2026-04-14", "--number", "1", "--score", "-1"]) == 0
    assert "stored: -1 (less than expected): heel on the floor" in capsys.readouterr().err
    assert main(["events", "INV-1"]) == 0
    of = "INV-1  treatment of 02 Mar 2026"
    assert capsys.readouterr().out.splitlines() == [
        "INV-1  02 Mar 2026 botulinum toxin, Soleus, Left: 50 U, Invented A, guidance ultrasound",
        f"{of}, goal 1: heel on the floor, weight 2.5: -1 (less than expected), 14 Apr 2026",
        f"{of}, goal 2: shoe on: not scored yet",
        f"{of}: T score 40.0 from 1 of 2 goals; 50 is the expected level",
    ]
    chart = treated.load(treated.find("INV-1") or "")
    assert [each.author for each in chart.written[-3:]] == ["JT", "JT", "JT"]


def test_json_has_what_was_given_goals_and_t_scores(treated, capsys) -> None:
    """T score of weights 6, 6 and scores 1, 0: 56.201737, see tests/core/chart/test_goals.py."""
    day = date(2026, 3, 2)
    goals = [goal_event("g1", "heel", day, 6.0), goal_event("g2", "shoe", day, 6.0)]
    scores = [score_event("s1", "g1", 1, day), score_event("s2", "g2", 0, day)]
    chart_id = treated.find("INV-1") or ""
    treated.add_events(chart_id, [*goals, *scores], "JT")
    assert main(["events", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["events"] == [
        {
            **{"patient": "INV-1", "kind": "botulinum-toxin", "date": "2026-03-02"},
            **{"muscle": "soleus", "side": "left", "note": "", "amount": 50.0, "unit": "U"},
            **{"guidance": "ultrasound", "product": "Invented A"},
        }
    ]
    goal = {"patient": "INV-1", "date": "2026-03-02", "weight": 6.0, "scored": "2026-03-02"}
    assert found["goals"] == [
        {**goal, "number": 1, "text": "heel", "score": 1},
        {**goal, "number": 2, "text": "shoe", "score": 0},
    ]
    [score] = found["t_scores"]
    assert score["t_score"] == pytest.approx(56.201737, abs=0.0001)
    assert (score["goals_scored"], score["goals"]) == (2, 2)
    exported = chart_doc(treated.load(chart_id), {})
    assert exported["events"] == [{k: v for k, v in found["events"][0].items() if k != "patient"}]
    for name in ("goals", "t_scores"):
        assert [{"patient": "INV-1", **one} for one in exported[name]] == found[name]


def test_a_number_stays_with_its_goal_when_another_is_struck(treated, capsys) -> None:
    day, chart_id = date(2026, 3, 2), treated.find("INV-1") or ""
    first, second = goal_event("g1", "heel", day), goal_event("g2", "shoe", day)
    treated.add_events(chart_id, [first, second, strike(first, "x", "not agreed")], "JT")
    on = ["events", "INV-1", "--by", "JT", "--date", "2026-04-01", "--score", "0", "--number"]
    assert main([*on, "1"]) == 2
    assert "goal 1 was struck; goals of this chart: 2" in capsys.readouterr().err
    assert main([*on, "2"]) == 0
    [goal] = goals_of(treated.load(chart_id).events)
    assert (goal.text, goal.score, goal.number) == ("shoe", 0, 2)


@pytest.mark.parametrize(
    ("argv", "why"),
    [
        (("--goal", "x", "--date", "2026-03-03"), "no treatment on 2026-03-03; on record: 2026"),
        (("--goal", " ", "--date", "2026-03-02"), "--goal: it is missing"),
        (("--goal", "x", "--date", "2026-03-02", "--weight", "0"), "--weight: '0' is no weight"),
        (("--goal", "x", "--date", "02/03/2026"), "more than one day"),
        (("--goal", "x"), "--date"),
        (("--weight", "2"), "--weight goes with --goal"),
        (("--score", "0", "--date", "t"), "--score and --number go together"),
        (("--number", "9", "--score", "0", "--date", "t"), "there is no goal '9'"),
        (("--number", "1", "--score", "3", "--date", "t"), "'3' is no score"),
        (("--number", "1", "--score", "1", "--date", "t"), "'1' is no score"),
        (("--number", "1", "--score", "0", "--date", "+1"), "in the future"),
        (("--number", "1", "--score", "0", "--date", "2026-03-01"), "the goal was set later"),
        (("--date", "t"), "--date goes with"),
        (("--goal", "x", "--date", "2026-03-02", "--export"), "one at a time"),
    ],
)
def test_a_goal_that_is_not_right_changes_nothing(treated, capsys, argv, why) -> None:
    chart_id = treated.find("INV-1") or ""
    treated.add_event(chart_id, goal_event("g1", "heel", date(2026, 3, 2)), "JT")
    before = treated.load(chart_id).events
    assert main(["events", "INV-1", "--by", "JT", *argv]) == 2
    assert why in capsys.readouterr().err
    assert treated.load(chart_id).events == before


def test_a_goal_needs_who(treated, capsys) -> None:
    assert main(["events", "INV-1", "--goal", "x", "--date", "2026-03-02"]) == 2
    assert "the initials are missing" in capsys.readouterr().err
