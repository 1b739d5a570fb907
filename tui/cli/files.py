"""Files that the commands read and write beside the shelf."""

from __future__ import annotations

import stat
import sys
from argparse import Namespace
from collections.abc import Collection, Generator, Iterable, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import BinaryIO

from ...core.disk import opened_file
from ...core.errors import reason
from ...core.outside import NoPlainFile, in_the_way, write_set, write_whole
from ..terminal.output import DATA, USAGE, print_document, print_err
from .stop import Stop

MOST_OF_A_TABLE = 50_000_000
"""Bytes of a table of ratings or treatment dates: ten thousand patients have some millions."""


@contextmanager
def readable(path: Path) -> Generator[None]:
    """Stop the command when the file cannot be read within this block.

    Raises:
        Stop: when it cannot.
    """
    try:
        yield
    except OSError as error:
        raise Stop(USAGE, f"{path} cannot be read: {reason(error)}") from error


@contextmanager
def opened(path: Path) -> Generator[BinaryIO]:
    """Open a regular file to be read; nothing else is waited for.

    Raises:
        Stop: when it cannot be opened or is no regular file.
    """
    with ExitStack() as held:
        with readable(path):
            fd = held.enter_context(opened_file(path))
        yield held.enter_context(open(fd, "rb", closefd=False))


def table_of(path: Path) -> bytes:
    """Read a table that is held in memory as a whole.

    Raises:
        Stop: when it cannot be read, or is larger than any such table.
    """
    with opened(path) as file, readable(path):
        data = file.read(MOST_OF_A_TABLE + 1)
    if len(data) > MOST_OF_A_TABLE:
        raise Stop(USAGE, f"{path} cannot be read: it is larger than {MOST_OF_A_TABLE:,} bytes")
    return data


def output_path(
    name: str | None, more: str = "", *, replace: bool = False, advice: str = "choose another name"
) -> Path | None:
    """Find where a file is to be written, and refuse in time what cannot be written there.

    Args:
        name: as it was given.
        more: what else can be done about a file that exists, behind the advice.
        replace: a regular file of that name may be replaced.
        advice: what is to be done about one that exists.

    Returns:
        The path; None for standard output, which is also what "-" means.

    Raises:
        Stop: when something of that name exists, or no file can be written there.
    """
    if name is None or name == "-":
        return None
    if not name:
        raise Stop(USAGE, "-o '' names no file: name one, or - for standard output")
    path = Path(name)
    mode = _mode_there(path)
    if mode and not stat.S_ISREG(mode):
        raise Stop(USAGE, f"{path} was not touched: {NoPlainFile(mode).strerror}")
    if mode and not replace:
        raise _exists(path, advice + more)
    return path


def _mode_there(path: Path) -> int:
    """Find what has the name of something to be written, 0 for nothing; see output_path()."""
    try:
        return in_the_way(path)
    except FileNotFoundError as error:
        raise Stop(USAGE, f"{path} was not written: its folder is missing") from error
    except OSError as error:
        raise Stop(USAGE, f"{path} was not written: {reason(error)}") from error


def folder_path(name: str, names: Collection[str], *, replace: bool = False) -> Path:
    """Find the folder in which files are to be written; it need not be there yet.

    Args:
        name: as it was given.
        names: of the files that may be written there.
        replace: regular files of these names may be replaced.

    Raises:
        Stop: when something else has the name, one of the files exists, or none can be written.
    """
    path = Path(name) if Path(name).name else Path(name).absolute()  # "." has no name
    mode = _mode_there(path)
    if mode and not stat.S_ISDIR(mode):
        raise Stop(USAGE, f"{path} was not touched: {NoPlainFile(mode).strerror}")
    for file in names if mode else ():
        output_path(str(path / file), FORCE, replace=replace)
    return path


def write_file(path: Path, data: bytes | Iterable[bytes], *, replace: bool = False) -> None:
    """Write a new file; with ``replace`` also over a regular one that exists.

    Raises:
        Stop: when it exists, or could not be written.
    """
    try:
        write_whole(path, data, over=replace)
    except NoPlainFile as error:
        raise Stop(USAGE, f"{path} was not touched: {error.strerror}") from error
    except FileExistsError as error:
        raise _exists(path) from error
    except OSError as error:
        raise Stop(DATA, f"{path} was not written: {reason(error)}") from error


def write_folder(
    folder: Path, names: Collection[str], pieces: Iterable[tuple[str, bytes]], *, replace: bool
) -> list[str]:
    """Write files of a folder, see write_set(); with ``replace`` also over those that exist.

    Raises:
        Stop: when one exists, or could not be written.
    """
    try:
        return write_set(folder, names, pieces, replace)
    except OSError as error:
        raise Stop(DATA, f"{folder} was not written: {reason(error)}") from error


def page_path(args: Namespace) -> Path | None:
    """Find where a page is to be written, None for stdout.

    Args:
        args: with output, force and format.

    Raises:
        Stop: when the file exists, or a PDF would go to a terminal.
    """
    path = output_path(args.output, FORCE, replace=args.force)
    if path is None and args.format == "pdf" and sys.stdout.isatty():
        raise Stop(USAGE, "a PDF is not text for a terminal: name a file with --output")
    return path


def hand_over(path: Path | None, data: bytes, what: str, *, replace: bool) -> None:
    """Write a page to its new file, or to stdout.

    Args:
        path: as page_path() found it.
        data: the page.
        what: what it is, for the word on where it went.
        replace: a regular file of that name may be replaced.

    Raises:
        Stop: when the file exists by now, or could not be written.
    """
    if path is None:
        print_document(data)
    else:
        write_file(path, data, replace=replace)
        print_err(f"{what} is written to {path}, not encrypted")


def hand_out(
    paths: Sequence[Path], documents: Sequence[bytes | Iterable[bytes]], *, replace: bool
) -> None:
    """Write documents to their new files; where no file is named, the first one to stdout.

    Raises:
        Stop: as write_file().
    """
    if not paths:
        print_document(documents[0])
    for path, data in zip(paths, documents, strict=False):
        write_file(path, data, replace=replace)
        print_err(f"written to {path}")


FORCE = ", or add --force to replace it"


def _exists(path: Path, advice: str = "choose another name") -> Stop:
    return Stop(USAGE, f"{path} exists and was not touched: {advice}")
