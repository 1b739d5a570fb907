"""``limbscribe trend`` in a plain shell."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chart import Chart
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.cli.trend import coloured
from limbscribe.tui.cli.trend_text import page_lines, trend_lines

from tests.support.records import MUSCLES, PATIENT, reading, session
from tests.support.run import Run
from tests.support.series import LEFT, RIGHT, event, series

EVENTS = (event(18, "botulinum-toxin", "soleus", "left", "product A"), event(400, "pump"))


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A shelf with one chart of the soleus on both sides."""
    made = Shelf(tmp_path / "shelf")
    chart_id = made.create(PATIENT)
    for day, r1 in (("2026-01-02", -20), ("2026-04-02", -10)):
        taken = session(day, *(reading("soleus", side, r1, 5) for side in Side))
        made.add_closed(chart_id, [taken], "CD", "2026-11-25T12:00:00+01:00")
    for one in EVENTS:
        made.add_event(chart_id, one)
    return tmp_path / "shelf"


@pytest.fixture
def trend(shelf: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command on that shelf, its output no terminal."""
    monkeypatch.setenv("LC_ALL", "C.UTF-8")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return partial(run, "trend", "INV-07", "--shelf", str(shelf))


def test_one_side_with_events_and_bands(trend: Run):
    """Plot, legend, events with dates, where the band comes from, and rows between sessions."""
    ran = trend("--side", "left")
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0] == "INV-07  Soleus, Left"
    assert "T botulinum toxin: 20 Jan 2026   P pump: 06 Feb 2027   > later than the axis" in lines
    assert "20 Jan 2026 T botulinum toxin, this muscle, Left: product A" in lines
    assert any(line.startswith("first R1 and R2 +- ") for line in lines)
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in ran.out


def test_both_sides(trend: Run):
    """One plot, two tables; and not together with one side or the page."""
    ran = trend("--both")
    lines = ran.out.splitlines()
    assert lines[0] == "INV-07  Soleus, Left and Right"
    assert ran.out.count("stretch angles in deg") == 1
    assert [line for line in lines if "as typed" in line] == [
        "Left: angles in deg, as typed in the scale named",
        "Right: angles in deg, as typed in the scale named",
    ]
    for option in (("--side", "left"), ("--page",)):
        refused = trend("--both", *option)
        assert (refused.code, refused.out) == (2, "")
        assert f"--both and {option[0]} do not go together" in refused.err


def test_a_page(trend: Run):
    """Both small trends beside each other."""
    ran = trend("--page")
    lines = ran.out.splitlines()
    assert lines[0] == "INV-07  all from 02 Jan 2026 to 02 Apr 2026, stretch angles in deg"
    assert lines[4].split("  ")[0] == "Soleus, Left"
    assert lines[4].endswith("Soleus, Right")
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("option", [(), ("--both",), ("--page",)])
def test_ascii_has_the_same_marks(trend: Run, option: tuple[str, ...]):
    """Only the frame is translated."""
    plain, plainer = trend(*option), trend(*option, "--ascii")
    assert plainer.out.isascii()
    assert len(plainer.out) == len(plain.out)
    for mark in "ox:T":
        assert plainer.out.count(mark) == plain.out.count(mark)


def test_colour_only_repeats(trend: Run):
    """With the escapes taken out the coloured output is the plain one, in every form."""
    for option in ((), ("--both",), ("--page",), ("--ascii",)):
        plain, lively = trend(*option), trend(*option, "--colour", "always")
        assert ("\x1b" in lively.out) is ("--both" not in option)
        if "--both" not in option:  # there every mark is shared
            assert "\x1b[35mx\x1b[39m" in lively.out
            assert "\x1b[36mo\x1b[39m" in lively.out
        bare = lively.out
        for code in (35, 36, 39):
            bare = bare.replace(f"\x1b[{code}m", "")
        assert bare == plain.out


def test_when_there_is_colour():
    """Auto looks at the output, at NO_COLOR when not empty, and at TERM; the others do not."""
    assert coloured("auto", {}, True)
    assert coloured("auto", {"NO_COLOR": ""}, True)
    assert not coloured("auto", {"NO_COLOR": "1"}, True)
    assert not coloured("auto", {"TERM": "dumb"}, True)
    assert not coloured("auto", {}, False)
    assert coloured("always", {"NO_COLOR": "1"}, False)
    assert not coloured("never", {}, True)


@pytest.mark.parametrize("no_colour", ["", "1"])
def test_on_a_terminal(shelf: Path, no_colour: str):
    """The same through a terminal: coloured unless NO_COLOR says otherwise."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "limbscribe.tui", "trend", "INV-07", "--shelf", str(shelf)]
    env = {**os.environ, "LC_ALL": "C.UTF-8", "TERM": "xterm", "NO_COLOR": no_colour}
    env["LIMBSCRIBE_CONFIG"] = str(shelf / "none")
    with subprocess.Popen([*command, "--page"], env=env, stdout=theirs) as running:
        os.close(theirs)
        said = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # how Linux says that the other end is closed
                break
            if not part:
                break
            said += part
        assert running.wait(600) == 0
    os.close(ours)
    assert b"Soleus, Left" in said
    assert (b"\x1b[35m" in said) is not bool(no_colour)


def test_json_has_events_and_bands(trend: Run):
    """The figures for programs: what was done, and what later sessions are held against."""
    document = json.loads(trend("--side", "left", "--json").out)
    (one,) = document["trends"]
    assert one["events"][0] == {
        "date": "2026-01-20",
        "letter": "T",
        "kind": "botulinum toxin",
        "where": "this muscle, Left",
        "note": "product A",
    }
    assert [band["angle"] for band in one["baseline"]] == ["R1", "R2"]
    assert one["baseline"][0]["mdc"] > 0
    assert one["baseline_words"]


def test_what_was_given_is_told_beside_the_note(shelf: Path, trend: Run):
    given = {"amount": 50.0, "unit": "U", "product": "Invented A"}
    one = replace(event(30, "botulinum-toxin", "soleus", "left", "two places"), id="t2", **given)
    made = Shelf(shelf)
    made.add_event(made.find("INV-07") or "", one)
    assert "50 U, Invented A; two places" in " ".join(trend("--side", "left").out.split())
    events = json.loads(trend("--side", "left", "--json").out)["trends"][0]["events"]
    assert [one.get("given") for one in events] == [None, "50 U, Invented A", None]


def test_hostile_text_gets_no_escape_through_the_colours():
    """With colours on, the only escapes are ours."""
    evil = event(18, "\x1b[31mkind", "soleus", "left", "\x1b]0;owned\x07")
    taken = session("2026-01-02", reading("soleus", LEFT, -20, 5))
    chart = Chart("x", PATIENT, (taken,), (), (evil,), ())
    lines = trend_lines(chart, ("soleus", LEFT), Basis(MUSCLES), colour=True)
    lines += page_lines([series((0, -20, 5), side=RIGHT)], {}, "C\x1b[31m", colour=True)
    bare = "\n".join(lines)
    for code in (35, 36, 39):
        bare = bare.replace(f"\x1b[{code}m", "")
    assert "\x1b" not in bare
    assert "\x07" not in bare
    assert "owned" in bare


def test_an_empty_page():
    """No session, no axis."""
    assert page_lines([], MUSCLES, "INV-07") == ["INV-07  no reading yet"]
