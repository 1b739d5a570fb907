"""Part three: every storage call of every operation fails once, and every write falls short.

The operation is tried once more at once by the same process, as somebody who reads the
message would do; by then the disk works again.
"""

from __future__ import annotations

import errno
import json
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from limbscribe.core import disk, outside
from limbscribe.core.errors import NotConfirmed, ShelfError
from limbscribe.core.shelf import files

from .look import look, unexpected
from .scenario import Bench
from .stages import Stage, fresh_copy, prepared
from .tally import Tally
from .trace import Ended, Point, points, traced

ERRORS = ("ENOSPC", "EIO", "EROFS", "EDQUOT", "EINTR")
REASSURES = re.compile(
    r"nothing (was|is) (changed|lost|deleted|written)|everything \w+ before is intact"
    r"|stays? (open|in)|may be erased only in part|is as it was"
)
"""What a message must say about the data, in one of these ways."""

SAMPLE = 7
"""Of the calls and writes of a long operation every so many is failed."""


@dataclass(frozen=True)
class Attempt:
    """What a process said about one attempt at an operation.

    Attributes:
        error: name of the error's class, "" when it said nothing went wrong.
        message: its text.
        told: whether it was one of the shelf's own errors.
        unsure: whether it said that it may have been saved all the same.
    """

    error: str = ""
    message: str = ""
    told: bool = True
    unsure: bool = False


def run(stages: list[Stage], room: Path, size: str) -> Tally:
    """Fail the calls that touch the shelf, and cut every write short.

    Args:
        stages: what to run.
        room: a folder for the attempts.
        size: "full" fails every call with every error; "default" fails calls that change
            the disk, and every ninth of the others, with one of the errors in turn, and
            tries half of the ways to cut a write short, by turns;
            "small" only cuts writes short. Of a long operation the smaller sizes take a sample.
    """
    tally = Tally("Every storage call failed")
    counted = ("operations", *ERRORS, "short write", "short write, then ENOSPC")
    failed = (
        'false "saved"',
        "older data lost",
        "unreadable or unsound",
        "no message",
        "not saved at the second try",
    )
    tally.counts.update(dict.fromkeys(counted + failed, 0))
    tally.counts["operations"] = len(stages)
    for stage in stages:
        dry, clean = _unharmed(stage, room)
        sample = 1 if size == "full" or not stage.op.long else SAMPLE
        for turn, point in enumerate(dry):
            for name in _errors(turn, point, size) if not turn % sample else ():
                inject = f"{point.call}:error={name}:when={point.turn}"
                _attempt(stage, room, tally, name, f"{name} at {point}", inject)
        turns = range(1, clean + 1, sample)
        _short_writes(stage, room, tally, turns, size == "default")
    return tally


