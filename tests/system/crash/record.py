"""Writes down every change the real code makes on the disk, in order.

A stand-in for the ``os`` module inside core/disk.py, outside.py, shelf/files.py and, for the switch
between two versions of a shelf, switch.py: the only places that change the disk. It does what it
is asked and notes it. A changing call it does not know is refused, so that nothing new in the code
goes unseen; replay.py also compares its notes with strace's.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from limbscribe.core import disk, outside
from limbscribe.core.shelf import files
from limbscribe.core.shelf.encryption import switch

from .look import Items

_UNKNOWN = """
    pwrite writev pwritev truncate renames symlink mknod mkfifo sendfile posix_fallocate
    copy_file_range splice makedirs removedirs fdopen chmod chown fchown utime sync
"""
UNKNOWN = frozenset(_UNKNOWN.split())
"""Calls that change the disk and that nobody has told the recorder about yet."""


@dataclass(frozen=True)
class Step:
    """One change, or what the program said.

    Attributes:
        kind: create, mkdir, write, truncate, fsync, rename, link, unlink, begin, ack or shown.
        node: number of the file or folder concerned; of the folder for names.
        name: name in that folder.
        to: the other folder, or -1; the new file or folder for create, mkdir and link.
        to_name: the other name.
        offset: where a write begins, or the length of a truncation; bytes.
        data: what was written.
        adds: for begin: items that the operation adds; for shown: what was shown.
        takes: for begin: items that it takes away.
    """

    kind: str
    node: int = -1
    name: str = ""
    to: int = -1
    to_name: str = ""
    offset: int = 0
    data: bytes = b""
    adds: Items = frozenset()
    takes: Items = frozenset()


@dataclass
class Recorder:
    """Stands for the os module in disk.py and files.py.

    Attributes:
        nodes: number of every known file and folder by its inode.
        last: the largest number in use, also by what no name leads to any more: that may
            be on the disk still.
        steps: what happened.
    """

    nodes: dict[int, int]
    last: int = 0
    steps: list[Step] = field(default_factory=list)

    def begin(self, adds: Items = frozenset(), takes: Items = frozenset()) -> None:
        """An operation begins."""
        self.steps.append(Step("begin", adds=adds, takes=takes))

    def ack(self) -> None:
        """The operation begun last has said it is done."""
        self.steps.append(Step("ack"))

    def shown(self, items: Items, what: str) -> None:
        """The program has shown these; ``what`` is "charts" or, with journals, "all"."""
        self.steps.append(Step("shown", name=what, adds=items))

    def __getattr__(self, name: str) -> Any:
        if name in UNKNOWN:
            raise AssertionError(f"os.{name} is used: teach record.py about it")
        return getattr(os, name)

    def open(self, path: Any, flags: int, mode: int = 0o777, *, dir_fd: int | None = None) -> int:
        """As os.open; notes a file that is made or emptied."""
        new = flags & os.O_CREAT and not _there(path, dir_fd)
        fd = os.open(path, flags, mode, dir_fd=dir_fd)
        if new:
            folder, name = self._place(path, dir_fd)
            self._made("create", os.fstat(fd).st_ino, folder, name)
        elif flags & os.O_TRUNC:
            self.steps.append(Step("truncate", self._node(fd)))
        return fd

    def mkdir(self, path: Any, mode: int = 0o777, *, dir_fd: int | None = None) -> None:
        """As os.mkdir."""
        os.mkdir(path, mode, dir_fd=dir_fd)
        folder, name = self._place(path, dir_fd)
        made = os.stat(path, dir_fd=dir_fd, follow_symlinks=False).st_ino
        self._made("mkdir", made, folder, name)

    def write(self, fd: int, data: Any) -> int:
        """As os.write."""
        import fcntl

        append = fcntl.fcntl(fd, fcntl.F_GETFL) & os.O_APPEND
        offset = os.fstat(fd).st_size if append else os.lseek(fd, 0, os.SEEK_CUR)
        written = os.write(fd, data)
        content = bytes(data)[:written]
        self.steps.append(Step("write", self._node(fd), offset=offset, data=content))
        return written

    def ftruncate(self, fd: int, length: int) -> None:
        """As os.ftruncate."""
        os.ftruncate(fd, length)
        self.steps.append(Step("truncate", self._node(fd), offset=length))

    def fsync(self, fd: int) -> None:
        """As os.fsync."""
        os.fsync(fd)
        node = self._node(fd)
        if node >= 0:
            self.steps.append(Step("fsync", node))

    fdatasync = fsync

    def rename(
        self, src: Any, dst: Any, *, src_dir_fd: int | None = None, dst_dir_fd: int | None = None
    ) -> None:
        """As os.rename."""
        source, target = self._place(src, src_dir_fd), self._place(dst, dst_dir_fd)
        os.rename(src, dst, src_dir_fd=src_dir_fd, dst_dir_fd=dst_dir_fd)
        self.steps.append(Step("rename", *source, *target))

    replace = rename

    def link(
        self,
        src: Any,
        dst: Any,
        *,
        src_dir_fd: int | None = None,
        dst_dir_fd: int | None = None,
        follow_symlinks: bool = True,
    ) -> None:
        """As os.link."""
        source, target = self._place(src, src_dir_fd), self._place(dst, dst_dir_fd)
        os.link(
            src,
            dst,
            src_dir_fd=src_dir_fd,
            dst_dir_fd=dst_dir_fd,
            follow_symlinks=follow_symlinks,
        )
        self.steps.append(Step("link", *source, *target))

    def unlink(self, path: Any, *, dir_fd: int | None = None) -> None:
        """As os.unlink."""
        folder, name = self._place(path, dir_fd)
        os.unlink(path, dir_fd=dir_fd)
        self.steps.append(Step("unlink", folder, name))

    remove = unlink

    def rmdir(self, path: Any, *, dir_fd: int | None = None) -> None:
        """As os.rmdir."""
        folder, name = self._place(path, dir_fd)
        os.rmdir(path, dir_fd=dir_fd)
        self.steps.append(Step("unlink", folder, name))

    def _made(self, kind: str, inode: int, folder: int, name: str) -> None:
        self.last += 1
        self.nodes[inode] = self.last  # an inode number is used again
        self.steps.append(Step(kind, folder, name, self.nodes[inode]))

    def _node(self, fd: int) -> int:
        return self.nodes.get(os.fstat(fd).st_ino, -1)

    def _place(self, path: Any, dir_fd: int | None) -> tuple[int, str]:
        path = os.fspath(path)
        if dir_fd is not None and "/" not in path:
            return self._node(dir_fd), path
        assert dir_fd is None
        return self.nodes.get(os.stat(os.path.dirname(path)).st_ino, -1), os.path.basename(path)


def stand_in(recorder: Recorder) -> None:
    """Put a recorder in the place of the os module where the shelf changes the disk.

    A planted bug may have put a stand-in of its own there; it then calls this one.
    """
    planted = getattr(disk.os, "over", None)
    disk.os = recorder if planted is None else planted(recorder)  # pyright: ignore
    files.os = switch.os = outside.os = disk.os  # pyright: ignore


def _there(path: Any, dir_fd: int | None) -> bool:
    try:
        os.stat(path, dir_fd=dir_fd, follow_symlinks=False)
    except FileNotFoundError:
        return False
    return True


def recorded(act: Callable[[Recorder], object], paths: dict[Path, int], last: int) -> list[Step]:
    """Run ``act`` in a child whose changes are written down.

    In a child, so that its process is dead when its temporary files are found.

    Args:
        act: what to do.
        paths: number of every file and folder there is.
        last: the largest number in use.
    """
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reader)
        _child(act, paths, last, writer)
    os.close(writer)
    with os.fdopen(reader, "rb") as pipe:
        data = pipe.read()
    _, status = os.waitpid(pid, 0)
    if status != 0:
        raise AssertionError(f"the recorded operation failed: {data.decode(errors='replace')}")
    return pickle.loads(data)


def _child(
    act: Callable[[Recorder], object], paths: dict[Path, int], last: int, writer: int
) -> NoReturn:
    with os.fdopen(writer, "wb") as pipe:
        try:
            nodes = {path.stat().st_ino: node for path, node in paths.items()}
            recorder = Recorder(nodes, last)
            stand_in(recorder)
            act(recorder)
            pipe.write(pickle.dumps(recorder.steps))
        except BaseException as error:
            pipe.write(f"{type(error).__name__}: {error}".encode())
            pipe.flush()
            os._exit(3)
    os._exit(0)
