"""A terminal that was left, a process that dies: nobody reads a record off either."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.tui.screens.guard.lock import FREE_TRIES, LONGEST_PAUSE_S, pause_after

from tests.support.run import SET_UP

SOON = (
    "import sys\n"
    "from limbscribe.tui.cli import line_dialog\n"
    "from limbscribe.tui.__main__ import main\n"
    "line_dialog.MINUTE_S = 0.02\n"
    "sys.exit(main(sys.argv[1:]))\n"
)
"""The program with minutes that are 0.02 s long; by default it waits for ten."""


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shelf with one patient."""
    monkeypatch.setenv("LIMBSCRIBE_CONFIG", str(tmp_path / "config"))
    folder = tmp_path / "shelf"
    Shelf(folder).create(Patient("ZZ-41", 1961, "female", "stroke", "left"))
    return folder


def answered(shelf: Path, *lines: str, end: str = "") -> tuple[int, str]:
    """What question and answer lines say to answers behind which nothing comes any more."""
    words = [sys.executable, "-c", SOON, "enter", "ZZ-41", "--plain", "--shelf", str(shelf)]
    answers, ours = os.pipe()
    with open(answers) as given, open(ours, "w") as typed:
        typed.write("".join(f"{line}\n" for line in lines) + end)
        typed.flush()  # all is there before the program looks, however busy the machine is
        ran = subprocess.run(words, stdin=given, stdout=subprocess.PIPE, text=True, check=False)
    return ran.returncode, ran.stdout  # it left by itself: its input was open


def test_questions_nobody_answers_are_left_and_keep_what_was_accepted(shelf: Path):
    code, said = answered(shelf, *SET_UP, "62", "2", end="9")
    assert code == 0
    assert said.endswith(
        "left after 10 minutes without an answer\nleft open; everything accepted is on disk\n"
    )
    _, again = answered(shelf, "-41", "9", "r", "q")
    assert "Elbow flexors, Left: R1 -62, quality 2, R2 -9" in again


def test_before_the_session_they_are_left_too(shelf: Path):
    code, said = answered(shelf, *SET_UP[:3])
    assert code == 1
    assert said.endswith("left after 10 minutes without an answer\nnothing was begun\n")


def test_who_never_locks_is_never_left(shelf: Path, tmp_path: Path):
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "config.toml").write_text("idle_minutes = 0\n")
    words = [sys.executable, "-c", SOON, "enter", "ZZ-41", "--plain", "--shelf", str(shelf)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        assert running.stdout
        assert running.stdout.read(1)
        time.sleep(0.6)
        assert running.poll() is None
        assert running.stdin
        running.stdin.close()
        assert running.wait(timeout=600) == 1


def test_a_process_that_dies_leaves_no_core_dump(tmp_path: Path):
    """Seen from outside: its limit while it runs, and what the kernel says of its end."""
    unlimited = resource.RLIM_INFINITY
    hard = resource.getrlimit(resource.RLIMIT_CORE)[1]
    script = (
        "import os, resource, signal, sys\n"
        "from limbscribe.tui.__main__ import main\n"
        "if sys.argv[1] == 'ours': main(['--version'])\n"
        "print(resource.getrlimit(resource.RLIMIT_CORE), flush=True)\n"
        "os.kill(os.getpid(), signal.SIGABRT)\n"
    )

    def allow() -> None:
        resource.setrlimit(resource.RLIMIT_CORE, (hard, hard))

    def ended(whose: str) -> tuple[str, bool]:
        words = [sys.executable, "-c", script, whose]
        pipes = {"stdout": subprocess.PIPE, "text": True, "cwd": tmp_path, "preexec_fn": allow}
        running = subprocess.Popen(words, **pipes)
        assert running.stdout
        limits = running.stdout.read().splitlines()[-1]
        _, status = os.waitpid(running.pid, 0)
        running.returncode = status
        assert os.WTERMSIG(status) == signal.SIGABRT
        return limits, os.WCOREDUMP(status)

    assert ended("ours") == ("(0, 0)", False)
    assert not list(tmp_path.iterdir())
    if hard == unlimited:  # else nothing here would leave one, and the test above says it all
        assert ended("other")[0] == f"({unlimited}, {unlimited})"


def test_guessing_a_passphrase_gets_slow():
    """Five slips cost nothing; a thousand guesses then cost most of a day."""
    assert [pause_after(wrong) for wrong in range(FREE_TRIES)] == [0] * FREE_TRIES
    assert [pause_after(FREE_TRIES + more) for more in range(7)] == [2, 4, 8, 16, 32, 60, 60]
    assert sum(pause_after(wrong) for wrong in range(1000)) > 16 * 3600
    assert max(pause_after(wrong) for wrong in range(1000)) == LONGEST_PAUSE_S
