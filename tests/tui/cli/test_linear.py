"""``enter CODE --plain`` as a screen reader or a script uses it."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.errors import NotSaved
from limbscribe.core.shelf import OpenSession, Shelf
from limbscribe.tui.__main__ import main

from tests.support.records import earlier
from tests.support.run import SET_UP, spoken
from tests.support.terminal import PROGRAM, Terminal


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A shelf with one patient, affected on the left."""
    folder = tmp_path / "shelf"
    Shelf(folder).create(Patient("ZZ-41", 1961, "female", "stroke", "left"))
    return folder


def accepted(shelf: Path) -> tuple[object, ...]:
    """What the journal of the open session holds."""
    [entry] = Shelf(shelf).charts()
    opened = Shelf(shelf).resume(entry.id, "JT")
    opened.leave()
    return tuple(opened.entries)


def test_a_session_is_left_resumed_and_closed(shelf: Path):
    first = spoken(shelf, *SET_UP, "62", "2", "9", "q")
    assert first.returncode == 0, first.stderr
    assert "Elbow flexors, Left: gap 53 deg" in first.stdout
    assert "left open; everything accepted is on disk" in first.stdout
    second = spoken(shelf, "x", "-41", "n p", "r", "s", "jt")
    assert "that is not the ending of ZZ-41" in second.stdout
    assert "resuming the open session" in second.stdout
    assert "Elbow flexors, Left: R1 -62, quality 2, R2 -9" in second.stdout
    assert "session 1 signed by JT" in second.stdout
    export = [*PROGRAM, "export", "ZZ-41", "--format", "json", "--shelf", str(shelf)]
    found = json.loads(subprocess.run(export, capture_output=True, check=True).stdout)
    [session] = found["patients"][0]["sessions"]
    assert session["conditions"]["minutes_since_dose"] == 90
    assert [(r["muscle"], r["side"], r["r1"], r["not_tested"]) for r in session["readings"]] == [
        ("elbow-flexors", "left", -62, ""),
        ("forearm-pronators", "left", None, "pain"),
    ]


def test_a_session_of_another_day_is_gone_on_with_only_after_a_question(shelf: Path):
    """At a terminal; a script is told, and goes on."""
    [entry] = Shelf(shelf).charts()
    Shelf(shelf).start(entry.id, earlier(), "AB").leave()
    for last, left in (("q<enter>", True), ("\x04", True), ("yes<enter>", False)):
        terminal = Terminal("enter", "ZZ-41", "--plain", "--shelf", str(shelf))
        terminal.wait_for("type its last")
        terminal.send("-41<enter>")
        said = terminal.wait_for("leaves it open:")
        assert "Begun 02 May 2026 by recorder AB, examiner JT. Today is " in said
        terminal.send("62<enter>")
        terminal.wait_for(": 62")
        terminal.send(last)
        if left:
            terminal.wait_for("it is open as it was")
        else:
            terminal.wait_for("R2 V1 deg")
            terminal.send("q<enter>")
        assert bool(terminal.ended()) == left
        assert accepted(shelf) == ()
    told = spoken(shelf, "-41", "62", "q")
    assert "Begun 02 May 2026 by recorder AB" in told.stdout
    assert told.returncode == 0
    assert len(accepted(shelf)) == 1


def test_initials_sign_and_nothing_else_does(shelf: Path):
    ran = spoken(shelf, *SET_UP, "62", "2", "9", "s", "yes", "J T", "", "s", "ak")
    assert "to be signed: 1 done, 0 not tested, 0 flagged, 0 overridden" in ran.stdout
    assert " open: they stay without values for good" in ran.stdout
    for said in ("initials sign, not yes", "these are no initials", "not signed"):
        assert said in ran.stdout
    assert "session 1 signed by AK" in ran.stdout
    [entry] = Shelf(shelf).charts()
    [session] = Shelf(shelf).load(entry.id).sessions
    assert session.seal
    assert (session.seal.author, session.recorder) == ("AK", "JT")


def test_the_end_of_the_input_signs_nothing(shelf: Path):
    ran = spoken(shelf, *SET_UP, "62", "2", "9", "s")
    assert "left open; everything accepted is on disk" in ran.stdout
    assert Shelf(shelf).charts()[0].open_since


