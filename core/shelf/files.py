"""Every system call of the shelf that touches the disk, in one place.

A folder is opened afresh for each operation, without following a symbolic link, and files
are reached through its descriptor: a link put in its place is refused and never followed.
Files are replaced whole: a temporary file in the same folder is written, flushed, closed,
renamed over the old one, and then the folder is flushed. Only after that is it saved.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import stat
import time
from collections.abc import Callable, Generator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from ..errors import ShelfError, Unsynced
from ..process import is_running
from .codec import PLAIN, Codec, Place

FILE_MODE = 0o600
FOLDER_MODE = 0o700
MAX_BYTES = 64 * 1024 * 1024
"""Larger than any chart could honestly become; refused before it fills the memory."""

_FOREIGN_TEMP_AGE_S = 3600
_SAFE = os.O_NOFOLLOW | os.O_CLOEXEC
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


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder of the shelf: the shelf itself, or one below it.

    Attributes:
        root: the shelf's own folder, absolute.
        parts: names below it, () for the shelf itself.
        codec: how what is written here is kept.
    """

    root: Path
    parts: tuple[str, ...] = ()
    codec: Codec = PLAIN

    def sub(self, name: str) -> Folder:
        """A folder in this folder."""
        return Folder(self.root, (*self.parts, name), self.codec)

    def at(self, parts: tuple[str, ...]) -> Folder:
        """Another folder of the same shelf."""
        return Folder(self.root, parts, self.codec)

    def place(self, name: str) -> Place:
        """Where a file of this folder is, below the shelf."""
        return (*self.parts, name)

    def path(self, name: str = "") -> Path:
        """The path of a file here; for messages and locks, not for reading or writing."""
        return self.root.joinpath(*self.parts, name)

    @contextmanager
    def opened(self) -> Generator[int]:
        """A descriptor of the folder, every step checked: no link, ours, nobody else writes.

        Raises:
            ShelfError: when the folder is not safe to use, or the shelf has another key.
            OSError: when it cannot be opened.
        """
        fd = _open_folder(self.root, str(self.root), None)
        try:
            self.codec.agree(fd)
            for part in self.parts:
                outer, fd = fd, _open_folder(self.root, part, fd)
                close(outer)
            yield fd
        finally:
            close(fd)


def _open_folder(root: Path, name: str, dir_fd: int | None) -> int:
    try:
        fd = os.open(name, os.O_RDONLY | os.O_DIRECTORY | _SAFE, dir_fd=dir_fd)
    except OSError as error:
        if error.errno not in (errno.ENOTDIR, errno.ELOOP):
            raise
        where = root if dir_fd is None else root / name
        raise ShelfError(
            f"{where} is a symbolic link or no folder: nothing was changed, "
            "name the real folder of the shelf"
        ) from error
    try:
        _refuse_shared(root, os.fstat(fd))
    except BaseException:
        close(fd)
        raise
    return fd


def _refuse_shared(root: Path, found: os.stat_result) -> None:
    if found.st_uid != os.geteuid():
        raise ShelfError(
            f"{root} belongs to another account: nothing was changed, choose a folder of your own"
        )
    if found.st_mode & 0o022:
        raise ShelfError(
            f"other accounts may write to {root}: nothing was changed, "
            f"close it with chmod 700 {root} and look whether the charts are as you left them"
        )


def make_tree(root: Path, names: tuple[tuple[str, ...], ...], codec: Codec = PLAIN) -> None:
    """Make the shelf's folder and those below it, open to this account alone.

    A folder that is there may be so only since a process died between making and flushing
    it. So until the last one exists, each is flushed anew, and those above the shelf too.

    Args:
        root: the shelf's folder, absolute.
        names: the folders below it, each after the one it lies in; nothing in the last one
            has to survive a power cut.
        codec: that of the shelf.

    Raises:
        ShelfError: when a folder that exists is not safe to use.
        OSError: when a folder cannot be made or flushed.
    """
    whole = root.joinpath(*names[-1]).is_dir()
    for folder in (*reversed(root.parents), root):
        _make(str(folder), None)
    if not whole:
        _flush_above(root)
    with Folder(root, (), codec).opened() as fd:
        _refuse_strange(root, fd, names[0][0])
        _make_private(fd)
    for parts in names:
        with Folder(root, parts[:-1], codec).opened() as fd:
            if _make(parts[-1], fd) or not whole:
                os.fsync(fd)
        with Folder(root, parts, codec).opened() as fd:
            _make_private(fd)


