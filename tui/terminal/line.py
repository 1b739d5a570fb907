"""The line to the terminal: the program ends when it is lost, and never hangs on it.

Everything accepted is on the disk already, so there is nothing to save here, only things to
give back: the terminal as it was found, and the chart for others. What can happen:

* A signal (a closed window, a lost SSH connection, a machine that goes down): leave.
* The terminal vanishes without a signal: the kernel reports a hang-up on it, leave.
* The terminal takes no more output, so that whoever writes to it waits for ever: after a
  while give back what can be given back and end the process.
* Ctrl-Z: the terminal is given back, and taken again when the shell brings us back.
"""

from __future__ import annotations

import os
import select
import signal
import termios
from collections.abc import Callable
from contextlib import suppress
from threading import Thread, Timer
from time import sleep
from types import FrameType
from typing import IO, Any

from .textual_private import HookedDriver

LEAVE_S = 3.0
"""s an orderly end may take; it takes about 0.3."""

LAST_S = 1.5
"""s more for an orderly end once nobody can be waiting for the terminal any longer."""

GIVE_BACK = b"\x1b[?2004l\x1b[?7h\x1b[?2048l\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l"
"""What the driver writes at an orderly end: no modes, the first screen, the cursor shown."""

LOST = 128 + signal.SIGHUP
"""Exit code when the terminal is gone: that of a shell for SIGHUP."""

SIGNALS = (signal.SIGHUP, signal.SIGTERM, signal.SIGINT)

TERMINAL = 0
"""Descriptor that the keys come from."""

SET_ASIDE = (
    "limbscribe is set aside and everything accepted is saved.\n"
    "The chart stays open for you. To come back type: fg\n"
)


class Line:
    """Watches the terminal of the process and its signals.

    Made before the driver changes the terminal's modes, so that the old ones are known.
    """

    def __init__(self) -> None:
        self._leave: Callable[[int], None] = os._exit
        self._modes: list[Any] | None = None
        with suppress(termios.error):
            self._modes = termios.tcgetattr(TERMINAL)

    def watch(self, leave: Callable[[int], None]) -> None:
        """Begin; for the main thread, which the signals come to.

        Args:
            leave: begins an orderly end with an exit code; called from any thread.
        """
        self._leave = leave
        for number in SIGNALS:
            signal.signal(number, self._signalled)
        Thread(target=self._wait_for_hang_up, name="line", daemon=True).start()

    def _signalled(self, number: int, frame: FrameType | None) -> None:
        del frame
        self._end(128 + number)

    def _wait_for_hang_up(self) -> None:
        """Sleep until the kernel says so; costs nothing meanwhile."""
        poll = select.poll()
        poll.register(TERMINAL, 0)
        poll.poll()
        _write_to_nowhere()
        self._end(LOST)

    def _end(self, code: int) -> None:
        timer = Timer(LEAVE_S, self._break_off, (code,))
        timer.daemon = True
        timer.start()
        self._leave(code)

    def _break_off(self, code: int) -> None:
        """Free whoever waits for a terminal that takes no more output; then end in any case."""
        Thread(target=_give_back, daemon=False).start()  # the end of the process waits for it
        sleep(LAST_S)  # the orderly end goes on now, most often, and this is the last of it
        with suppress(termios.error):
            if self._modes is not None:
                termios.tcsetattr(TERMINAL, termios.TCSANOW, self._modes)
        os._exit(code)


def _give_back() -> None:
    """Give back a terminal that takes no more output, by dropping what it did not take."""
    with suppress(OSError, termios.error):
        terminal = os.open(os.ttyname(TERMINAL), os.O_WRONLY | os.O_NOCTTY | os.O_NONBLOCK)
        _write_to_nowhere()
        for _ in range(2):  # once woken, the writer writes the rest of its last piece
            _drop_output()
            sleep(0.1)
        os.write(terminal, GIVE_BACK)


def _write_to_nowhere() -> None:
    """Let everything that is still to be written go nowhere, instead of failing or waiting."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    for fd in (1, 2):
        os.dup2(nowhere, fd)


def _drop_output() -> None:
    """Drop what the terminal has not taken, and wake whoever waits for room."""
    termios.tcflow(TERMINAL, termios.TCOOFF)
    termios.tcflush(TERMINAL, termios.TCOFLUSH)
    termios.tcflow(TERMINAL, termios.TCOON)


class Unfailing:
    """A terminal to write to that swallows what can no longer be shown.

    Attributes:
        pieces: how many were written, or could not be.

    Textual writes from a thread of its own. If that thread died of a vanished terminal, the
    program would wait for it for ever.
    """

    def __init__(self, file: IO[str]) -> None:
        self._file = file
        self.pieces = 0

    def write(self, text: str) -> None:
        """Write, if it can be."""
        with suppress(OSError):
            self._file.write(text)
        self.pieces += 1

    def flush(self) -> None:
        """Flush, if it can be."""
        with suppress(OSError):
            self._file.flush()

    def fileno(self) -> int:
        """The descriptor."""
        return self._file.fileno()

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._file.isatty()


class LineDriver(HookedDriver):
    """Textual's driver of a terminal, which may vanish, and may be given back for a while."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)  # pyright: ignore[reportUnknownMemberType]
        self._out = Unfailing(self.file)
        self.file = self._out
        self._aside = False
        self._handed = 0

    def write(self, data: str) -> None:
        """Hand a piece to the thread that writes it."""
        self._handed += 1
        super().write(data)

    @property
    def at_rest(self) -> bool:
        """Whether everything was written, and the terminal has nothing more to read."""
        return self._out.pieces >= self._handed and not select.select([TERMINAL], [], [], 0)[0]

    def suspend_application_mode(self) -> None:
        """Give the terminal back, and say that the program is not gone."""
        super().suspend_application_mode()
        self._aside = True
        self._handed += 1  # not through the thread
        self.file.write(SET_ASIDE)
        self.file.flush()

    def may_resume(self) -> bool:
        """Whether the terminal was given back.

        Otherwise its modes are still ours, and would be kept as those to restore at the end.
        """
        aside, self._aside = self._aside, False
        return aside


def can_be_set_aside() -> bool:
    """Whether a shell waits behind this program that can bring it back.

    A shell with job control gives its jobs process groups of their own. Without one, as in
    ``ssh -t host limbscribe``, a stopped program would leave a dead terminal.
    """
    return os.isatty(TERMINAL) and os.getpgrp() != os.getsid(0)
