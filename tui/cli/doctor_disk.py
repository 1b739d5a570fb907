"""The disk below the shelf: does a write last, how long does it take, who has charts open."""

from __future__ import annotations

import os
import secrets
import statistics
import time
from contextlib import suppress
from pathlib import Path

from ...core.process import is_running

_TIMES = 5
_BYTES = 400
"""About one line of a journal."""


def flush_ms(folder: Path) -> float | str:
    """Median time of a small write made to last, ms; or why there is none.

    Writes a file of its own into the folder and removes it.
    """
    path = folder / f".doctor-{secrets.token_hex(8)}.tmp"
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
    try:
        fd = os.open(path, flags, 0o600)
    except OSError as error:
        return f"nothing can be written there: {error.strerror}"
    try:
        return statistics.median(_flush(fd) for _ in range(_TIMES))
    except OSError as error:
        return f"a write could not be made to last: {error.strerror}"
    finally:
        os.close(fd)
        with suppress(OSError):
            path.unlink()


def _flush(fd: int) -> float:
    start = time.perf_counter()
    os.write(fd, b"." * _BYTES)
    os.fsync(fd)
    return (time.perf_counter() - start) * 1000


def file_system(folder: Path, mounts: Path = Path("/proc/self/mounts")) -> str:
    """Kind of the file system a folder is on, "" where the system does not tell."""
    best, kind = -1, ""
    target = folder.resolve()
    try:
        lines = mounts.read_text("utf-8", "replace").splitlines()
    except OSError:
        return ""
    for line in lines:
        fields = line.split(" ")
        if len(fields) < 3:
            continue
        place = Path(fields[1].replace("\\040", " "))
        if target.is_relative_to(place) and len(place.parts) >= best:
            best, kind = len(place.parts), fields[2]
    return kind


def entries_open(shelf: Path) -> tuple[int, int]:
    """How many charts are open for entry, and how many entries ended without leaving.

    Of another machine's processes nothing is known: they count as open.
    """
    from ...core.shelf.codec import AS_KEPT
    from ...core.shelf.files import Folder
    from ...core.shelf.lock import read_holder

    names: list[str] = []
    with suppress(OSError):
        names = [path.stem for path in (shelf / "locks").glob("*.holder")]
    folder = Folder(shelf.absolute(), ("locks",), AS_KEPT)
    holders = [read_holder(folder, name) for name in names]
    dead = sum(
        one is not None and one.host == os.uname().nodename and not is_running(one.pid)
        for one in holders
    )
    return len(holders) - dead, dead
