"""Signals and a shell's job control: the program leaves in order, or comes back whole."""

from __future__ import annotations

import os
import random
import re
import signal
import time
from pathlib import Path

import pytest
from limbscribe.tui.terminal.line import GIVE_BACK

from tests.support.sizes import size
from tests.support.terminal import PROGRAM, Terminal, shelf_args

from .at_work import (
    ACCEPTED,
    ENTRIES,
    HALF,
    NEVER_BROKEN_OFF,
    Shelled,
    assert_modes_left,
    assert_resumes,
    body,
    make_shelf,
    program_pid,
    saved,
    to_the_fields,
    wait_gone,
    work,
)

MODES_OF_A_SHELL = {b"icrnl", b"isig", b"icanon", b"echo"}
"""As ``stty -a`` lists those that a full-screen program takes away."""

KILLS = size(3, 10, 1000)


@pytest.mark.parametrize(
    "number",
    [
        signal.SIGTERM,
        pytest.param(signal.SIGHUP, marks=pytest.mark.deep),
        pytest.param(signal.SIGINT, marks=pytest.mark.deep),
    ],
)
def test_a_signal_leaves_terminal_and_session_whole(tmp_path: Path, number: int):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = Shelled(shelf)
    before = work(terminal)
    os.kill(program_pid(shelf), number)
    assert terminal.program_ended() == 128 + number
    assert GIVE_BACK not in terminal.raw, "it was broken off"
    terminal.assert_usable()
    terminal.close()
    assert saved(shelf) == ENTRIES
    assert_resumes(shelf, before)


@pytest.mark.deep
def test_a_signal_ends_also_a_program_whose_terminal_takes_no_more_output(tmp_path: Path):
    """As with a connection that stalls: whoever writes waits, and nobody reads."""
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = Shelled(shelf)
    work(terminal)
    pid = program_pid(shelf)
    stall(terminal)
    os.kill(pid, signal.SIGTERM)
    wait_gone(pid)
    assert terminal.program_ended() == 128 + signal.SIGTERM
    assert GIVE_BACK in terminal.raw, "it was stuck, or this test shows nothing"
    terminal.assert_usable()
    terminal.close()
    again = Terminal(*shelf_args(shelf))
    assert "2 of 24 done" in to_the_fields(again, "resumed where it was left")
    again.kill()


@pytest.mark.deep
def test_a_stalled_terminal_that_vanishes_ends_the_program_in_order(tmp_path: Path):
    """The connection stalls first and is lost then: both who waits and who writes let go."""
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = Terminal(*shelf_args(shelf), program=NEVER_BROKEN_OFF)
    work(terminal)
    pid = program_pid(shelf)
    stall(terminal)
    terminal.hang_up()
    wait_gone(pid)
    os.waitpid(terminal.pid, 0)
    again = Terminal(*shelf_args(shelf))
    assert "2 of 24 done" in to_the_fields(again, "resumed where it was left")
    again.kill()


def stall(terminal: Terminal) -> None:
    """Make more output than the terminal takes, and read none of it."""
    for _ in range(100):
        terminal.send("<down>\x0c<up>\x0c")  # the screen drawn anew, as little is written otherwise
        time.sleep(0.05)


@pytest.mark.deep
def test_stopped_from_outside_and_continued(tmp_path: Path):
    """SIGSTOP cannot be prepared for; afterwards the terminal's old modes are still known."""
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = Shelled(shelf)
    before = work(terminal)
    pid = program_pid(shelf)
    for _ in range(3):
        os.kill(pid, signal.SIGSTOP)
        os.kill(pid, signal.SIGCONT)
        time.sleep(0.1)
    terminal.send("<backspace>")
    terminal.settle()
    assert body(terminal.text()) == before
    terminal.send("q")
    terminal.wait_for("1 open session")
    terminal.send("q")
    assert terminal.program_ended() == 0
    terminal.assert_usable()
    terminal.close()