def _errors(turn: int, point: Point, size: str) -> tuple[str, ...]:
    if size == "full":
        return ERRORS
    if size == "small" or (turn % 9 and not point.changing):
        return ()
    return (ERRORS[(turn + turn // 5) % len(ERRORS)],)


class Short:
    """Stands for the os module in disk.py and files.py: one write of all writes only a part.

    Attributes:
        writes: how many there were.
        over: the module it stands on.
    """

    def __init__(self, turn: int, part: Callable[[int], int], then_full: bool) -> None:
        self.writes = 0
        self._real: Any = disk.os
        self._turn = turn
        self._part = part
        self._then_full = then_full

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)

    def write(self, fd: int, data: Any) -> int:
        """As os.write, but for one turn."""
        self.writes += 1
        if self.writes == self._turn + 1 and self._then_full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        if self.writes == self._turn:
            return self._real.write(fd, bytes(data)[: self._part(len(data))])
        return self._real.write(fd, data)


PARTS: tuple[Callable[[int], int], ...] = (lambda n: 1, lambda n: n // 2, lambda n: n - 1)


def _short_writes(
    stage: Stage,
    room: Path,
    tally: Tally,
    turns: Sequence[int],
    by_turns: bool,
) -> None:
    """Cut writes short in every way, or by turns in every second one of two parts."""
    for turn in turns:
        for number, part in enumerate(PARTS[:2] if by_turns else PARTS):
            for then_full in (False, True):
                if by_turns and (turn + number + then_full) % 2:
                    continue
                kind = "short write, then ENOSPC" if then_full else "short write"
                where = f"{kind} {turn}, part {number}"
                short = Short(turn, part, then_full)
                _attempt(stage, room, tally, kind, where, "", short)


def _unharmed(stage: Stage, room: Path) -> tuple[list[Point], int]:
    """The calls of an operation, and how many writes through disk.py are among them."""
    folder = fresh_copy(stage.folder, room / "try")
    counting = Short(0, len, False)  # type: ignore[arg-type]
    ended = _child(stage, folder, room, "", counting)
    attempts, writes = _read(ended)
    if [a.error for a in attempts] != [""] or ended.status != 0:
        raise AssertionError(f"{stage.op.name} fails unharmed: {ended.said!r}")
    return points(ended.lines, folder), writes


def _child(stage: Stage, folder: Path, room: Path, inject: str, short: Short | None) -> Ended:
    def act(bench: object, say: Callable[[bytes], object]) -> None:
        assert isinstance(bench, Bench)
        if short is not None:
            disk.os = files.os = outside.os = short  # pyright: ignore
        first = attempt(stage, bench)
        attempts = [first]
        if first.error:
            fresh_copy(folder, room / "between")
            attempts.append(attempt(stage, bench))
        said = {"attempts": [vars(a) for a in attempts], "writes": getattr(short, "writes", 0)}
        say(json.dumps(said).encode())

    return traced(lambda: prepared(stage, folder), act, room / "fault.log", inject)


def attempt(stage: Stage, bench: Bench) -> Attempt:
    """Try an operation once."""
    try:
        stage.op.act(bench)
    except ShelfError as error:
        unsure = isinstance(error, NotConfirmed) or "may be" in str(error)
        return Attempt(type(error).__name__, str(error), unsure=unsure)
    except Exception as error:
        return Attempt(type(error).__name__, str(error), told=False)
    return Attempt()


def _read(ended: Ended) -> tuple[list[Attempt], int]:
    try:
        said = json.loads(ended.said)
    except ValueError:
        return [Attempt("Died", ended.said.decode(errors="replace"), told=False)], 0
    return [Attempt(**a) for a in said["attempts"]], said["writes"]


def _attempt(
    stage: Stage,
    room: Path,
    tally: Tally,
    kind: str,
    what: str,
    inject: str,
    short: Short | None = None,
) -> None:
    folder = fresh_copy(stage.folder, room / "try")
    fresh_copy(room / "nothing", room / "between")
    ended = _child(stage, folder, room, inject, short)
    where = f"{stage.op.name}, {what}"
    if inject and not ended.injected:
        raise AssertionError(f"{where}: it never came to that")
    tally.counts[kind] += 1
    attempts, _ = _read(ended)
    judge(tally, where, stage, attempts, room / "between", folder)


def judge(
    tally: Tally, where: str, stage: Stage, attempts: list[Attempt], between: Path, folder: Path
) -> None:
    """Count what is wrong after one or two attempts at an operation.

    Args:
        tally: counts.
        where: for messages.
        stage: the operation.
        attempts: what was said.
        between: the shelf after a failed first attempt.
        folder: the shelf at the end.
    """
    first = attempts[0]
    where = f"{where}: {first.error} {first.message}".rstrip()
    if first.error:
        if not first.told or not REASSURES.search(first.message):
            tally.fail("no message", where)
        seen = look(between)
        for trouble in unexpected(seen.troubles, stage.op.broken):
            tally.fail("unreadable or unsound", f"{where}, at first: {trouble}")
        done = seen.holds(stage.after)
        if not done and not seen.holds(stage.before):
            tally.fail("older data lost", where)
        if done and not seen.holds(stage.before) and not first.unsure:
            tally.counts["said to be lost, and is there"] += 1
            tally.failures.append(f"said to be lost, and is there: {where}")
        second = attempts[1] if len(attempts) > 1 else replace(first, told=False)
        if not second.told or (second.error and not done):
            tally.fail("not saved at the second try", f"{where}; {second}")
    seen = look(folder)
    for trouble in seen.troubles:
        tally.fail("unreadable or unsound", f"{where}: {trouble}")
    if not seen.holds(stage.after):
        kind = "older data lost" if seen.missing(stage.before & stage.after) else 'false "saved"'
        tally.fail(kind, where)
