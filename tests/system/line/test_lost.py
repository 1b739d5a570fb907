"""Lost lines: a killed or silent SSH client, a terminal that vanishes, a multiplexer that ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.terminal import PROGRAM, Terminal, shelf_args

from .at_work import (
    ENTRIES,
    NEVER_BROKEN_OFF,
    UNDER_A_SHELL,
    assert_resumes,
    body,
    cpu_s,
    make_shelf,
    program_pid,
    saved,
    to_the_fields,
    wait_gone,
    work,
)
from .sshd import Server

pytestmark = pytest.mark.tools
"""Needs programs beside Python, see .ci/run."""

DEAF = 'trap "" HUP; "$@"; sleep 60'
"""A shell that keeps the signal of a hang-up for itself, so that the program hears nothing."""

SLOW_TO_SAY_THE_SIZE = (
    *(sys.executable, "-c"),
    "import time; from textual.drivers.linux_driver import LinuxDriver as D; "
    "quick = D._get_terminal_size; "
    "D._get_terminal_size = lambda self: (quick(self), time.sleep(0.3))[0]; "
    "from limbscribe.tui.__main__ import main; raise SystemExit(main())",
)
"""The program as on a machine that is so busy that it is told a new size within telling another."""

MOST_CPU_S = 1.0
"""s of processor time for an end in order; a program that spins takes that every second."""


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A shelf with a session just started."""
    make_shelf(tmp_path / "shelf")
    return tmp_path / "shelf"


@pytest.fixture
def server(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Server]:
    """A server on the loopback; its parameter is how soon a client may not be silent, s."""
    folder = tmp_path / "sshd"
    folder.mkdir()
    running = Server(folder, getattr(request, "param", 0))
    yield running
    running.stop()


def test_a_killed_ssh_client_ends_the_program_and_loses_nothing(shelf: Path, server: Server):
    client = server.login(shelf)
    before = work(client)
    pid = program_pid(shelf)
    client.kill(signal.SIGKILL)
    begun = time.monotonic()
    used = wait_gone(pid)
    print(f"ended {time.monotonic() - begun:.2f} s after the client, {used:.2f} s of processor")
    assert used < MOST_CPU_S
    assert saved(shelf) == ENTRIES
    again = server.login(shelf)
    to_the_fields(again, "resumed where it was left")
    again.settle()
    assert body(again.text()) == before
    again.kill(signal.SIGKILL)


@pytest.mark.parametrize("server", [2], indirect=True)
def test_a_silent_ssh_client_is_given_up_by_the_server(shelf: Path, server: Server):
    """A laptop that sleeps or walks out of the network: no word, only silence."""
    client = server.login(shelf)
    before = work(client)
    pid = program_pid(shelf)
    os.kill(client.pid, signal.SIGSTOP)
    begun = time.monotonic()
    used = wait_gone(pid)
    print(f"ended {time.monotonic() - begun:.2f} s after the client fell silent")
    assert used < MOST_CPU_S
    client.kill(signal.SIGKILL)
    assert_resumes(shelf, before)


def test_a_terminal_that_vanishes_without_a_signal_is_noticed_at_once(shelf: Path):
    program = ("/bin/sh", "-c", DEAF, "sh", *NEVER_BROKEN_OFF, *shelf_args(shelf))
    terminal = Terminal(program=program)
    before = work(terminal)
    pid = program_pid(shelf)
    terminal.hang_up()
    used = wait_gone(pid)
    assert used < MOST_CPU_S
    os.kill(terminal.pid, signal.SIGKILL)
    os.waitpid(terminal.pid, 0)
    assert_resumes(shelf, before)


def test_an_idle_program_uses_no_processor(shelf: Path):
    """Watching the line costs nothing while it holds."""
    terminal = Terminal(*shelf_args(shelf))
    work(terminal)
    pid = program_pid(shelf)
    terminal.settle(1.0)  # all that is drawn later is drawn
    begun = cpu_s(pid)
    assert terminal.read(3.0) == 0, "nothing is written to an idle line"
    assert cpu_s(pid) - begun < 0.15
    terminal.kill(signal.SIGTERM)


def test_a_multiplexer_that_ends_takes_the_program_with_it(shelf: Path, tmp_path: Path):
    tmux = ("tmux", "-L", f"line-{os.getpid()}", "-f", "/dev/null")
    settings = {"TMUX_TMPDIR": str(tmp_path)}
    terminal = Terminal(
        "new-session",
        " ".join((*PROGRAM, *shelf_args(shelf))),
        program=tmux,
        environment=settings,
        lines=25,  # one is the multiplexer's own
    )
    try:
        before = work(terminal)
        pid = program_pid(shelf)
    finally:
        subprocess.run([*tmux, "kill-server"], env={**os.environ, **settings}, check=True)
    assert wait_gone(pid) < MOST_CPU_S
    terminal.ended()
    assert_resumes(shelf, before)


def test_a_client_of_a_multiplexer_may_go_and_come_back(shelf: Path, tmp_path: Path):
    """The advice for bad lines: the program stays, another client finds the half-typed field."""
    tmux = ("tmux", "-L", f"back-{os.getpid()}", "-f", "/dev/null")
    settings = {"TMUX_TMPDIR": str(tmp_path)}
    command = ("new-session", "-A", "-s", "x", " ".join((*PROGRAM, *shelf_args(shelf))))
    try:
        first = Terminal(*command, program=tmux, environment=settings)
        work(first)
        pid = program_pid(shelf)
        first.kill(signal.SIGKILL)
        second = Terminal(*command, program=tmux, environment=settings)
        second.wait_for("7_")
        assert program_pid(shelf) == pid
    finally:
        subprocess.run([*tmux, "kill-server"], env={**os.environ, **settings}, check=True)
    second.ended()


def test_a_size_told_late_does_not_stay(shelf: Path):
    """A signal within the handler of another: the older size is told last, see Textual's driver."""
    terminal = Terminal(*shelf_args(shelf), program=SLOW_TO_SAY_THE_SIZE)
    work(terminal)
    for columns, lines in ((120, 40), (60, 20)):
        terminal.resize(columns, lines)
        time.sleep(0.1)
    terminal.wait_for("2 of 24 done")
    terminal.kill(signal.SIGTERM)


def test_a_storm_of_sizes_ends_with_the_right_screen(shelf: Path):
    terminal = Terminal("-c", UNDER_A_SHELL, "sh", *PROGRAM, *shelf_args(shelf), program=("sh",))
    before = work(terminal)
    sizes = ((10, 5), (200, 60), (1, 1), (60, 20), (59, 19), (120, 40), (80, 2), (2, 80))
    for number in range(100):
        terminal.resize(*sizes[number % len(sizes)])
        if number % 10 == 0:
            terminal.read(0.002)
    for columns, lines in ((60, 20), (120, 40), (80, 24)):
        terminal.resize(columns, lines)
        terminal.wait_for("2 of 24 done")
        terminal.wait_for("7_")
    terminal.send("<backspace>")
    terminal.settle()
    assert body(terminal.text()) == before
    terminal.send("71<enter>")
    terminal.wait_for("3 of 24 done")
    os.kill(program_pid(shelf), signal.SIGTERM)
    terminal.wait_for("ended with 143")
    assert saved(shelf) == ENTRIES + 1
    terminal.send("<enter>")
    terminal.ended()
