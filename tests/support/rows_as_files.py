"""What tests do to the files of a shelf, done to the rows that stand for them on a server.

Tests look into chart files, spoil and remove them by ``Path.read_bytes`` and its like. Below a
folder that stands for a database those calls go to the database: what is written there is not
looked at, as on a disk.
"""

from __future__ import annotations

import fnmatch
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.disk import Found
from limbscribe.core.shelf import files
from limbscribe.core.shelf.files import Folder

Rooted = Callable[[Path], tuple[Folder, tuple[str, ...]] | None]
"""The shelf on a server that a path lies in, and the names that lead to it; None for a file."""


class _Rows:
    def __init__(self, rooted: Rooted) -> None:
        self.rooted = rooted

    def at(self, path: Path) -> tuple[Folder, str] | None:
        """The folder and name of what has a row of its own."""
        found = self.rooted(path)
        if found is None or not found[1]:
            return None
        return found[0].at(found[1][:-1]), found[1][-1]

    def look(self, path: Path) -> Found | None:
        found = self.rooted(path)
        assert found
        root, parts = found
        if not parts:
            return Found(path.name, stat.S_IFDIR | 0o700, 0, 0, 0)
        return files.look(root.at(parts[:-1]), parts[-1])

    def below(self, path: Path) -> Iterator[Path]:
        found = self.rooted(path)
        assert found
        for each in sorted(files.listing(found[0].at(found[1]))):
            yield path / each.name


def pretend(patch: pytest.MonkeyPatch, rooted: Rooted) -> None:
    """Let paths below such a folder stand for rows."""
    rows = _Rows(rooted)

    def read_bytes(path: Path, *_: Any, **__: Any) -> bytes:
        folder, name = rows.at(path) or (None, "")
        assert folder
        return files.read_kept(folder, name)

    def write_bytes(path: Path, data: bytes) -> int:
        folder, name = rows.at(path) or (None, "")
        assert folder
        files.replace_kept(folder, name, data)
        return len(data)

    def unlink(path: Path, missing_ok: bool = False) -> None:
        folder, name = rows.at(path) or (None, "")
        assert folder
        if not missing_ok or files.exists(folder, name):
            files.remove(folder, name)

    def rename(path: Path, target: Path) -> Path:
        write_bytes(target, read_bytes(path))
        unlink(path)
        return target

    def mkdir(path: Path, *_: Any, **__: Any) -> None:
        folder, name = rows.at(path) or (None, "")
        if folder:
            files.ensure_folder(folder, name)

    def seen(path: Path, **_: Any) -> os.stat_result:
        found = rows.look(path)
        if found is None:
            raise FileNotFoundError(2, "no row", str(path))
        times = {"st_mtime_ns": found.mtime_ns}
        head = (found.mode, found.inode, 0, 1, os.geteuid(), os.getegid(), found.size)
        return os.stat_result((*head, 0, found.mtime_ns // 10**9, 0), times)

    def kind(test: Callable[[int], bool]) -> Callable[[Path], bool]:
        def is_kind(path: Path) -> bool:
            found = rows.look(path)
            return found is not None and test(found.mode)

        return is_kind

    def rglob(path: Path, pattern: str) -> Iterator[Path]:
        for each in rows.below(path):
            if fnmatch.fnmatchcase(each.name, pattern):
                yield each
            if each.is_dir():
                yield from rglob(each, pattern)

    def glob(path: Path, pattern: str) -> Iterator[Path]:
        first, _, rest = pattern.partition("/")
        for each in rows.below(path):
            if fnmatch.fnmatchcase(each.name, first):
                yield from glob(each, rest) if rest else (each,)

    of_rows: dict[str, Callable[..., Any]] = {
        "read_bytes": read_bytes,
        "read_text": lambda path, *_, **__: read_bytes(path).decode(),
        "write_bytes": write_bytes,
        "write_text": lambda path, text, *_, **__: write_bytes(path, text.encode()),
        "unlink": unlink,
        "rename": rename,
        "replace": rename,
        "mkdir": mkdir,
        "stat": seen,
        "chmod": lambda path, _mode: rows.look(path),
        "exists": lambda path: rows.look(path) is not None,
        "is_file": kind(stat.S_ISREG),
        "is_dir": kind(stat.S_ISDIR),
        "iterdir": rows.below,
        "rglob": rglob,
        "glob": glob,
    }
    for name, of_row in of_rows.items():
        patch.setattr(Path, name, _either(rows, getattr(Path, name), of_row))


def _either(rows: _Rows, of_disk: Callable[..., Any], of_row: Callable[..., Any]) -> Any:
    def call(path: Path, *args: Any, **kwargs: Any) -> Any:
        return (of_disk if rows.rooted(path) is None else of_row)(path, *args, **kwargs)

    return call
