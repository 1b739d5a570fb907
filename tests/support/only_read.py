"""A shelf that can only be read, also for root, to whom modes of files mean nothing."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_VERSION_3 = 0x20080522
_PASSING_MODES_OVER = 0b1110
"""CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH and CAP_FOWNER, see capabilities(7)."""


@contextmanager
def only_read(folder: Path) -> Iterator[None]:
    """Take the right to write from a folder and all in it, and from root that to write anyway."""
    paths = (folder, *folder.rglob("*"))
    modes = [(path, path.stat().st_mode & 0o777) for path in paths]
    for path, mode in reversed(modes):
        path.chmod(mode & 0o555)
    before = _capabilities()
    _set(before[0] & ~_PASSING_MODES_OVER, *before[1:])
    try:
        yield
    finally:
        _set(*before)
        for path, mode in modes:
            path.chmod(mode)


def _capabilities() -> tuple[int, ...]:
    """What this thread may: effective, permitted and inheritable, in two halves each."""
    held = (ctypes.c_uint32 * 6)()
    if _libc.capget(_HEADER, held):
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))
    return tuple(held)


def _set(*held: int) -> None:
    if _libc.capset(_HEADER, (ctypes.c_uint32 * 6)(*held)):
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))


_libc = ctypes.CDLL(None, use_errno=True)
_HEADER = (ctypes.c_uint32 * 2)(_VERSION_3, 0)
