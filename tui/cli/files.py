"""Files that the commands read and write beside the shelf."""

from __future__ import annotations

import sys
from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from ...core.outside import write_new, write_over
from ..terminal.output import DATA, USAGE, print_document, print_err
from .stop import Stop


@contextmanager
def readable(path: Path) -> Generator[None]:
    """Stop the command when the file cannot be read within this block.

    Raises:
        Stop: when it cannot.
    """
    try:
        yield
    except OSError as error:
        raise Stop(USAGE, f"{path} cannot be read: {error.strerror}") from error


def refuse_existing(path: Path, more: str = "") -> None:
    """Stop the command when a file to be written exists, be it a dead link.

    Args:
        path: the file.
        more: what else can be done about it, behind "choose another name".

    Raises:
        Stop: when it exists.
    """
    if path.exists() or path.is_symlink():
        raise _exists(path, more)


def write_file(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a new file; with ``replace`` also over one that exists.

    Raises:
        Stop: when it exists, or could not be written.
    """
    try:
        (write_over if replace else write_new)(path, data)
    except FileExistsError as error:
        raise _exists(path) from error
    except OSError as error:
        raise Stop(DATA, f"{path} was not written: {error.strerror}") from error


def page_path(name: str | None, pdf: bool) -> Path | None:
    """Find where a page is to be written, None for stdout.

    Args:
        name: of the file, as it was given.
        pdf: the page is a PDF.

    Raises:
        Stop: when the file exists, or a PDF would go to a terminal.
    """
    path = Path(name) if name else None
    if path:
        refuse_existing(path)
    elif pdf and sys.stdout.isatty():
        raise Stop(USAGE, "a PDF is not text for a terminal: name a file with --output")
    return path


def hand_over(path: Path | None, data: bytes, what: str) -> None:
    """Write a page to its new file, or to stdout.

    Args:
        path: as page_path() found it.
        data: the page.
        what: what it is, for the word on where it went.

    Raises:
        Stop: when the file exists by now, or could not be written.
    """
    if path is None:
        print_document(data)
    else:
        write_file(path, data)
        print_err(f"{what} is written to {path}, not encrypted")


def _exists(path: Path, more: str = "") -> Stop:
    return Stop(USAGE, f"{path} exists and was not touched: choose another name{more}")
