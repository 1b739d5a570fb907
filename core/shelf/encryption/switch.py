"""Two versions of a shelf beside one another, and the switch from one to the other.

::

    .NAME.vault-new    the new version while it is made
    .NAME.vault-old    the old version, from the switch until it is removed

The switch is two renames. The first one is made only once the new version is complete and on
the disk, so a shelf that is missing between them is completed by whoever opens it next. Whatever
else an interruption leaves is cleared away. The names are those of the first versions, which
complete it too.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Generator
from contextlib import contextmanager, suppress
from pathlib import Path

from ...errors import ShelfError


def new_beside(shelf: Path) -> Path:
    """Where a new version of a shelf is made."""
    return shelf.with_name(f".{shelf.name}.vault-new")


def old_beside(shelf: Path) -> Path:
    """Where the old version goes."""
    return shelf.with_name(f".{shelf.name}.vault-old")


def are_left_over(shelf: Path) -> bool:
    """Whether an interrupted change left something beside a shelf."""
    return any(os.path.lexists(path) for path in (new_beside(shelf), old_beside(shelf)))


def settle(shelf: Path) -> None:
    """Complete a switch that was interrupted between its two renames."""
    shelf = shelf.absolute()
    new, old = new_beside(shelf), old_beside(shelf)
    if os.path.lexists(shelf) or not os.path.lexists(old):
        return
    with suppress(FileNotFoundError), _folder(shelf.parent) as fd:  # another was quicker
        source = new if os.path.lexists(new) else old
        os.rename(source.name, shelf.name, src_dir_fd=fd, dst_dir_fd=fd)
        os.fsync(fd)


def switch(shelf: Path) -> None:
    """Put the new version in the place of the old one.

    Raises:
        OSError: when it could not be done; then the old one is in its place.
    """
    new, old = new_beside(shelf), old_beside(shelf)
    with _folder(shelf.parent) as fd:
        os.fsync(fd)  # the new version has its name on the disk
        os.rename(shelf.name, old.name, src_dir_fd=fd, dst_dir_fd=fd)
        try:
            os.rename(new.name, shelf.name, src_dir_fd=fd, dst_dir_fd=fd)
        except OSError:
            os.rename(old.name, shelf.name, src_dir_fd=fd, dst_dir_fd=fd)
            raise


def clear(shelf: Path) -> None:
    """Remove what is beside a shelf that is in its place. Removing does not wipe the disk.

    Raises:
        ShelfError: when a folder was made in the shelf's place between the two renames; then
            both versions are kept.
        OSError: when something could not be removed.
    """
    new, old = new_beside(shelf), old_beside(shelf)
    if not _is_there(shelf) or (_is_there(new) and _is_there(old)):
        raise ShelfError(
            f"{shelf} was made anew while it was being exchanged, and the shelf itself is kept "
            f"as {new.name} and {old.name} beside it: nothing was removed, move {shelf} "
            "elsewhere and open the shelf again"
        )
    with _folder(shelf.parent) as fd:
        os.fsync(fd)  # nothing is removed while a power cut might still undo the switch
        for path in (new, old):
            _remove(path.name, fd)
        os.fsync(fd)


def _is_there(path: Path) -> bool:
    """Whether a path leads to anything; a disk that does not answer is no sign that it does not.

    Raises:
        OSError: when the disk does not answer.
    """
    try:
        os.stat(path, follow_symlinks=False)
    except FileNotFoundError:
        return False
    return True


def _remove(name: str, dir_fd: int) -> None:
    """Remove a file or a folder with all in it, no link followed; harmless when it is gone."""
    try:
        found = os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
        if not stat.S_ISDIR(found.st_mode):
            os.unlink(name, dir_fd=dir_fd)
            return
        fd = os.open(name, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=dir_fd)
        try:
            for inner in os.listdir(fd):
                _remove(inner, fd)
        finally:
            os.close(fd)
        os.rmdir(name, dir_fd=dir_fd)
    except FileNotFoundError:  # somebody else removes it too
        return
    except OSError as error:
        if error.errno != errno.ENOTEMPTY:
            raise


@contextmanager
def _folder(path: Path) -> Generator[int]:
    fd = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield fd
    finally:
        with suppress(OSError):  # all was flushed by then, so this says nothing about it
            os.close(fd)
