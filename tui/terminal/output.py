"""How the commands speak: data to stdout, messages to stderr, files for the owner only."""

from __future__ import annotations

import errno
import os
import re
import sys
from collections.abc import Generator, Iterable
from contextlib import contextmanager, suppress
from time import monotonic
from typing import TextIO

from ...core.text import visible

OK, DATA, USAGE = 0, 1, 2
"""Exit codes: all well, something is wrong with the data, used wrongly."""

_COLOUR = re.compile("(\x1b\\[3[0-9]m)")
"""A change of the colour of text, and nothing more."""

_EVERY_S = 2.0
"""Seconds between two lines of progress."""

_BAR = 20
"""Cells of the bar of progress, each of them 5 %."""


def print_out(*lines: str, ascii_only: bool = False, end: str = "\n") -> None:
    """Print lines of data on stdout, nothing in them able to steer a terminal."""
    with _onto_stdout():
        for line in lines:
            _print(line, sys.stdout, ascii_only, end)


def print_coloured(*lines: str, ascii_only: bool = False) -> None:
    """Print lines of data on stdout; changes of colour act, everything else cannot."""
    for line in lines:
        for piece in _COLOUR.split(line):
            if _COLOUR.fullmatch(piece):
                with _onto_stdout():
                    print(piece, end="")
            else:
                print_out(piece, ascii_only=ascii_only, end="")
        print_out("")


def print_err(*messages: object) -> None:
    """Print messages on stderr; where that takes nothing, nobody is there to be told."""
    for message in messages:
        if sys.stderr is not None:  # pyright: ignore[reportUnnecessaryComparison]
            with suppress(OSError):
                _print(f"limbscribe: {message}", sys.stderr, False, "\n")


def flush_out() -> None:
    """Hand on what was printed until now.

    Raises:
        NoOutput: when it goes nowhere.
    """
    with _onto_stdout():
        sys.stdout.flush()


def is_closed() -> bool:
    """Whether the program was started without a standard output."""
    return sys.stdout is None  # pyright: ignore[reportUnnecessaryComparison]


def drop_output() -> None:
    """Keep Python from flushing into the void at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class NoOutput(Exception):  # noqa: N818 - says what is missing
    """Standard output takes nothing, or no more; says why."""


@contextmanager
def _onto_stdout() -> Generator[None]:
    """Make of trouble with stdout what it is; a reader who has gone is none."""
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        if error.errno == errno.ENOSPC:
            raise NoOutput("no space left on standard output") from error
        from ...core.errors import reason  # not needed by --help, which is to be quick

        raise NoOutput(f"standard output takes no more: {reason(error)}") from error


class Progress:
    """Reports how far a long command is: a line now and then, none in a short one.

    Args:
        of_what: what is counted, e.g. "rows".
    """

    def __init__(self, of_what: str) -> None:
        self._of_what = of_what
        self._next = monotonic() + _EVERY_S

    def __call__(self, what: str, done: int, of: int) -> None:
        """Report it, if it is time.

        Args:
            what: what was done with them.
            done: with how many.
            of: of how many, 0 while that is not known.
        """
        if monotonic() < self._next:
            return
        self._next = monotonic() + _EVERY_S
        if of:
            full = _BAR * done // of
            print_err(
                f"[{'#' * full}{'.' * (_BAR - full)}] {done:,} of {of:,} {self._of_what} {what}"
            )
        else:
            print_err(f"{done:,} {self._of_what} {what}")


def _print(text: str, stream: TextIO, ascii_only: bool, end: str) -> None:
    # What the terminal's character set lacks is shown as an escape instead of failing.
    encoding = "ascii" if ascii_only else (stream.encoding or "utf-8")
    shown = visible(text).encode(encoding, "backslashreplace").decode(encoding)
    print(shown, file=stream, end=end)


def print_document(data: bytes | Iterable[bytes]) -> None:
    """Write a document, or its pieces, to stdout: as it is to a file, harmless to a terminal."""
    pieces = [data] if isinstance(data, bytes) else data
    if sys.stdout.isatty():
        data = b"".join(pieces)
        # A form feed only parts the pages of a printer.
        text = data.decode("utf-8", "backslashreplace").replace("\f", "")
        for line in text.removesuffix("\n").split("\n"):
            print_out(line.removesuffix("\r"))
        return
    with _onto_stdout():
        sys.stdout.flush()
        for piece in pieces:
            sys.stdout.buffer.write(piece)
        sys.stdout.buffer.flush()


def print_json(document: dict[str, object]) -> None:
    """Write a JSON document to stdout."""
    from ...core.exchange.json_export import render

    print_document(render(document))


def version() -> str:
    """The program's version."""
    from importlib.metadata import version

    return version("limbscribe")
