"""A process that ends, or a disk that fails, at one of the calls to it."""

from __future__ import annotations

import errno
import os
import signal
from collections.abc import Callable
from functools import partial
from typing import Any

from limbscribe.core import disk
from limbscribe.core.shelf import files
from limbscribe.core.shelf.encryption import switch

WRITES = (
    *("open", "write", "fsync", "fchmod", "ftruncate"),
    *("rename", "link", "unlink", "mkdir", "rmdir"),
)


CALLS = (
    *("open", "close", "read", "write", "fsync", "fchmod", "fstat", "stat", "rename", "unlink"),
    *("ftruncate", "scandir", "mkdir"),
)
"""Every call that goes to the disk."""


class FaultyOs:
    """Stands for the os module; the n-th storage call of all goes wrong.

    Args:
        at: which call it is, from 1 on.
        code: the error that it gives.
        kill: it kills the process instead.
        torn: a write that is killed has got half of itself through.
        only: names of the calls that count, all when empty.

    Attributes:
        fired: whether it has.
    """

    def __init__(
        self,
        at: int,
        code: int = errno.EIO,
        kill: bool = False,
        only: str = "",
        torn: bool = False,
    ) -> None:
        self._left = at
        self._code = code
        self._kill = kill
        self._torn = torn
        self._names = only.split() or CALLS
        self.fired = False

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        return self._counted(name, real) if name in self._names else real

    def _counted(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            self._left -= 1
            if self._left != 0:
                return real(*args, **kwargs)
            self.fired = True
            if name == "write" and (self._torn or not self._kill):
                # Part of it gets through, as on a disk that fills up.
                real(args[0], bytes(args[1])[: len(args[1]) // 2])
            if self._kill:
                os.kill(os.getpid(), signal.SIGKILL)
            if name == "close":
                real(*args)
            raise OSError(self._code, os.strerror(self._code))

        return call


DyingOs = partial(FaultyOs, kill=True, torn=True, only=" ".join(WRITES))
"""Ends the process at the n-th call that changes something."""


def dies_at(at: int, act: Callable[[], object]) -> bool:
    """Do something in another process that ends at its n-th call; whether it came so far."""
    pid = os.fork()
    if pid == 0:
        code = 7
        try:
            disk.os = files.os = switch.os = DyingOs(at)
            act()
            code = 0
        finally:
            os._exit(code)
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    assert code in (0, -signal.SIGKILL), code
    return code != 0
