"""One piece of work on many things, shared out to the cores of this machine.

The other processes are forked. So what they need, the key of a shelf too, is in their memory
already: it is written nowhere and stands in no command line. What they find comes back through
a pipe, in the order of the things.
"""

from __future__ import annotations

import gc
import os
import pickle
import signal
import threading
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, BinaryIO, NoReturn, TypeVar

T = TypeVar("T")
R = TypeVar("R")

FEWEST = 300
"""Things of which each takes some 0.3 ms: with fewer, to fork costs as much as it spares."""

_MOST = 8
"""Processes: the one that collects what they find takes a tenth of the time of each."""

_LET_BE = 100_000
"""Objects that are made before the collector looks for circles among them."""

_ENDING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@contextmanager
def garbage_let_be() -> Generator[None]:
    """Look for circles seldom: what a long job makes of one thing goes with it anyway."""
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(_LET_BE)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


def processes_for(things: int) -> int:
    """How many processes to share so many things out to; 1 is this one alone.

    One that has threads is not forked: what another thread holds would never be let go.
    """
    if things < FEWEST or not hasattr(os, "fork") or threading.active_count() > 1:
        return 1
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return min(cores or 1, _MOST)


def in_order(work: Callable[[T], R], things: Sequence[T]) -> Generator[R]:
    """Yield what the work gives of each thing, in their order.

    What a process did not come to, because it was killed or its work raised something, is done
    in this one; so errors are raised here. Close the generator if it is not read to its end.

    Args:
        work: changes nothing that is to be seen in this process.
        things: what it is done with.
    """
    count = processes_for(len(things))
    workers: list[_Worker] = []
    try:
        if count > 1:
            for first in range(count):
                workers.append(_started(work, things[first::count], workers))
        for place, thing in enumerate(things):
            found = workers[place % count].next() if workers else _NOTHING
            yield work(thing) if found is _NOTHING else found
    finally:
        for worker in workers:
            worker.end()


_NOTHING: Any = object()


@dataclass(slots=True)
class _Worker:
    """A process that was started; pid 0 for one that could not be."""

    pid: int
    found: BinaryIO | None

    def next(self) -> Any:
        """What it found next, or _NOTHING when it finds no more."""
        if self.found is not None:
            try:
                return pickle.load(self.found)  # noqa: S301 - from a process of our own
            except (EOFError, OSError, pickle.UnpicklingError):
                self.end()
        return _NOTHING

    def end(self) -> None:
        """End it, at whatever it is, and wait until it is gone."""
        if self.found is not None:
            self.found.close()
            self.found = None
            with suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGKILL)
            with suppress(ChildProcessError):
                os.waitpid(self.pid, 0)


def _started(
    work: Callable[[T], object], things: Sequence[T], others: Sequence[_Worker]
) -> _Worker:
    """Start a process on its share."""
    parent = os.getpid()
    try:
        reader, writer = os.pipe()
    except OSError:
        return _Worker(0, None)
    # Until the child has handlers of its own, a signal would run those of this process in it.
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _ENDING)
    try:
        pid = os.fork()
        if pid == 0:
            os.close(reader)
            _child(work, things, writer, parent, others)
    except OSError:  # no room for one more process
        os.close(reader)
        return _Worker(0, None)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        os.close(writer)
    return _Worker(pid, os.fdopen(reader, "rb", 1 << 16))


def _child(
    work: Callable[[T], object],
    things: Sequence[T],
    writer: int,
    parent: int,
    others: Sequence[_Worker],
) -> NoReturn:
    """Do the work until it is done or nobody waits for it; nothing else of this process ends."""
    code = 1
    try:
        for number in _ENDING:
            signal.signal(number, signal.SIG_DFL)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, _ENDING)
        for other in others:  # so that they notice when this process's parent is gone
            if other.found is not None:
                os.close(other.found.fileno())
        with garbage_let_be(), os.fdopen(writer, "wb", 1 << 16) as out:
            for thing in things:
                if os.getppid() != parent:
                    break
                pickle.dump(work(thing), out, pickle.HIGHEST_PROTOCOL)
                out.flush()
        code = 0
    finally:
        os._exit(code)