def shell_with_jobs(folder: Path) -> Terminal:
    """A shell as a person has it, the program as its job."""
    terminal = Terminal("--norc", "--noprofile", "--noediting", "-i", program=("/bin/bash",))
    terminal.send("PS1='ready> '; stty -g; clear<enter>")
    terminal.wait_for("ready>")
    terminal.send(" ".join((*PROGRAM, *shelf_args(folder))) + "<enter>")
    return terminal


@pytest.mark.deep
def test_ctrl_z_gives_the_terminal_back_and_fg_takes_it_again(tmp_path: Path):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = shell_with_jobs(shelf)
    before = work(terminal)
    for time_ in ("first", "second"):
        terminal.send("\x1a")
        terminal.wait_for("To come back type: fg")
        terminal.wait_for("ready>")
        assert_modes_left(terminal.raw)
        terminal.send(f"stty -a; echo {time_}-aside<enter>")
        terminal.wait_for(f"\n{time_}-aside")
        said = terminal.raw.rpartition(b"To come back")[2]
        modes = re.findall(rb"[\n ](-?(?:isig|icanon|icrnl|echo))(?= |\r)", said)
        assert set(modes) == MODES_OF_A_SHELL
        assert saved(shelf) == ENTRIES
        terminal.send("clear; fg<enter>")
        terminal.wait_for(f"{HALF}_")  # also what was half-typed is still there
    terminal.send("<backspace>")
    terminal.settle()
    assert body(terminal.text()) == before
    terminal.send("71<enter>")
    terminal.wait_for("3 of 24 done")
    terminal.send("q")
    terminal.wait_for("1 open session")
    terminal.send("q")
    terminal.wait_for("ready>")
    assert_modes_left(terminal.raw)
    terminal.kill()


@pytest.mark.deep
def test_a_terminal_closed_while_set_aside_ends_the_program(tmp_path: Path):
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = shell_with_jobs(shelf)
    before = work(terminal)
    pid = program_pid(shelf)
    terminal.send("\x1a")
    terminal.wait_for("To come back type: fg")
    terminal.hang_up()
    assert wait_gone(pid) < 1.0
    assert_resumes(shelf, before)


@pytest.mark.deep
def test_ctrl_z_without_a_shell_behind_changes_nothing(tmp_path: Path):
    """As with ``ssh -t host limbscribe``: nobody could bring a stopped program back."""
    shelf = tmp_path / "shelf"
    make_shelf(shelf)
    terminal = Terminal(*shelf_args(shelf))
    work(terminal)
    terminal.send("\x1a")
    terminal.settle()
    assert terminal.raw.endswith(b"\x07")
    terminal.send("1<enter>")
    terminal.wait_for("3 of 24 done")
    terminal.kill(signal.SIGTERM)


@pytest.mark.deep
def test_killed_at_any_moment_loses_at_most_the_field_being_typed(tmp_path: Path):
    """What the screen has shown as accepted is there after a kill at a random moment."""
    seed = random.randrange(2**32)
    rng = random.Random(seed)
    fields = ACCEPTED.replace("<enter>", "\r")
    lost = 0
    for kill in range(KILLS):
        shelf = tmp_path / f"shelf-{kill}"
        make_shelf(shelf)
        terminal = Terminal(*shelf_args(shelf))
        to_the_fields(terminal)
        stop = time.monotonic() + rng.uniform(0, 0.5)
        for key in fields:
            terminal.send(key)
            terminal.read(0.005)
            if time.monotonic() > stop:
                break
            time.sleep(rng.uniform(0, 0.08))
        seen = int(terminal.text().split(" of 24 done")[0].split()[-1])
        terminal.kill(rng.choice([signal.SIGKILL, signal.SIGHUP, signal.SIGTERM]))
        again = Terminal(*shelf_args(shelf))
        done = int(to_the_fields(again).split(" of 24 done")[0].split()[-1])
        lost += max(0, seen - done)
        again.kill()
    print(f"seed {seed}: {KILLS} kills, stations seen as done and lost: {lost}")
    assert lost == 0, f"seed {seed}"
