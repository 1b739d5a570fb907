"""The installed program in a real pseudo-terminal, with pyte as its screen."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from contextlib import suppress
from pathlib import Path

import pyte
from limbscribe.core.entry.state import SLOW_ENOUGH_S
from limbscribe.tui.screens.entry.screen import REST_S

from tests.support.both import place_of

KEYS = {
    "<enter>": "\r",
    "<tab>": "\t",
    "<backspace>": "\x7f",
    "<escape>": "\x1b",
    "<up>": "\x1b[A",
    "<down>": "\x1b[B",
    "<right>": "\x1b[C",
    "<left>": "\x1b[D",
    "<pageup>": "\x1b[5~",
    "<pagedown>": "\x1b[6~",
    "<home>": "\x1b[H",
    "<end>": "\x1b[F",
    "<f2>": "\x1bOQ",
}

PROGRAM = (sys.executable, "-m", "limbscribe.tui")

PASSED_ON = ("PATH", "HOME", "COVERAGE_", "XDG_STATE_HOME")
"""Beginnings of the names of variables that the program gets from us."""

LOOK_S = 0.03
"""s between two looks at whether the program is at rest; it looks at the line more often."""

DRAWN_S = 1.1 * REST_S
"""s of quiet until also that is drawn which waits for the keys to come to rest, as a trend."""

LOOKS = 3
"""Looks in a row that must find it at rest; keys typed sooner may be dropped."""

PATIENCE_S = 120.0
"""How long to wait for what must come; so long that also a busy machine gets there."""


class Terminal:
    """One run of the program.

    Attributes:
        screen: what a person would see.
        raw: every byte the program has written.
    """

    def __init__(
        self,
        *args: str,
        columns: int = 80,
        lines: int = 24,
        environment: dict[str, str] | None = None,
        program: tuple[str, ...] = PROGRAM,
    ) -> None:
        self.screen = pyte.Screen(columns, lines)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        settings = {
            "TERM": "xterm-256color",
            "LANG": "C.UTF-8",
            **{name: value for name, value in os.environ.items() if name.startswith(PASSED_ON)},
            **(environment or {}),
        }
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            os.execvpe(program[0], [*program, *args], settings)
        self.resize(columns, lines)

    def resize(self, columns: int, lines: int) -> None:
        """Give the terminal another size in cells."""
        self.screen.resize(lines, columns)
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))

    def read(self, seconds: float = 0.05) -> int:
        """Take in what the program writes until it is quiet for a while; bytes read."""
        count = 0
        while select.select([self._fd], [], [], seconds)[0]:
            try:
                data = os.read(self._fd, 65536)
            except OSError:  # Linux says EIO when the other end is gone
                break
            if not data:
                break
            count += len(data)
            self.raw += data
            self._stream.feed(data)
        return count

    def settle(self, seconds: float = DRAWN_S, looks: int = 1) -> None:
        """Take in what comes until it is quiet for a while and everything below us sleeps.

        Quiet alone says little: on a busy machine a program waits for its turn as well.
        """
        end, quiet = time.monotonic() + PATIENCE_S, 0
        while quiet < looks:
            assert time.monotonic() < end, f"never at rest:\n{self.text()}"
            quiet = 0 if self.read(seconds) or not _all_asleep(self.pid) else quiet + 1

    def rest(self) -> None:
        """Take in what comes until a key that is typed is taken, also on a busy machine."""
        self.settle(LOOK_S, LOOKS)

    _entered = False

    def send(self, script: str) -> None:
        """Type a script: named keys in angle brackets, all else as it stands.

        One Enter behind another waits a little, or the entry takes it for a key that bounces;
        first until the one before was taken, which a busy machine may do late.
        """
        for part in re.split("(?<=<enter>)(?=<enter>)", script):
            if self._entered and part.startswith("<enter>"):
                self.settle(0.05)
                time.sleep(1.2 * SLOW_ENOUGH_S)
            self._entered = part.endswith("<enter>")
            for name, code in KEYS.items():
                part = part.replace(name, code)
            os.write(self._fd, part.encode())

    def wait_for(self, words: str, seconds: float = PATIENCE_S) -> str:
        """Read until the words are on the screen; the whole screen as text.

        Raises:
            AssertionError: with the screen, when they do not come in time.
        """
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.read(0.01)
            if words in self.text():
                self.rest()
                return self.text()
        raise AssertionError(f"{words!r} did not come:\n{self.text()}")

    def choose(self, code: str) -> None:
        """Say that this is the patient, as it is asked before every session."""
        self.wait_for(f"characters of {code} to go on")
        self.send(f"{code[-3:]}<enter>")
        self.rest()
        if "was begun on another day" in self.text():  # midnight has come since
            self.send("y")

    def text(self) -> str:
        """The screen as lines of text."""
        return "\n".join(line.rstrip() for line in self.screen.display)

    def kill(self, number: int = signal.SIGKILL) -> int:
        """End the program with a signal; its wait status."""
        os.kill(self.pid, number)
        return self.ended()

    def hang_up(self) -> None:
        """Take the terminal away, as a closed window or a lost connection does."""
        os.close(self._fd)

    def ended(self, seconds: float = PATIENCE_S) -> int:
        """The wait status once the program has ended.

        Raises:
            AssertionError: when it does not end in time.
        """
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.read(0.02)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                os.close(self._fd)
                return status
        os.kill(self.pid, signal.SIGKILL)
        raise AssertionError(f"the program did not end:\n{self.text()}")


def _all_asleep(session: int) -> bool:
    """Whether no thread of a session has anything to do."""
    for pid in filter(str.isdigit, os.listdir("/proc")):
        with suppress(OSError):  # it ended meanwhile
            if os.getsid(int(pid)) != session:
                continue
            threads = [one.read_text() for one in Path("/proc", pid).glob("task/*/stat")]
            if any(one.rpartition(")")[2].split()[0] not in "SZT" for one in threads):
                return False
    return True


def shelf_args(folder: Path) -> tuple[str, str]:
    """The arguments that choose a shelf."""
    return ("--shelf", place_of(folder))
