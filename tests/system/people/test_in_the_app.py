"""Two people at two terminals: who has the chart, what can be seen meanwhile, who takes over."""

from __future__ import annotations

import os
import re
import signal
from pathlib import Path

import pytest
from limbscribe.core.shelf import Shelf

from tests.support.terminal import Terminal, shelf_args
from tests.system.line.at_work import (
    CODE,
    assert_resumes,
    body,
    make_shelf,
    program_pid,
    to_the_fields,
    work,
)

HOST = os.uname().nodename


def press_s(terminal: Terminal) -> None:
    """Ask for the session of the patient, from the list or from the chart."""
    terminal.send("s")
    terminal.choose(CODE)


def words(screen: str) -> str:
    """A screen as one line, whatever was wrapped."""
    return " ".join(screen.split())


@pytest.mark.parametrize("size", [pytest.param((60, 20), marks=pytest.mark.deep), (80, 24)])
def test_a_chart_open_elsewhere_is_shown_read_only(tmp_path: Path, size: tuple[int, int]):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    first = Terminal(*shelf_args(shelf))
    before = work(first)
    second = Terminal(*shelf_args(shelf), columns=size[0], lines=size[1])
    second.wait_for(f"{CODE}: s resumes")
    press_s(second)
    said = words(second.wait_for("tries again"))
    sentence = rf"JT has this chart open for entry on {HOST} since \d\d:\d\d: nothing was changed\."
    assert re.search(sentence, said)
    assert "Shown is what they have saved so far, for reading only; s tries again." in said
    assert "still open: as saved until now, for reading only" in said
    assert "closed by" not in said.replace("flagged closed by", "")
    assert re.search(r"\b52\b", said), "R1 of the third station, not committed yet"
    # What is entered meanwhile is seen on asking again, and s never gets in.
    first.send("<backspace>71<enter>")
    first.wait_for("3 of 24 done")
    press_s(second)
    second.wait_for("tries again")
    for _ in range(2):  # the station itself, further down
        second.send("<down>")
    second.rest()
    assert re.search(r"\b71\b", words(second.text()))
    second.send("q")
    second.wait_for(f"{CODE}: s resumes")
    # Not a dead end: when the other leaves, the same key opens the entry.
    first.send("q")
    first.wait_for("1 open session")
    press_s(second)
    second.wait_for("resumed where it was left")
    assert before
    first.send("q")
    first.ended()
    second.kill(signal.SIGTERM)


def test_the_entry_of_somebody_who_died_is_taken_over_and_said_so(tmp_path: Path):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    first = Terminal(*shelf_args(shelf))
    before = work(first)
    first.kill(signal.SIGKILL)
    second = Terminal(*shelf_args(shelf))
    screen = words(to_the_fields(second, "accepted was lost"))
    told = (
        rf"the entry of JT on {HOST}, since \d\d:\d\d, ended without leaving; "
        "taken over, nothing accepted was lost"
    )
    assert re.search(told, screen)
    second.settle()
    assert body(second.text()) == before
    second.send("q")
    second.wait_for("1 open session")
    second.send("q")
    second.ended()
    assert_resumes(shelf, before)  # and only once


def test_the_chart_screen_says_so_too_and_stays_useful(tmp_path: Path):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    first = Terminal(*shelf_args(shelf))
    work(first)
    second = Terminal(*shelf_args(shelf))
    second.wait_for(f"{CODE}: s resumes")
    second.send("<enter>")
    second.wait_for("one more is open")
    assert "[trend]" in second.text()
    press_s(second)
    screen = second.wait_for("tries again")
    assert "[sessions]" in screen
    assert "0 sessions, one more is open" in screen
    second.send("v")
    second.rest()
    assert "[sessions]" not in second.text(), "the other views are to be had"
    os.kill(program_pid(shelf), signal.SIGKILL)
    first.ended()
    press_s(second)
    second.wait_for("ended without")
    second.kill(signal.SIGTERM)
    assert Shelf(shelf).charts()[0].open_since
