"""``enter CODE --plain`` as a screen reader or a script uses it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf

from tests.support.run import SET_UP, spoken
from tests.support.terminal import PROGRAM


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A shelf with one patient, affected on the left."""
    folder = tmp_path / "shelf"
    Shelf(folder).create(Patient("ZZ-41", 1961, "female", "stroke", "left"))
    return folder


def test_a_session_is_left_resumed_and_closed(shelf: Path):
    first = spoken(shelf, *SET_UP, "62", "2", "9", "q")
    assert first.returncode == 0, first.stderr
    assert "Elbow flexors, Left: gap 53 deg" in first.stdout
    assert "left open; everything accepted is on disk" in first.stdout
    second = spoken(shelf, "x", "-41", "n p", "r", "s", "yes")
    assert "that is not the ending of ZZ-41" in second.stdout
    assert "resuming the open session" in second.stdout
    assert "Elbow flexors, Left: R1 -62, quality 2, R2 -9" in second.stdout
    assert "signed and closed" in second.stdout
    export = [*PROGRAM, "export", "ZZ-41", "--format", "json", "--shelf", str(shelf)]
    found = json.loads(subprocess.run(export, capture_output=True, check=True).stdout)
    [session] = found["patients"][0]["sessions"]
    assert session["conditions"]["minutes_since_dose"] == 90
    assert [(r["muscle"], r["side"], r["r1"], r["not_tested"]) for r in session["readings"]] == [
        ("elbow-flexors", "left", -62, ""),
        ("forearm-pronators", "left", None, "pain"),
    ]


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
