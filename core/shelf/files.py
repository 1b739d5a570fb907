"""The files and folders of a shelf: with core/disk.py, every system call that touches them.

A folder is opened afresh for each operation, without following a symbolic link, and files
are reached through its descriptor: a link put in its place is refused and never followed.
A file is replaced as one: a temporary file in the same folder is written, flushed, closed,
renamed over the old one, and then the folder is flushed. Only after that is it saved.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Generator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from .. import disk
from ..disk import Found
from ..errors import ShelfError
from .codec import PLAIN, Codec, Place
from .store import Store


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder of the shelf: the shelf itself, or one below it.

    Attributes:
        root: the shelf's own folder, absolute.
        parts: names below it, () for the shelf itself.
        codec: how what is written here is kept.
        store: what has the files in place of the disk, see store.py; None for the disk.
    """

    root: Path
    parts: tuple[str, ...] = ()
    codec: Codec = PLAIN
    store: Store | None = None

    def sub(self, name: str) -> Folder:
        """A folder in this folder."""
        return Folder(self.root, (*self.parts, name), self.codec, self.store)

    def at(self, parts: tuple[str, ...]) -> Folder:
        """Another folder of the same shelf."""
        return Folder(self.root, parts, self.codec, self.store)

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
                disk.close(outer)
            yield fd
        finally:
            disk.close(fd)


def _open_folder(root: Path, name: str, dir_fd: int | None) -> int:
    try:
        fd = os.open(name, os.O_RDONLY | os.O_DIRECTORY | disk.SAFE, dir_fd=dir_fd)
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
        disk.close(fd)
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
    complete = os.path.isdir(root.joinpath(*names[-1]))
    for folder in (*reversed(root.parents), root):
        _make(str(folder), None)
    if not complete:
        _flush_above(root)
    with Folder(root, (), codec).opened() as fd:
        _refuse_strange(root, fd, names[0][0])
        _make_private(fd, complete)
    for parts in names:
        with Folder(root, parts[:-1], codec).opened() as fd:
            if _make(parts[-1], fd) or not complete:
                os.fsync(fd)
        with Folder(root, parts, codec).opened() as fd:
            _make_private(fd, complete)


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
            disk.close(fd)


def _refuse_strange(root: Path, fd: int, first: str) -> None:
    """A folder with other things in it, a home folder say, is not turned into a shelf."""
    found = os.listdir(fd)
    if found and first not in found:
        raise ShelfError(
            f"{root} is not empty and is no shelf: nothing was changed, "
            "name a new folder, an empty one, or the shelf itself"
        )


def _make_private(fd: int, complete: bool = False) -> None:
    """Close a folder to other accounts; on a complete shelf one that is only read stays so."""
    mode, wanted = stat.S_IMODE(os.fstat(fd).st_mode), disk.FOLDER_MODE
    if complete and mode & wanted == wanted & ~disk.WRITING:
        wanted = mode & wanted
    if mode == wanted:
        return
    try:
        os.fchmod(fd, wanted)
    except OSError as error:
        if error.errno != errno.EROFS:  # nobody can close it there, and it can be read
            raise


def _make(name: str, dir_fd: int | None) -> bool:
    """Make one folder unless something of that name exists; whether it was made."""
    try:
        os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
    except FileNotFoundError:
        with suppress(FileExistsError):  # another process was quicker
            os.mkdir(name, disk.FOLDER_MODE, dir_fd=dir_fd)
        return True
    return False


def read(folder: Folder, name: str) -> bytes:
    """The content of a file; raises like read_kept()."""
    return folder.codec.decode(folder.place(name), read_kept(folder, name))


def read_if_there(folder: Folder, name: str) -> bytes | None:
    """The content of a file, None when there is none; raises like read_kept()."""
    try:
        return read(folder, name)
    except FileNotFoundError:
        return None


def read_kept(folder: Folder, name: str) -> bytes:
    """The bytes of a regular file as they are kept.

    Raises:
        OSError: when it is missing, a link, no regular file, too large, or unreadable.
    """
    if folder.store is not None:
        return folder.store.read(folder.parts, name)
    with folder.opened() as dir_fd:
        fd = os.open(name, os.O_RDONLY | os.O_NONBLOCK | disk.SAFE, dir_fd=dir_fd)
        try:
            found = os.fstat(fd)
            if not stat.S_ISREG(found.st_mode) or found.st_size > disk.MAX_BYTES:
                raise OSError(0, "it is no regular file of a believable size")
            chunks = [os.read(fd, max(found.st_size, 1))]  # mostly all of it
            while chunk := os.read(fd, 1 << 16):  # a large buffer for nothing takes long
                chunks.append(chunk)
            return b"".join(chunks)
        finally:
            disk.close(fd)


def exists(folder: Folder, name: str) -> bool:
    """Whether the folder has an entry of that name, of whatever kind."""
    return look(folder, name) is not None


def look(folder: Folder, name: str) -> Found | None:
    """Look at the entry of that name, None when there is none; a link is not followed."""
    if folder.store is not None:
        return folder.store.look(folder.parts, name)
    with folder.opened() as dir_fd:
        try:
            return _found(name, os.stat(name, dir_fd=dir_fd, follow_symlinks=False))
        except FileNotFoundError:
            return None


