"""A recorder at work in a real terminal, and what a lost line leaves of both."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

from limbscribe.core.chart.checklist import shipped_checklists
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.plan import settled
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles

from tests.support.terminal import PATIENCE_S, PROGRAM, Terminal, shelf_args

CODE = "ZZ-410"
NEVER_BROKEN_OFF = (
    *(sys.executable, "-c"),
    "from limbscribe.tui.terminal import line; line.LEAVE_S = 86400; "
    "from limbscribe.tui.__main__ import main; raise SystemExit(main())",
)
"""The program without its way out of a hang: when it ends, it has ended in order."""

UNDER_A_SHELL = 'stty -g; "$@"; echo "ended with $?"; stty -g; read rest'
"""A shell that says how it found the terminal before the program and after it."""

ACCEPTED = "<enter>015<enter><enter>112<enter>52<enter>2"
"""Two stations and two fields of the third, every one accepted: ENTRIES of them."""

ENTRIES = 8

HALF = "7"
"""A digit of the next field: all that a lost line may cost."""

_MODE = re.compile(rb"\x1b\[\?([0-9;]+)([hl])")
MODES_OFF = (9, 1000, 1002, 1003, 1004, 1005, 1006, 1015, 1016, 1049, 2004, 2026, 2048)
MODES_ON = (7, 25)
"""DEC private modes as a terminal has them for a shell: 7 wraps lines, 25 shows the cursor."""


def make_shelf(folder: Path) -> str:
    """A shelf with one patient whose session has just been started; the chart's id."""
    shelf = Shelf(folder)
    chart_id = shelf.create(Patient(CODE, 1961, "female", "stroke", "left"))
    muscles = shipped_muscles()
    lower = next(c for c in shipped_checklists(muscles) if c.name.startswith("Lower limb, both"))
    # Of today: a session of another day is asked about before it goes on.
    started = datetime.now().astimezone().isoformat(timespec="seconds")
    session = Session("line", started, "KM", "JT", settled(lower, "left", muscles))
    shelf.start(chart_id, session, "JT").leave()
    return chart_id


def to_the_fields(terminal: Terminal, words: str = "of 24 done") -> str:
    """From the list of patients into the open session; the screen."""
    terminal.wait_for(f"{CODE}: s resumes")
    terminal.send("s")
    terminal.choose(CODE)
    return terminal.wait_for(words)


def work(terminal: Terminal) -> list[str]:
    """Open the session, type, and begin the next field; the screen before that."""
    to_the_fields(terminal)
    terminal.send(ACCEPTED)
    terminal.wait_for("quality 2, Hip extensors, Left")
    terminal.settle()  # the trend comes after the keys have come to rest
    before = body(terminal.text())
    terminal.send(HALF)
    terminal.wait_for(f"{HALF}_")
    return before


def assert_resumes(folder: Path, before: list[str]) -> None:
    """The next run goes on at the same field with everything that had been accepted."""
    again = Terminal(*shelf_args(folder))
    to_the_fields(again, "resumed where it was left")
    again.settle()
    assert body(again.text()) == before
    again.send("71<enter>")
    again.wait_for("3 of 24 done")
    again.send("q")
    again.wait_for("1 open session")
    again.send("q")
    assert os.WEXITSTATUS(again.ended()) == 0
    assert saved(folder) == ENTRIES + 1
    assert not list((folder / "locks").glob("*.holder"))
    subprocess.run([*PROGRAM, "verify", *shelf_args(folder)], check=True, capture_output=True)


class Shelled(Terminal):
    """The program under a shell that stays, so that the terminal outlives the program."""

    def __init__(self, folder: Path, *args: str, before: str = "") -> None:
        command = ("/bin/sh", "-c", before + UNDER_A_SHELL, "sh", *PROGRAM)
        super().__init__(*shelf_args(folder), *args, program=command)

    def program_ended(self) -> int:
        """The exit code of the program once the shell has said it."""
        # In what was written, not on the screen: a frame that was cut leaves the cursor anywhere,
        # and the words may go over the end of a line.
        end = time.monotonic() + PATIENCE_S
        while not (found := re.search(rb"ended with (\d+)\s", self.raw)):
            assert time.monotonic() < end, self.text()
            self.read()
        self.rest()
        return int(found[1])

    def assert_usable(self) -> None:
        """The terminal is as a shell wants it: modes, cursor, first screen, echo."""
        states = re.findall(r"[0-9a-f]+(?::[0-9a-f]+){10,}", self.raw.decode(errors="replace"))
        assert len(states) == 2, states
        assert states[0] == states[1], "stty -g before and after"
        assert_modes_left(self.raw)

    def close(self) -> None:
        """End the shell."""
        self.send("<enter>")
        self.ended()


def assert_modes_left(raw: bytes) -> None:
    """Every mode that a program may have set is back; the key protocol as well."""
    modes: dict[int, bytes] = {}
    for numbers, state in _MODE.findall(raw):
        modes |= dict.fromkeys(map(int, numbers.split(b";")), state)
    assert modes[1049] == b"l"
    assert [mode for mode in MODES_OFF if modes.get(mode, b"l") == b"h"] == []
    assert [mode for mode in MODES_ON if modes.get(mode, b"h") == b"l"] == []
    assert raw.count(b"\x1b[<u") == len(re.findall(rb"\x1b\[>\d+u", raw))


def program_pid(folder: Path) -> int:
    """The process that has a chart of the shelf open for entry."""
    [holder] = (folder / "locks").glob("*.holder")
    pid: int = json.loads(holder.read_bytes())["pid"]
    return pid


def cpu_s(pid: int) -> float:
    """Seconds of processor time a process has used; of one that is gone an OSError."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    if fields[0] == "Z":
        raise ProcessLookupError(pid)
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def wait_gone(pid: int) -> float:
    """Wait for a process to end; the processor seconds it used from now on.

    Raises:
        AssertionError: when it does not end in time.
    """
    end = time.monotonic() + PATIENCE_S
    used = begun = cpu_s(pid)
    while time.monotonic() < end:
        try:
            used = cpu_s(pid)
        except OSError:
            return used - begun
        time.sleep(0.02)
    os.kill(pid, signal.SIGKILL)
    raise AssertionError(f"process {pid} did not end, used {used - begun} s")


def saved(folder: Path) -> int:
    """How many entries of the open session are on disk."""
    shelf = Shelf(folder)
    [entry] = shelf.charts()
    found = shelf.look(entry.id)
    assert found is not None
    return len(found.entries)


def body(screen: str) -> list[str]:
    """The lines of an entry screen at 80x24 but for what it says about the last key."""
    return screen.splitlines()[:21]
