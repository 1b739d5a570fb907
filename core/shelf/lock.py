"""One lock per chart, and who holds it for entry.

The operating system frees a lock when its process dies, so none is ever stale. Beside it,
while somebody has the chart open for entry, lies a small file that says who.
"""

from __future__ import annotations

import os
import time
from collections.abc import Generator
from contextlib import contextmanager, suppress
from datetime import datetime
from typing import TYPE_CHECKING

from ..session import canonical
from . import files
from .document import NotWhole, is_object, parse_json
from .errors import ChartLocked, Holder
from .files import Folder

if TYPE_CHECKING:
    from filelock import BaseFileLock

PATIENCE_S = 5.0
"""How long to wait for a write in another process; far longer than any takes."""

NOBODY_KNOWN = Holder("", "", 0, "")


class ChartLock:
    """A lock that is held. Release it once."""

    def __init__(self, folder: Folder, name: str, lock: BaseFileLock) -> None:
        self._folder = folder
        self._name = name
        self._lock = lock

    def sign(self, who: str) -> None:
        """Say who holds the lock for entry. Only helps others, so a failure is passed over."""
        since = datetime.now().astimezone().isoformat(timespec="seconds")
        doc = {"who": who, "host": os.uname().nodename, "pid": os.getpid(), "since": since}
        with suppress(OSError):
            files.replace(self._folder, _holder_name(self._name), canonical(doc))

    def release(self) -> None:
        """Let others in."""
        with suppress(OSError):
            _forget_holder(self._folder, self._name)
        self._lock.release(force=True)


def take(folder: Folder, name: str) -> ChartLock:
    """Take a lock, waiting only for short writes and never for a person.

    Args:
        folder: the folder of locks.
        name: what is locked, a chart id.

    Raises:
        ChartLocked: when somebody has the chart open for entry.
        OSError: when the lock file cannot be used.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(
        folder.path(f"{name}.lock"),
        mode=files.FILE_MODE,
        thread_local=False,  # taken by one thread, released by another
        fallback_to_soft=False,  # a lock that a crash leaves behind is worse than none
    )
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            lock.acquire(blocking=False)
        except Timeout:
            holder = read_holder(folder, name)
            if holder is not None or time.monotonic() > deadline:
                raise ChartLocked(holder or NOBODY_KNOWN) from None
            time.sleep(0.01)
        else:
            with suppress(OSError):  # of a process that died
                _forget_holder(folder, name)
            return ChartLock(folder, name, lock)


@contextmanager
def held(folder: Folder, name: str) -> Generator[None]:
    """Hold a lock for one short write. Raises like take()."""
    lock = take(folder, name)
    try:
        yield
    finally:
        lock.release()


@contextmanager
def released_on_error(lock: ChartLock) -> Generator[None]:
    """Release a lock when what follows fails; keep it when it does not."""
    try:
        yield
    except BaseException:
        lock.release()
        raise


def read_holder(folder: Folder, name: str) -> Holder | None:
    """Who has the chart open for entry, as far as they said."""
    try:
        doc = parse_json(files.read(folder, _holder_name(name)))
    except (OSError, NotWhole):
        return None
    if not is_object(doc):
        return None
    who, host, pid, since = (doc.get(key) for key in ("who", "host", "pid", "since"))
    if isinstance(pid, int):
        return Holder(str(who), str(host), pid, str(since))
    return None


def _holder_name(name: str) -> str:
    return f"{name}.holder"


def _forget_holder(folder: Folder, name: str) -> None:
    if files.exists(folder, _holder_name(name)):
        files.remove(folder, _holder_name(name))