def test_half_typed_stations_come_before_the_signature(shelf: Path):
    ran = spoken(shelf, *SET_UP, "62", "2", "9", "20", "s", "", "q")
    assert "half-typed: Forearm pronators, Left" in ran.stdout
    assert Shelf(shelf).charts()[0].open_since
    ran = spoken(shelf, "-41", "s", "c", "jt")
    assert "to be signed: 1 done" in ran.stdout
    assert "session 1 signed by JT" in ran.stdout
    [entry] = Shelf(shelf).charts()
    [session] = Shelf(shelf).load(entry.id).sessions
    assert [one.muscle for one in session.readings] == ["elbow-flexors"]


def test_a_signature_that_could_not_be_stored_leaves_the_session_open(
    shelf: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    assert spoken(shelf, *SET_UP, "62", "2", "9", "q").returncode == 0

    def full(*_: object) -> None:
        raise NotSaved("The session was not closed because the disk is full")

    monkeypatch.setattr(OpenSession, "close", full)
    monkeypatch.setattr(sys, "stdin", StringIO("-41\ns\njt\nq\n"))
    assert main(["enter", "ZZ-41", "--plain", "--shelf", str(shelf)]) == 0
    said = capsys.readouterr().out
    assert "the disk is full" in said
    assert "s signs again; q leaves, and the session stays open" in said
    assert Shelf(shelf).charts()[0].open_since


def test_the_end_of_the_input_leaves_the_session_open(shelf: Path):
    assert spoken(shelf, *SET_UP, "62").returncode == 0
    [entry] = Shelf(shelf).charts()
    assert entry.open_since
    again = spoken(shelf, "-41")
    assert "quality 0 to 4: " in again.stdout, "it goes on at the same field"


def test_nothing_is_begun_without_the_cautions(shelf: Path):
    ran = spoken(shelf, *SET_UP[:-1], "no", "what?")
    assert ran.returncode == 1
    assert "nothing was begun" in ran.stdout
    [entry] = Shelf(shelf).charts()
    assert not entry.open_since


def test_wrong_set_up_answers_are_asked_again(shelf: Path):
    ran = spoken(shelf, "-41", "k m", "km", "jt", "no-such-list", "hemiplegia-short")
    assert "these are no initials" in ran.stdout
    assert "one of child-lower-limb, hemiplegia-short" in ran.stdout


def test_no_control_characters_and_no_textual(shelf: Path):
    ran = spoken(shelf, *SET_UP, "c \x1b]0;title\x07 red", "r", "q")
    assert not [c for c in ran.stdout if not c.isprintable() and c != "\n"]
    code = (
        "import sys; from limbscribe.tui.__main__ import main; "
        f"main(['enter', 'ZZ-41', '--plain', '--shelf', {str(shelf)!r}]); "
        "print([m for m in sys.modules if m.partition('.')[0] in ('textual', 'plotext')])"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], input="-41\nq\n", capture_output=True, text=True, check=True
    )
    assert loaded.stdout.splitlines()[-1] == "[]"


def test_one_answer_takes_the_rest_of_the_set_up(shelf: Path):
    ran = spoken(shelf, "-41", "=", "km", "jt", "hemiplegia-short", "=", "yes", "62", "q")
    assert "the examiner is missing" in ran.stdout, "people are never taken over"
    assert "First side: right" in ran.stdout, "the less affected side is offered first"
    assert "Which counts" not in ran.stdout, "with one try there is nothing to choose"
    assert "Last values: shown" in ran.stdout
    assert Shelf(shelf).charts()[0].open_since
    more = spoken(shelf, "-41", "q")
    assert "resuming the open session" in more.stdout


def test_an_ending_sent_twice_is_no_reading_and_no_examiner(shelf: Path):
    """In one burst, as a slow line sends it; who means it as an answer types it once more."""
    ran = spoken(shelf, *SET_UP[:1], *SET_UP, "q")
    assert "-41 came twice and was dropped" in ran.stdout
    assert "these are no initials" not in ran.stdout
    ran = spoken(shelf, "-41", "-41", "q")
    assert "-41 came twice" in ran.stdout
    assert accepted(shelf) == ()
    ran = spoken(shelf, "-41", "-41", "-41", "q")
    assert "R1 -41, Elbow flexors, Left" in ran.stdout


