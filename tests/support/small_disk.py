"""A small file system for a server to fill: in memory, in a mount namespace of its own.

As root (so in most of CI) by ``unshare -m``; an ordinary account by ``unshare -cm``, which needs
user namespaces. Where neither is permitted a test that needs it is skipped and says so.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.support.postgres import Postgres

_FILLER = "filler"


class SmallDisk:
    """The file system that a server lies on.

    Attributes:
        server: not made yet.
    """

    def __init__(self, server: Postgres) -> None:
        self.server = server
        self._filler = server.seen / _FILLER

    def fill(self) -> None:
        """Take all the space that is left."""
        with self._filler.open("wb", buffering=0) as out:
            for size in (1 << 16, 1 << 12, 1):
                try:
                    while True:
                        out.write(bytes(size))
                except OSError:
                    continue

    def empty(self) -> None:
        """Give the space back."""
        self._filler.unlink()


@contextmanager
def small_disk(folder: Path, size_mb: int) -> Iterator[SmallDisk]:
    """A server on a file system of so many MB, in a folder that is there."""
    flags, enter = ["-m"], ["-m"]
    if os.geteuid() != 0:
        flags, enter = ["-cm", "--keep-caps"], ["-m", "-U", "--preserve-credentials"]
    mount = f"mount -t tmpfs -o size={size_mb}m,mode=0755 none {folder}"
    own = "" if os.geteuid() != 0 else f" && chown postgres:postgres {folder}"
    holder = subprocess.Popen(
        ["unshare", *flags, "sh", "-c", f"{mount}{own} && echo ready && exec sleep 3600"],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert holder.stdout
        if holder.stdout.readline() != "ready\n":
            pytest.skip("no mount namespace is permitted here, so there is no small disk to fill")
        server = Postgres(folder)
        server.inside = ["nsenter", "-t", str(holder.pid), *enter]
        server.seen = Path(f"/proc/{holder.pid}/root{folder}")
        yield SmallDisk(server)
    finally:
        holder.kill()
        holder.wait()