def listing(folder: Folder, wanted: Callable[[str], object] = bool) -> list[Found]:
    """Every entry of a folder whose name is wanted, in no order; links are not followed."""
    if folder.store is not None:
        return folder.store.listing(folder.parts, wanted)
    found: list[Found] = []
    with folder.opened() as dir_fd, os.scandir(dir_fd) as entries:
        for entry in entries:
            if not wanted(entry.name):
                continue
            with suppress(FileNotFoundError):  # gone since the listing began
                found.append(_found(entry.name, entry.stat(follow_symlinks=False)))
    return found


def first_lines(folder: Folder, wanted: Callable[[str], object]) -> list[tuple[Found, bytes]]:
    """The first line of every journal of a folder whose name is wanted, as listing()."""
    if folder.store is not None:
        return [each for each in folder.store.first_lines() if wanted(each[0].name)]
    lines: list[tuple[Found, bytes]] = []
    for found in listing(folder, wanted):
        with suppress(FileNotFoundError):  # closed since the listing
            data = read(folder, found.name)
            lines.append((found, data[: data.find(b"\n") + 1]))
    return lines


def _found(name: str, s: os.stat_result) -> Found:
    return Found(name, s.st_mode, s.st_size, s.st_mtime_ns, s.st_ino)


def replace(folder: Folder, name: str, data: bytes) -> Found | None:
    """Write a file as one; returns and raises like replace_kept()."""
    return replace_kept(folder, name, folder.codec.encode(folder.place(name), data))


def replace_kept(folder: Folder, name: str, data: bytes) -> Found | None:
    """Write the bytes of a file as they are to be kept; returns the new one, None on a server.

    Readers see the old one or the new one, never anything between.

    Raises:
        Unsynced: the new version is in place but the folder could not be flushed.
        OSError: nothing has changed.
    """
    if folder.store is not None:
        folder.store.replace(folder.parts, name, data)
        return None
    with folder.opened() as dir_fd, disk.whole_file(name, dir_fd) as fd:
        disk.write_all(fd, data)
        return _found(name, os.fstat(fd))


def remove(folder: Folder, name: str) -> None:
    """Remove a file for good: the folder is flushed before this returns."""
    if folder.store is not None:
        folder.store.remove(folder.parts, name)
        return
    with folder.opened() as dir_fd:
        os.unlink(name, dir_fd=dir_fd)
        disk.sync_folder(dir_fd)


def move(folder: Folder, name: str, to: Folder, new_name: str) -> None:
    """Move a file between two folders of the shelf; both are flushed."""
    if folder.store is not None:
        folder.store.move(folder.parts, name, to.parts, new_name)
        return
    with folder.opened() as source, to.opened() as target:
        os.rename(name, new_name, src_dir_fd=source, dst_dir_fd=target)
        disk.sync_folder(target)
        disk.sync_folder(source)


def ensure_folder(folder: Folder, name: str) -> Folder:
    """A folder in this one, made when it is missing, open to this account alone."""
    if folder.store is not None:
        folder.store.ensure_folder((*folder.parts, name))
        return folder.sub(name)
    inner = folder.sub(name)
    with folder.opened() as fd:
        _make(name, fd)
        os.fsync(fd)  # also of one that a process made that died before its flush
    with inner.opened() as fd:
        _make_private(fd)
    return inner


def remove_folder(folder: Folder, name: str) -> None:
    """Remove an empty folder for good."""
    if folder.store is not None:
        folder.store.remove_folder((*folder.parts, name))
        return
    with folder.opened() as dir_fd:
        os.rmdir(name, dir_fd=dir_fd)
        disk.sync_folder(dir_fd)


def flush(folder: Folder) -> None:
    """Make every name in a folder last, also those that a process gave that died since.

    What such a process had renamed is shown by the system and may not be on the disk yet.
    """
    if folder.store is not None:
        return  # a transaction that was confirmed lasts
    with folder.opened() as dir_fd:
        disk.sync_folder(dir_fd)


def open_append(folder: Folder, name: str) -> int:
    """A descriptor that writes at the end of an existing file. The caller closes it."""
    with folder.opened() as dir_fd:
        return os.open(name, os.O_WRONLY | os.O_APPEND | disk.SAFE, dir_fd=dir_fd)


def truncate(folder: Folder, name: str, length: int) -> None:
    """Cut a file back to ``length`` bytes through a handle of its own, flushed."""
    with folder.opened() as dir_fd:
        fd = os.open(name, os.O_WRONLY | disk.SAFE, dir_fd=dir_fd)
        try:
            os.ftruncate(fd, length)
            os.fsync(fd)
        finally:
            disk.close(fd)


def sweep(folder: Folder) -> None:
    """Remove the temporary files that dead writers left behind."""
    if folder.store is not None:
        return
    for found in listing(folder, disk.is_temp):
        if disk.is_stale(found):
            with suppress(OSError):  # tidiness is no reason to keep anybody from reading
                remove(folder, found.name)


def require_erasing(folder: Folder) -> None:
    """Refuse what needs a right of its own on a server; whoever may use a folder has it.

    Raises:
        ShelfError: when this role has it not.
        OSError: when it cannot be asked.
    """
    if folder.store is not None:
        folder.store.require_erasing()


def folder_mode(folder: Folder) -> int:
    """Type and permission bits of a folder."""
    if folder.store is not None:
        return stat.S_IFDIR | disk.FOLDER_MODE
    with folder.opened() as fd:
        return os.fstat(fd).st_mode