def test_what_is_typed_ahead_at_a_terminal_answers_nothing(shelf: Path):
    """Into and out of who the patient is, the cautions and the entry."""
    terminal = Terminal("enter", "ZZ-41", "--plain", "--shelf", str(shelf), lines=60)
    terminal.wait_for("type its last")
    terminal.send("-41<enter>km<enter>")
    assert "what was typed too early was dropped" in terminal.wait_for("Examiner:")
    assert "Recorder" not in terminal.text()
    for answer in (*SET_UP[1:4], "="):
        terminal.settle(0.05)
        terminal.send(f"{answer}<enter>")
    terminal.wait_for("yes when each was checked")
    terminal.send("yes<enter>62<enter>2<enter>")
    assert terminal.wait_for("R1 V2 deg").count("was dropped") == 2
    terminal.send("q<enter>")
    terminal.wait_for("left open")
    assert terminal.ended() == 0
    assert accepted(shelf) == ()


def test_with_more_tries_it_is_asked_which_counts(shelf: Path):
    ran = spoken(shelf, "-41", "km", "jt", "hemiplegia-short", "", "", "", "2", "mean", "=", "no")
    assert "Which counts (first, mean, worst) [first]: " in ran.stdout


@pytest.mark.parametrize("on", ["2026-03-04T14:05", "04.03.2026 14:05"])
def test_a_session_is_typed_in_later(shelf: Path, on: str):
    answers = ("-41", "km", "jt", "hemiplegia-short", "=", "62", "2", "9", "r", "s", "jt")
    ran = spoken(shelf, *answers, options=("--on", on))
    assert "measured 04 Mar 2026 14:05, typed later" in ran.stdout
    assert "yes when each was checked" not in ran.stdout
    assert "measured 04 Mar 2026, typed later, on " in ran.stdout
    [entry] = Shelf(shelf).charts()
    [session] = Shelf(shelf).load(entry.id).sessions
    assert session.started.startswith("2026-03-04T14:05:00")
    assert session.conditions.typed_later
    assert not session.conditions.cautions_read
    report = [*PROGRAM, "report", "ZZ-41", "--shelf", str(shelf)]
    said = subprocess.run(report, capture_output=True, check=True, text=True).stdout
    assert "typed later, from paper" in said


@pytest.mark.parametrize(
    ("on", "what"),
    [
        ("2099-01-01", "--on 2099-01-01: "),
        (
            "04/03/2026",
            "--on 04/03/2026: '04/03/2026' can be read as more than one day (type 25.11",
        ),
        ("04.03.2026T", "'04.03.2026T' is no date"),
        ("2026-03-04T25:00", "no time of day"),
    ],
)
def test_a_day_that_cannot_be_begins_nothing(shelf: Path, on: str, what: str):
    ran = spoken(shelf, *SET_UP, options=("--on", on))
    assert ran.returncode == 2
    assert what in ran.stderr
    assert not Shelf(shelf).charts()[0].open_since


def test_an_open_session_is_not_taken_for_one_typed_later(shelf: Path):
    assert spoken(shelf, *SET_UP, "q").returncode == 0
    ran = spoken(shelf, "-41", options=("--on", "2026-03-04"))
    assert ran.returncode == 1
    assert "open session" in ran.stderr


def test_a_blind_rating_shows_no_last_value(shelf: Path):
    first = ("-41", "km", "jt", "hemiplegia-short", "=", "62", "2", "9", "s", "jt")
    today = ("--on", date.today().isoformat())
    assert "session 1 signed by JT" in spoken(shelf, *first, options=today).stdout
    again = ("-41", "lr", "jt", *[""] * 8, "hidden", "=", "yes", "31")
    ran = spoken(shelf, *again)
    assert "last values are hidden: blind rating" in ran.stdout
    assert "62" not in ran.stdout
    assert "a large change since the last session" in ran.stdout
    seen = spoken(shelf, "-41", "62", "2", "9", "s", "jt")
    assert "session 2 signed by JT" in seen.stdout
    said = subprocess.run(
        [*PROGRAM, "agreement", "--pairs", "--full", "--shelf", str(shelf)],
        capture_output=True,
        check=False,
        text=True,
    ).stdout
    said = " ".join(said.split())
    assert " blind (different raters on one day)" in said
    assert "Note: the later rating was blind in 1 of 1 pairs" in said
