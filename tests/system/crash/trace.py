"""A child process of the kit under strace, which may kill it or fail one of its calls.

The child is forked from this process, so the modules are loaded and a planted bug is in it.
strace is attached when everything beforehand is done; so it counts the operation's calls only.
"""

from __future__ import annotations

import ctypes
import os
import re
import signal
import subprocess
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

TRACED = "trace=%file,%desc"
_CHANGING = """
    write pwrite64 writev fsync fdatasync rename renameat renameat2 unlink unlinkat mkdir
    mkdirat rmdir link linkat ftruncate truncate fallocate fchmod fchmodat flock
"""
CHANGING = frozenset(_CHANGING.split())
"""Calls that change what is on the disk, or when. openat counts when it may create."""

_CALL = re.compile(r"^\d+ +(\w+)\((.*)$")
_ANY_TRACER = 0x59616D61  # PR_SET_PTRACER: lets a strace that is no ancestor attach


@dataclass(frozen=True)
class Point:
    """One system call of an operation that touches the shelf.

    Attributes:
        call: its name.
        turn: which of the child's calls of that name it is, 1 for the first.
        text: how strace wrote it.
        changing: whether it changes something on the disk.
    """

    call: str
    turn: int
    text: str
    changing: bool

    def __str__(self) -> str:
        return f"{self.call} {self.turn} [{self.text[:110]}]"


@dataclass(frozen=True)
class Ended:
    """How a child ended.

    Attributes:
        status: as waitpid gives it.
        said: what it wrote on its pipe.
        lines: what strace wrote.
    """

    status: int
    said: bytes
    lines: list[str]

    @property
    def killed(self) -> bool:
        """Whether it was killed."""
        return os.WIFSIGNALED(self.status) and os.WTERMSIG(self.status) == signal.SIGKILL

    @property
    def injected(self) -> bool:
        """Whether strace failed a call."""
        return any("(INJECTED)" in line for line in self.lines)


def traced(
    prepare: Callable[[], object],
    act: Callable[[object, Callable[[bytes], object]], None],
    log: Path,
    inject: str = "",
) -> Ended:
    """Run ``act`` in a child under strace.

    Args:
        prepare: run in the child before strace is attached; its result goes to ``act``.
        act: run under strace, with a function that writes to the pipe.
        log: where strace writes.
        inject: strace's expression for what goes wrong.
    """
    reader, writer = os.pipe()
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGUSR1})
    pid = os.fork()
    if pid == 0:
        os.close(reader)
        _child(prepare, act, writer)
    os.close(writer)
    ready = os.read(reader, 1)
    tracer = _attach(pid, log, inject)
    os.kill(pid, signal.SIGUSR1)
    said = b""
    while chunk := os.read(reader, 1 << 16):
        said += chunk
    os.close(reader)
    _, status = os.waitpid(pid, 0)
    _, errors = tracer.communicate(timeout=600)
    if ready != b"+":
        raise AssertionError(f"the child was never ready: {said!r}")
    lines = log.read_text().splitlines() if log.exists() else []
    if tracer.returncode not in (0, -9, 137) and not lines:
        raise AssertionError(f"strace failed: {errors.decode()}")
    return Ended(status, said, lines)


def _attach(pid: int, log: Path, inject: str) -> subprocess.Popen[bytes]:
    command = ["strace", "-f", "-y", "-s", "8", "-o", str(log), "-e", TRACED]
    if inject:
        command += ["-e", f"inject={inject}"]
    tracer = subprocess.Popen([*command, "-p", str(pid)], stderr=subprocess.PIPE)
    assert tracer.stderr is not None
    line = tracer.stderr.readline()
    if b"attached" not in line:
        os.kill(pid, signal.SIGKILL)
        raise AssertionError(f"strace cannot attach: {line.decode().strip()}")
    return tracer


def _child(
    prepare: Callable[[], object],
    act: Callable[[object, Callable[[bytes], object]], None],
    writer: int,
) -> NoReturn:
    try:
        ctypes.CDLL(None).prctl(_ANY_TRACER, ctypes.c_ulong(-1), 0, 0, 0)
        made = prepare()
        os.write(writer, b"+")
        signal.sigwait({signal.SIGUSR1})
        act(made, lambda data: os.write(writer, data))
    except BaseException as error:
        os.write(writer, f"broken {type(error).__name__}: {error}".encode())
        os._exit(3)
    os._exit(0)


def points(lines: list[str], folder: Path) -> list[Point]:
    """The calls in strace's log that touch a folder."""
    turns: Counter[str] = Counter()
    found: list[Point] = []
    for line in lines:
        match = _CALL.match(line)
        if match is None:
            continue
        call, rest = match.groups()
        turns[call] += 1
        if str(folder) in rest:
            changing = call in CHANGING or (
                call == "openat" and ("O_CREAT" in rest or "O_TRUNC" in rest)
            )
            found.append(Point(call, turns[call], rest, changing))
    return found
