"""Files outside the shelf: reports, exports, the clinic's own tables. For their owner only.

None is ever written onto a shelf, nor in place of anything but a regular file: not of a link, a
pipe or a device. What is written appears under its name when it is whole, and not before.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Collection, Generator, Iterable
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import BinaryIO

from . import disk

MOST_BYTES = 1_000_000
"""Of a clinic's own file; the longest that come with the program are some tens of thousands."""

SHELF_FOLDERS = ("charts", "journals", "locks")
"""What is in the folder of every shelf, see shelf/places.py."""


class OnShelf(OSError):  # noqa: N818 - says what is there
    """The folder of a file to be written is part of a shelf of charts."""

    def __init__(self) -> None:
        super().__init__(0, "a shelf of charts is there, choose a folder elsewhere")


class NoPlainFile(FileExistsError):  # noqa: N818 - says what is there
    """Something that is no regular file has the name of a file to be written."""

    def __init__(self, mode: int) -> None:
        super().__init__(errno.EEXIST, f"{kind_words(mode)} has that name, choose another")


def kind_words(mode: int) -> str:
    """Say what kind of thing a name in a folder is, by its st_mode."""
    kinds = (
        (stat.S_ISREG, "a file"),
        (stat.S_ISLNK, "a symbolic link"),
        (stat.S_ISDIR, "a folder"),
        (stat.S_ISFIFO, "a named pipe"),
        (stat.S_ISSOCK, "a socket"),
    )
    return next((words for is_one, words in kinds if is_one(mode)), "a device")


def write_whole(path: Path, data: bytes | Iterable[bytes], over: bool = False) -> None:
    """Write a file, mode 0600, whole and on the disk when this returns.

    Args:
        path: where.
        data: what, or pieces of it.
        over: also in place of a regular file of that name.

    Raises:
        NoPlainFile: when something that is no regular file has that name, be it a link.
        FileExistsError: when a file has it, and it is not to be replaced.
        Unsynced: it is there, but a power cut might take it away again.
        OSError: when it cannot be written, OnShelf among them; then what was there still is.
    """
    with new_file(path, over) as fd, os.fdopen(os.dup(fd), "wb") as file:
        file.writelines([data] if isinstance(data, bytes) else data)


def write_set(
    folder: Path, names: Collection[str], pieces: Iterable[tuple[str, bytes]], over: bool = False
) -> list[str]:
    """Write files of a folder side by side; the folder is made when it is missing.

    All are written out before the first gets its name. A name without a piece is no file.

    Args:
        folder: outside any shelf; its own folder exists.
        names: what may be written.
        pieces: the file that each belongs to, one of the names, and the bytes.
        over: in place of regular files of these names; those without a piece are removed.

    Returns:
        What was written, in the order of the names.

    Raises:
        OSError: as write_whole().
    """
    missing = not in_the_way(folder)
    if missing:
        folder.mkdir(mode=0o700)
    try:
        with ExitStack() as stack:
            files: dict[str, BinaryIO] = {}
            for name, data in pieces:
                if name not in files:
                    fd = stack.enter_context(new_file(folder / name, over))
                    files[name] = stack.enter_context(os.fdopen(os.dup(fd), "wb"))
                files[name].write(data)
            for file in files.values():
                file.flush()
    except BaseException:
        if missing:
            with suppress(OSError):  # only when it is empty
                folder.rmdir()
        raise
    for name in names if over else ():
        if name not in files and stat.S_ISREG(in_the_way(folder / name)):
            (folder / name).unlink()
    return [name for name in names if name in files]


def read_small(path: Path) -> str:
    """Read the text of one of the clinic's own files; nothing else is opened, or waited for.

    Raises:
        OSError: when it cannot be read, is no regular file or larger than MOST_BYTES.
        UnicodeDecodeError: when it is not UTF-8.
    """
    with disk.opened_file(path) as fd:
        data = disk.read_at(fd, 0, MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise OSError(0, f"it is larger than {MOST_BYTES:,} bytes")
    return data.decode("utf-8")


@contextmanager
def new_file(path: Path, over: bool = False) -> Generator[int]:
    """A descriptor for a file outside any shelf, mode 0600; it appears only when complete.

    Args:
        path: the file.
        over: a regular file of that name is replaced.

    Raises:
        FileExistsError: when something of that name exists; it is left as it is.
        Unsynced: the file is there but its folder could not be flushed.
        OSError: when it cannot be written; then it is not there.
    """
    dir_fd = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _refuse_shelf(dir_fd)
        disk.sweep_own(dir_fd)
        with disk.whole_file(path.name, dir_fd, partial(_publish, over=over)) as fd:
            yield fd
    finally:
        disk.close(dir_fd)


def in_the_way(path: Path) -> int:
    """st_mode of what has the name of a file to be written, 0 for nothing.

    Raises:
        OSError: when no file of that name can be written, OnShelf among them.
    """
    dir_fd = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _refuse_shelf(dir_fd)
        return _mode_of(path.name, dir_fd)
    finally:
        disk.close(dir_fd)


def _mode_of(name: str, dir_fd: int) -> int:
    try:
        return os.stat(name, dir_fd=dir_fd, follow_symlinks=False).st_mode
    except FileNotFoundError:
        return 0


def _refuse_shelf(dir_fd: int) -> None:
    """Look for a shelf in an open folder and those above; a path may lead elsewhere by now."""
    here = os.dup(dir_fd)
    try:
        while True:
            if all(stat.S_ISDIR(_mode_of(name, here)) for name in SHELF_FOLDERS):
                raise OnShelf
            above = os.open("..", _LOOK, dir_fd=here)
            if os.path.samestat(os.fstat(above), os.fstat(here)):
                disk.close(above)
                return
            disk.close(here)
            here = above
    except PermissionError:  # nobody may look further up
        pass
    finally:
        disk.close(here)


_LOOK = getattr(os, "O_PATH", os.O_RDONLY) | os.O_DIRECTORY | os.O_CLOEXEC
"""Flags of a folder that is only passed through; its names need not be readable."""


def _publish(temp: str, name: str, dir_fd: int, over: bool) -> None:
    """Give a temporary file its name; in place of another file only where that is wanted."""
    mode = _mode_of(name, dir_fd)
    if mode and not stat.S_ISREG(mode):
        raise NoPlainFile(mode)
    if over:
        disk.rename(temp, name, dir_fd)
        return
    try:
        os.link(temp, name, src_dir_fd=dir_fd, dst_dir_fd=dir_fd, follow_symlinks=False)
    except FileExistsError:
        raise
    except OSError as error:  # a file system without hard links, such as that of many USB sticks
        if _mode_of(name, dir_fd):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), name) from error
        disk.rename(temp, name, dir_fd)
        return
    with suppress(OSError):  # the file has its name; the next one that is made here clears it away
        os.unlink(temp, dir_fd=dir_fd)
