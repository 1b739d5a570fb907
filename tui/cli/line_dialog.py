"""The person at the other end of a command that asks and answers in lines."""

from __future__ import annotations

import select
import signal
import sys
import termios
from collections.abc import Generator, Iterable
from contextlib import contextmanager

from ...core.text import counted
from ..terminal.output import flush_out, print_out

MINUTE_S = 60.0


class Left(Exception):  # noqa: N818 - not a fault
    """The person at the other end has gone, or asked to leave."""


class LineDialog:
    """The person at the other end, who reads and types lines.

    Args:
        ascii_only: no character above 127 is shown.
        minutes: without an answer until nobody is taken to be there any more, 0 for never.
    """

    def __init__(self, ascii_only: bool, minutes: int = 0) -> None:
        self._ascii_only = ascii_only
        self._minutes = minutes
        self._sent = ""

    def ask(self, words: str) -> str:
        """Print a question without a new line, and read the answer.

        Raises:
            Left: at the end of the input, or when no answer came for too long.
        """
        print_out(words, ascii_only=self._ascii_only, end="")
        flush_out()
        with self._awaited():
            answer = sys.stdin.readline()
        if not answer:
            print_out("")
            raise Left
        answer = answer.rstrip("\r\n")
        sent, self._sent = self._sent, ""
        if sent and answer == sent:
            self.show([f"{answer} came twice and was dropped; type it again if it is meant here"])
            return self.ask(words)
        return answer

    @contextmanager
    def _awaited(self) -> Generator[None]:
        """Leave the block after the idle time: half a line that was typed by then is not kept."""

        def away(*_: object) -> None:
            count = counted(self._minutes, "minute")
            print_out("", f"left after {count} without an answer", ascii_only=self._ascii_only)
            raise Left

        before = signal.signal(signal.SIGALRM, away)
        signal.setitimer(signal.ITIMER_REAL, self._minutes * MINUTE_S)
        try:
            yield
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0)
            signal.signal(signal.SIGALRM, before)

    def not_twice(self, answer: str) -> None:
        """Drop this answer once if it comes again at once, as the answer to the next question."""
        self._sent = answer

    def drop_ahead(self) -> None:
        """Drop what was typed at a terminal ahead of a question that nobody has read yet.

        A script has its answers ready, and none of them is dropped.
        """
        if sys.stdin.isatty() and select.select([sys.stdin], [], [], 0)[0]:
            termios.tcflush(sys.stdin, termios.TCIFLUSH)
            self.show(["", "what was typed too early was dropped"])

    def show(self, lines: Iterable[str]) -> None:
        """Print lines."""
        print_out(*lines, ascii_only=self._ascii_only)
