"""A process that ends at one of its calls to the disk."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

from limbscribe.core import disk
from limbscribe.core.shelf import files
from limbscribe.core.shelf.encryption import switch

WRITES = (
    *("open", "write", "fsync", "fchmod", "ftruncate"),
    *("rename", "link", "unlink", "mkdir", "rmdir"),
)


class DyingOs:
    """Stands for the os module; the process ends at the n-th call that changes something."""

    def __init__(self, at: int) -> None:
        self._left = at

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name not in WRITES:
            return real

        def call(*args: Any, **kwargs: Any) -> Any:
            self._left -= 1
            if self._left == 0:
                if name == "write":  # part of it gets through
                    real(args[0], bytes(args[1])[: len(args[1]) // 2])
                os._exit(9)
            return real(*args, **kwargs)

        return call


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
    assert code in (0, 9), code
    return code == 9
