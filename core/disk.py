"""System calls on files that do not ask whose they are: the shelf's, or ones outside it.

A file appears only once it is complete: a temporary file in the same folder is written, flushed
and closed, and gets its name then. After that the folder is flushed, since a name lies there.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from .errors import Unsynced
from .process import is_running

FILE_MODE = 0o600
FOLDER_MODE = 0o700
WRITING = 0o200
"""The right that an owner takes from files and folders that are to stay as they are."""

MAX_BYTES = 64 * 1024 * 1024
"""Larger than any chart could honestly become; refused before it fills the memory."""

SAFE = os.O_NOFOLLOW | os.O_CLOEXEC
"""Flags of every file that is opened by its name in a folder."""

NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | SAFE
"""Flags of every file that is made."""

_FOREIGN_TEMP_AGE_S = 3600
_LONGEST_BEGIN = 150
"""Bytes of a file's name in that of its temporary file; what else is in it takes at most 50."""
_TEMP = re.compile(r"\..+\.([0-9a-f]{8})-(\d+)-[0-9a-f]{16}\.tmp")


class Found(NamedTuple):  # ten thousand of them are made for one list of charts
    """One entry of a folder.

    Attributes:
        name: file name.
        mode: type and permission bits, st_mode.
        size: bytes.
        mtime_ns: last change, ns.
        inode: inode number; a replaced file has a new one.
    """

    name: str
    mode: int
    size: int
    mtime_ns: int
    inode: int


def closed_above(path: Path) -> Path | None:
    """Find the folder on the way to a path that this account may not enter, None for none."""
    for folder in reversed(path.absolute().parents):
        try:
            os.stat(f"{folder}/.")
        except PermissionError:
            return folder
        except OSError:  # whoever opens it is told
            return None
    return None


@contextmanager
def opened_file(path: Path) -> Generator[int]:
    """A descriptor of a regular file outside the shelf, to be read.

    Raises:
        OSError: when it cannot be opened or is no regular file.
    """
    fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
    try:
        if not stat.S_ISREG(os.fstat(fd).st_mode):
            raise OSError(0, "it is no regular file")
        yield fd
    finally:
        close(fd)


def read_at(fd: int, offset: int, size: int) -> bytes:
    """``size`` bytes from ``offset`` on; fewer when the file ends before."""
    chunks: list[bytes] = []
    while size > 0 and (chunk := os.pread(fd, size, offset)):
        chunks.append(chunk)
        offset, size = offset + len(chunk), size - len(chunk)
    return b"".join(chunks)


def write_all(fd: int, data: bytes) -> None:
    """Write every byte; a short write is continued, and one of nothing is an error."""
    rest = memoryview(data)
    while rest:
        written = os.write(fd, rest)
        if written <= 0:
            raise OSError(0, "the disk took no more bytes")
        rest = rest[written:]


def sync(fd: int) -> None:
    """Flush a file to the disk."""
    os.fsync(fd)


def close(fd: int) -> None:
    """Close a descriptor that has nothing left to write; what it says then means nothing."""
    with suppress(OSError):
        os.close(fd)


def size_of_linked(fd: int) -> int:
    """Size of an open file, bytes; -1 when it no longer has exactly one name."""
    found = os.fstat(fd)
    return found.st_size if found.st_nlink == 1 else -1


def sync_folder(fd: int) -> None:
    """Flush the names in an open folder to the disk.

    Raises:
        Unsynced: when the disk refused.
    """
    try:
        os.fsync(fd)
    except OSError as error:
        raise Unsynced(error.errno, error.strerror) from error


def rename(old: str, new: str, dir_fd: int) -> None:
    """Give a file of an open folder another name, in place of a file that has it."""
    os.rename(old, new, src_dir_fd=dir_fd, dst_dir_fd=dir_fd)


@contextmanager
def whole_file(
    name: str, dir_fd: int, publish: Callable[[str, str, int], None] = rename
) -> Generator[int]:
    """A descriptor for a file of an open folder that appears only when complete, mode 0600.

    Args:
        name: of the file.
        dir_fd: the folder.
        publish: gives a temporary file that name, of the same folder.

    Raises:
        Unsynced: the file is in place but the folder could not be flushed.
        OSError: nothing has changed.
    """
    temp = temp_name(name)
    try:
        fd = os.open(temp, NEW, FILE_MODE, dir_fd=dir_fd)
    except OSError as error:
        error.filename = name  # what people know it by
        raise
    try:
        try:
            os.fchmod(fd, FILE_MODE)  # a umask may have taken rights from us
            yield fd
            os.fsync(fd)
        finally:
            os.close(fd)
        publish(temp, name, dir_fd)
    except BaseException:
        with suppress(OSError):
            os.unlink(temp, dir_fd=dir_fd)
        raise
    sync_folder(dir_fd)


def _host_tag() -> str:
    return hashlib.sha256(os.uname().nodename.encode()).hexdigest()[:8]


def temp_name(name: str) -> str:
    """A name for a temporary file that is to become ``name``; it says who writes it.

    A long name is cut in it, so that it is no longer than a name may be.
    """
    begin = os.fsencode(name)[:_LONGEST_BEGIN].decode("utf-8", "ignore")
    return f".{begin}.{_host_tag()}-{os.getpid()}-{os.urandom(8).hex()}.tmp"


def sweep_own(dir_fd: int) -> None:
    """Remove what dead processes of this machine left of temporary files in an open folder."""
    for name in os.listdir(dir_fd):
        match = _TEMP.fullmatch(name)
        if match and match.group(1) == _host_tag() and is_stale(Found(name, 0, 0, 0, 0)):
            with suppress(OSError):
                os.unlink(name, dir_fd=dir_fd)


def is_temp(name: str) -> bool:
    """Whether a name is that of a temporary file."""
    return _TEMP.fullmatch(name) is not None


def is_stale(found: Found) -> bool:
    """Whether a temporary file's writer is dead.

    A writer on another machine cannot be asked, so there the age decides.
    """
    match = _TEMP.fullmatch(found.name)
    if match is None:
        return False
    if match.group(1) != _host_tag():
        return time.time() - found.mtime_ns / 1e9 > _FOREIGN_TEMP_AGE_S
    return not is_running(int(match.group(2)))