def _flush_above(root: Path) -> None:
    for folder in root.parents:
        try:
            fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        except PermissionError:  # then this account has made nothing in it either
            continue
        try:
            os.fsync(fd)
        except OSError as error:
            if error.errno != errno.EINVAL:  # a file system that does not flush folders
                raise
        finally:
            close(fd)


def _refuse_strange(root: Path, fd: int, first: str) -> None:
    """A folder with other things in it, a home folder say, is not turned into a shelf."""
    found = os.listdir(fd)
    if found and first not in found:
        raise ShelfError(
            f"{root} is not empty and is no shelf: nothing was changed, "
            "name a new folder, an empty one, or the shelf itself"
        )


def _make_private(fd: int) -> None:
    if stat.S_IMODE(os.fstat(fd).st_mode) != FOLDER_MODE:
        os.fchmod(fd, FOLDER_MODE)


def _make(name: str, dir_fd: int | None) -> bool:
    """Make one folder unless something of that name exists; whether it was made."""
    try:
        os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
    except FileNotFoundError:
        with suppress(FileExistsError):  # another process was quicker
            os.mkdir(name, FOLDER_MODE, dir_fd=dir_fd)
        return True
    return False


def read(folder: Folder, name: str) -> bytes:
    """The whole content of a file; raises like read_kept()."""
    return folder.codec.decode(folder.place(name), read_kept(folder, name))


def read_kept(folder: Folder, name: str) -> bytes:
    """The bytes of a regular file as they are kept.

    Raises:
        OSError: when it is missing, a link, no regular file, too large, or unreadable.
    """
    with folder.opened() as dir_fd:
        fd = os.open(name, os.O_RDONLY | os.O_NONBLOCK | _SAFE, dir_fd=dir_fd)
        try:
            found = os.fstat(fd)
            if not stat.S_ISREG(found.st_mode) or found.st_size > MAX_BYTES:
                raise OSError(0, "it is no regular file of a believable size")
            chunks: list[bytes] = []
            while chunk := os.read(fd, 1 << 20):
                chunks.append(chunk)
            return b"".join(chunks)
        finally:
            close(fd)


def exists(folder: Folder, name: str) -> bool:
    """Whether the folder has an entry of that name, of whatever kind."""
    with folder.opened() as dir_fd:
        try:
            os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
        except FileNotFoundError:
            return False
        return True


def listing(folder: Folder, wanted: Callable[[str], object] = bool) -> list[Found]:
    """Every entry of a folder whose name is wanted, in no order; links are not followed."""
    found: list[Found] = []
    with folder.opened() as dir_fd, os.scandir(dir_fd) as entries:
        for entry in entries:
            if not wanted(entry.name):
                continue
            try:
                s = entry.stat(follow_symlinks=False)
            except FileNotFoundError:  # gone since the listing began
                continue
            found.append(Found(entry.name, s.st_mode, s.st_size, s.st_mtime_ns, s.st_ino))
    return found


def replace(folder: Folder, name: str, data: bytes) -> None:
    """Write a file whole; raises like replace_kept()."""
    replace_kept(folder, name, folder.codec.encode(folder.place(name), data))


def replace_kept(folder: Folder, name: str, data: bytes) -> None:
    """Write the bytes of a file as they are to be kept.

    Readers see the old one or the new one, never anything between.

    Raises:
        Unsynced: the new version is in place but the folder could not be flushed.
        OSError: nothing has changed.
    """
    with folder.opened() as dir_fd:
        temp = _temp_name(name)
        fd = os.open(temp, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _SAFE, FILE_MODE, dir_fd=dir_fd)
        try:
            try:
                os.fchmod(fd, FILE_MODE)  # a umask may have taken rights from us
                write_all(fd, data)
                os.fsync(fd)
            finally:
                os.close(fd)
            os.rename(temp, name, src_dir_fd=dir_fd, dst_dir_fd=dir_fd)
        except BaseException:
            with suppress(OSError):
                os.unlink(temp, dir_fd=dir_fd)
            raise
        _sync_folder(dir_fd)


def remove(folder: Folder, name: str) -> None:
    """Remove a file for good: the folder is flushed before this returns."""
    with folder.opened() as dir_fd:
        os.unlink(name, dir_fd=dir_fd)
        _sync_folder(dir_fd)


def move(folder: Folder, name: str, to: Folder, new_name: str) -> None:
    """Move a file between two folders of the shelf; both are flushed."""
    with folder.opened() as source, to.opened() as target:
        os.rename(name, new_name, src_dir_fd=source, dst_dir_fd=target)
        _sync_folder(target)
        _sync_folder(source)


