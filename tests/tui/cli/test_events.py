"""``limbscribe events``: list, import and export."""

from __future__ import annotations

import json

import pytest
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.patient import Patient
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
