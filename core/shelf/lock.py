"""One lock per chart, and who holds it for entry.

The operating system frees a lock when its process dies, so none is ever stale. Beside it,
while somebody has the chart open for entry, lies a small file that says who, from the moment
the lock is theirs: whoever is refused meanwhile learns by whom. A holder who dies leaves that
file behind; the next one to take the lock sets it aside, and the next one who gets to open the
chart for entry learns whose entry it takes over.

Where one had to wait for a short write there is a second lock, the turn: who has it is the next
to get the lock, and also whoever has just released the lock has to get the turn first. So one
who writes again and again does not keep others out.
"""

from __future__ import annotations

import os
import time
from collections.abc import Generator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from .. import disk
from ..chart.document import Json, NotWhole, is_object, parse_json
from ..chart.session import canonical
from ..dates import stamp
from ..errors import ChartLocked, Holder, ShelfError
from ..process import is_running
from . import files
from .files import Folder
from .store import HeldLock

if TYPE_CHECKING:
    from filelock import BaseFileLock

PATIENCE_S = 5.0
"""How long to wait for a write in another process; far longer than any takes."""

_NEXT_S = 0.002
"""How often the next one looks, s."""

_SLOWEST_S, _FASTEST_S = 0.01, 0.003
"""How often the others look for their turn, s: those who came last, and those who came first."""

_HOLDER, _FORMER, _TURN = ".holder", ".former", ".turn"
"""Ends of the names of files: who holds a lock, who held it and did not leave, the turn."""

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
        """Say who holds the lock for entry. Only helps others, so a failure is passed over."""
        with suppress(OSError):
            files.replace(self._folder, self._name + _HOLDER, canonical({**says(), "who": who}))

    def reported(self) -> None:
        """The chart is open for entry: whose entry is taken over is known to the caller now.

        Until then it is kept, for the next one in case this one never gets so far.
        """
        with suppress(OSError):
            _forget(self._folder, self._name + _FORMER)

    def release(self) -> None:
        """Let others in. What was saved is saved, so a failure here is no failure of that."""
        with suppress(OSError, ShelfError):  # e.g. the shelf has another key since
            _forget(self._folder, self._name + _HOLDER)
        for _ in range(2):  # what fails even then ends with this process
            with suppress(OSError):
                self._lock.release(force=True)
                return


def take(folder: Folder, name: str, who: str | None = None) -> HeldLock:
    """Take a lock, waiting only for short writes and never for a person.

    Args:
        folder: the folder of locks.
        name: what is locked, a chart id.
        who: signs the lock at once, for entry; None for a short write.

    Raises:
        ChartLocked: when somebody has the chart open for entry.
        OSError: when the lock file cannot be used.
    """
    if folder.store is not None:
        return folder.store.take(name, who)
    lock, turn = _lock_file(folder, f"{name}.lock"), _lock_file(folder, name + _TURN)
    in_turn = files.exists(folder, name + _TURN)
    begun = time.monotonic()
    try:
        while not ((not in_turn or _got(turn)) and _got(lock)):
            in_turn = True
            holder = read_holder(folder, name)
            waited = time.monotonic() - begun
            if (holder and not is_dead(holder)) or waited > PATIENCE_S:
                raise ChartLocked(holder or NOBODY_KNOWN)
            time.sleep(_NEXT_S if turn.is_locked else _pause(waited))
    finally:
        with suppress(OSError):
            turn.release(force=True)
    return _taken(folder, name, lock, who)


def _lock_file(folder: Folder, file: str) -> BaseFileLock:
    from filelock import FileLock

    return FileLock(
        folder.path(file),
        mode=disk.FILE_MODE,
        thread_local=False,  # taken by one thread, released by another
        fallback_to_soft=False,  # a lock that a crash leaves behind is worse than none
    )


def _got(lock: BaseFileLock) -> bool:
    """Whether a lock is ours, now or already."""
    from filelock import Timeout

    if not lock.is_locked:
        with suppress(Timeout):
            lock.acquire(blocking=False)
    return lock.is_locked


def _pause(waited: float) -> float:
    """How long until the next look for the turn, s; the longer one has waited, the sooner."""
    return max(_FASTEST_S, _SLOWEST_S * (1 - waited / PATIENCE_S))


def _taken(folder: Folder, name: str, lock: BaseFileLock, who: str | None) -> ChartLock:
    try:
        taken = ChartLock(folder, name, lock, _former(folder, name))
        if who is not None:
            taken.sign(who)
    except BaseException:  # e.g. the shelf has another key since
        lock.release(force=True)
        raise
    return taken


@contextmanager
def held(folder: Folder, name: str) -> Generator[None]:
    """Hold a lock for one short write. Raises like take()."""
    lock = take(folder, name)
    try:
        yield
    finally:
        lock.release()


def read_holder(folder: Folder, name: str) -> Holder | None:
    """Who has the chart open for entry, as far as they said."""
    return _read(folder, name + _HOLDER)


def is_dead(holder: Holder) -> bool:
    """Whether a holder has died, so that whoever took over is about to sign.

    A process on another machine cannot be asked and counts as alive.
    """
    if holder.host != os.uname().nodename or holder.pid <= 0:
        return False
    return not is_running(holder.pid)


def _former(folder: Folder, name: str) -> Holder | None:
    """Who ended without leaving. For the holder of the lock only.

    What they said is set aside and not removed, since a short write may come before the
    person who goes on with the entry and ought to know. One who died while opening the
    chart did not learn it either, so whoever was before them stays the former one.
    """
    with suppress(OSError):
        if files.exists(folder, name + _HOLDER):
            if files.exists(folder, name + _FORMER):
                files.remove(folder, name + _HOLDER)
            else:
                files.move(folder, name + _HOLDER, folder, name + _FORMER)
    return _read(folder, name + _FORMER)


def _read(folder: Folder, file: str) -> Holder | None:
    try:
        return holder_of(parse_json(files.read(folder, file)))
    except (OSError, NotWhole):
        return None


def says() -> Json:
    """What a holder says of itself besides who it is: machine, process and since when."""
    since = stamp()
    return {"host": os.uname().nodename, "pid": os.getpid(), "since": since}


def holder_of(doc: object) -> Holder | None:
    """Read what a holder said of itself, None where it says no process."""
    if not is_object(doc) or not isinstance(doc.get("pid"), int):
        return None
    who, host, since = (str(doc.get(key, "")) for key in ("who", "host", "since"))
    return Holder(who, host, doc["pid"], since)


def _forget(folder: Folder, file: str) -> None:
    if files.exists(folder, file):
        files.remove(folder, file)