def ensure_folder(folder: Folder, name: str) -> Folder:
    """A folder in this one, made when it is missing, open to this account alone."""
    inner = folder.sub(name)
    with folder.opened() as fd:
        _make(name, fd)
        os.fsync(fd)  # also of one that a process made that died before its flush
    with inner.opened() as fd:
        _make_private(fd)
    return inner


def remove_folder(folder: Folder, name: str) -> None:
    """Remove an empty folder for good."""
    with folder.opened() as dir_fd:
        os.rmdir(name, dir_fd=dir_fd)
        _sync_folder(dir_fd)


@contextmanager
def new_file(path: Path) -> Generator[int]:
    """A descriptor for a new file outside the shelf, mode 0600; it appears only when whole.

    Raises:
        FileExistsError: when something of that name exists; it is left as it is.
        Unsynced: the file is there but its folder could not be flushed.
        OSError: when it cannot be written; then it is not there.
    """
    dir_fd = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _sweep_own(dir_fd)
        temp = _temp_name(path.name)
        fd = os.open(temp, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _SAFE, FILE_MODE, dir_fd=dir_fd)
        try:
            try:
                os.fchmod(fd, FILE_MODE)
                yield fd
                os.fsync(fd)
            finally:
                os.close(fd)
            _publish(temp, path.name, dir_fd)
        except BaseException:
            with suppress(OSError):
                os.unlink(temp, dir_fd=dir_fd)
            raise
        _sync_folder(dir_fd)
    finally:
        close(dir_fd)


def _publish(temp: str, name: str, dir_fd: int) -> None:
    """Give a temporary file its name, never in place of another file."""
    try:
        os.link(temp, name, src_dir_fd=dir_fd, dst_dir_fd=dir_fd, follow_symlinks=False)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links, such as that of many USB sticks
        try:
            os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
        except FileNotFoundError:
            os.rename(temp, name, src_dir_fd=dir_fd, dst_dir_fd=dir_fd)
            return
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), name) from None
    with suppress(OSError):  # the file has its name; the next one that is made here clears it away
        os.unlink(temp, dir_fd=dir_fd)


def _sweep_own(dir_fd: int) -> None:
    """Remove what dead processes of this machine left of files like new_file()'s."""
    for name in os.listdir(dir_fd):
        match = _TEMP.fullmatch(name)
        if match and match.group(1) == _host_tag() and is_stale(Found(name, 0, 0, 0, 0)):
            with suppress(OSError):
                os.unlink(name, dir_fd=dir_fd)


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


def flush(folder: Folder) -> None:
    """Make every name in a folder last, also those that a process gave that died since.

    What such a process had renamed is shown by the system and may not be on the disk yet.
    """
    with folder.opened() as dir_fd:
        _sync_folder(dir_fd)


def open_append(folder: Folder, name: str) -> int:
    """A descriptor that writes at the end of an existing file. The caller closes it."""
    with folder.opened() as dir_fd:
        return os.open(name, os.O_WRONLY | os.O_APPEND | _SAFE, dir_fd=dir_fd)


def truncate(folder: Folder, name: str, length: int) -> None:
    """Cut a file back to ``length`` bytes through a handle of its own, flushed."""
    with folder.opened() as dir_fd:
        fd = os.open(name, os.O_WRONLY | _SAFE, dir_fd=dir_fd)
        try:
            os.ftruncate(fd, length)
            os.fsync(fd)
        finally:
            close(fd)


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


def _sync_folder(fd: int) -> None:
    try:
        os.fsync(fd)
    except OSError as error:
        raise Unsynced(error.errno, error.strerror) from error


def _host_tag() -> str:
    return hashlib.sha256(os.uname().nodename.encode()).hexdigest()[:8]


def _temp_name(name: str) -> str:
    return f".{name}.{_host_tag()}-{os.getpid()}-{os.urandom(8).hex()}.tmp"


def is_temp(name: str) -> bool:
    """Whether a name is one that replace() gives to its temporary files."""
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


def sweep(folder: Folder) -> None:
    """Remove the temporary files that dead writers left behind."""
    for found in listing(folder, is_temp):
        if is_stale(found):
            with suppress(OSError):  # tidiness is no reason to keep anybody from reading
                remove(folder, found.name)


def folder_mode(folder: Folder) -> int:
    """Type and permission bits of a folder."""
    with folder.opened() as fd:
        return os.fstat(fd).st_mode
