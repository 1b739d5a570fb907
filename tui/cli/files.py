"""Files that the commands read and write beside the shelf."""

from __future__ import annotations

from collections.abc import Generator
from contextlib import contextmanager
from pathlib import Path

from ...core.outside import write_new, write_over
from ..terminal.output import DATA, USAGE
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


def _exists(path: Path, more: str = "") -> Stop:
    return Stop(USAGE, f"{path} exists and was not touched: choose another name{more}")
