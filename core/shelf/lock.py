"""One lock per chart, and who holds it for entry.

The operating system frees a lock when its process dies, so none is ever stale. Beside it,
while somebody has the chart open for entry, lies a small file that says who. A holder who
dies leaves that file behind; the next one to take the lock sets it aside, and the next one
to open the chart for entry is told whose entry it takes over.
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
from .errors import ChartLocked, Holder, ShelfError
from .files import Folder

if TYPE_CHECKING:
    from filelock import BaseFileLock

PATIENCE_S = 5.0
"""How long to wait for a write in another process; far longer than any takes."""

NOBODY_KNOWN = Holder("", "", 0, "")


class ChartLock:
    """A lock that is held. Release it once.

    Attributes:
        taken_over_from: who held it for entry last and ended without leaving, if so.
    """

    def __init__(
        self, folder: Folder, name: str, lock: BaseFileLock, former: Holder | None
    ) -> None:
        self.taken_over_from = former
        self._folder = folder
        self._name = name
        self._lock = lock

    def sign(self, who: str) -> None:
        """Say who holds the lock for entry. Only helps others, so a failure is passed over.

        Whose entry is taken over is known to the caller from now on, and forgotten here.
        """
        since = datetime.now().astimezone().isoformat(timespec="seconds")
        doc = {"who": who, "host": os.uname().nodename, "pid": os.getpid(), "since": since}
        with suppress(OSError):
            files.replace(self._folder, _holder_name(self._name), canonical(doc))
            _forget(self._folder, _former_name(self._name))

    def release(self) -> None:
        """Let others in. What was saved is saved, so a failure here is no failure of that."""
        with suppress(OSError, ShelfError):  # e.g. the shelf has another key since
            _forget(self._folder, _holder_name(self._name))
        for _ in range(2):  # what fails even then ends with this process
            with suppress(OSError):
                self._lock.release(force=True)
                return


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
            signed = holder is not None and not _is_dead(holder)
            if signed or time.monotonic() > deadline:
                raise ChartLocked(holder or NOBODY_KNOWN) from None
            time.sleep(0.01)
        else:
            return ChartLock(folder, name, lock, _former(folder, name))


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
    return _read(folder, _holder_name(name))


def _is_dead(holder: Holder) -> bool:
    """Whether a holder has died, so that whoever took over is about to sign.

    A process on another machine cannot be asked and counts as alive.
    """
    if holder.host != os.uname().nodename or holder.pid <= 0:
        return False
    try:
        os.kill(holder.pid, 0)
    except (ProcessLookupError, OverflowError):
        return True
    except PermissionError:
        return False
    return False


def _former(folder: Folder, name: str) -> Holder | None:
    """Who ended without leaving. For the holder of the lock only.

    What they said is set aside and not removed, since a short write may come before the
    person who goes on with the entry and ought to be told.
    """
    with suppress(OSError):
        if files.exists(folder, _holder_name(name)):
            files.move(folder, _holder_name(name), folder, _former_name(name))
    return _read(folder, _former_name(name))


def _read(folder: Folder, file: str) -> Holder | None:
    try:
        doc = parse_json(files.read(folder, file))
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


def _former_name(name: str) -> str:
    return f"{name}.former"


def _forget(folder: Folder, file: str) -> None:
    if files.exists(folder, file):
        files.remove(folder, file)
