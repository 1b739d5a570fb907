"""Bugs to be planted: each takes one protection out of the running process.

The tree is not touched. A kit that finds nothing wrong with one of them is worth nothing.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import stat
import sys
from collections.abc import Callable
from typing import Any

import filelock
import limbscribe.core.shelf as package
from limbscribe.core import disk, outside
from limbscribe.core.chart import document
from limbscribe.core.shelf import files, journal, opened
from limbscribe.core.shelf.files import Folder


class NoSync:
    """Stands for the os module of the shelf: fsync of files, or of folders, does nothing."""

    def __init__(self, folders: bool, real: Any = os) -> None:
        self._folders = folders
        self._real = real

    def over(self, real: Any) -> NoSync:
        """The same on top of another stand-in."""
        return NoSync(self._folders, real)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)

    def fsync(self, fd: int) -> None:
        """As os.fsync, or nothing."""
        if stat.S_ISDIR(os.fstat(fd).st_mode) != self._folders:
            self._real.fsync(fd)


class NoLock:
    """Stands for filelock.FileLock; everybody gets it."""

    def __init__(self, *_: Any, **__: Any) -> None:
        self.is_locked = False

    def acquire(self, *_: Any, **__: Any) -> None:
        """Nothing but to say yes."""
        self.is_locked = True

    def release(self, *_: Any, **__: Any) -> None:
        """Nothing."""


def _no_file_fsync() -> None:
    disk.os = files.os = outside.os = NoSync(folders=False)  # pyright: ignore


def _no_folder_fsync() -> None:
    disk.os = files.os = outside.os = NoSync(folders=True)  # pyright: ignore


def _no_checksum() -> None:
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"{package.__name__}.{module.name}")
    real = document.body_of

    def unchecked(found: Any) -> Any:
        return found.get("body") if isinstance(found, dict) else None

    def line(data: bytes, number: int, before: str) -> tuple[Any, str] | None:
        try:
            value = document.parse_json(data)
            return value["entry"], value["sum"]
        except (document.NotWhole, KeyError, TypeError):
            return None

    for name, module in list(sys.modules.items()):
        if name.startswith(package.__name__) and getattr(module, "body_of", None) is real:
            module.body_of = unchecked  # pyright: ignore
    journal._entry_of = line


def _no_rename() -> None:
    def in_place(folder: Folder, name: str, data: bytes) -> None:
        flags = os.O_WRONLY | os.O_CREAT | os.O_TRUNC
        with folder.opened() as dir_fd:
            fd = files.os.open(name, flags, 0o600, dir_fd=dir_fd)
            try:
                disk.write_all(fd, data)
                files.os.fsync(fd)
            finally:
                os.close(fd)
            files.os.fsync(dir_fd)

    files.replace_kept = in_place


def _no_loop() -> None:
    def once(fd: int, data: bytes) -> None:
        disk.os.write(fd, data)

    disk.write_all = once


def _no_lock() -> None:
    filelock.FileLock = NoLock  # pyright: ignore


def _no_repair() -> None:
    def as_it_is(desk: Any, data: bytes) -> opened.Kept:
        lines = journal.decode_lines(data, desk.chart_id)
        return opened.Kept(data[: lines.length], lines.entries[1:])

    def never_looked(self: Any) -> int:
        if self._fd is None:
            self._fd = files.open_append(self._folder, self._name)
        return self._fd

    opened.repaired = as_it_is
    journal.Journal._handle = never_looked


PLANTS: dict[str, Callable[[], None]] = {
    "file-fsync": _no_file_fsync,
    "folder-fsync": _no_folder_fsync,
    "checksum": _no_checksum,
    "atomic-rename": _no_rename,
    "short-write-loop": _no_loop,
    "lock": _no_lock,
    "torn-tail-repair": _no_repair,
}
"""Each protection and the function that takes it out of this process."""
