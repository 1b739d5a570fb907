"""Part one: the process is killed at every storage call of every operation."""

from __future__ import annotations

from pathlib import Path

from .look import Look, look, unexpected
from .scenario import Bench
from .stages import Stage, fresh_copy, prepared
from .tally import Tally
from .trace import Point, points, traced

SAMPLE = 4
"""Of the changes that a long operation makes every so many is one to be killed at."""


def run(stages: list[Stage], room: Path, every_call: bool) -> Tally:
    """Kill at every call that touches the shelf, or at those that change it.

    Args:
        stages: what to run.
        room: a folder for the attempts.
        every_call: also at reads and lookups, between which nothing changes on the disk;
            and at every call of a long operation.
    """
    tally = Tally("Killed at every storage call")
    tally.counts.update({"operations": len(stages), "kills": 0})
    tally.counts.update({"unreadable or unsound": 0, "acknowledged but lost": 0})
    tally.counts.update({"neither before nor after": 0, "cannot be saved to again": 0})
    for stage in stages:
        changing = 0
        for point in _points(stage, room):
            changing += point.changing
            picked = point.changing and not (stage.op.long and changing % SAMPLE)
            if every_call or picked:
                _kill(stage, point, room, tally)
    return tally


def _act(bench: object, say: object, stage: Stage) -> None:
    assert isinstance(bench, Bench)
    assert callable(say)
    stage.op.act(bench)
    say(b"!")


def _points(stage: Stage, room: Path) -> list[Point]:
    folder = fresh_copy(stage.folder, room / "dry")
    ended = traced(
        lambda: prepared(stage, folder), lambda b, say: _act(b, say, stage), room / "dry.log"
    )
    if ended.said != b"!" or ended.status != 0:
        raise AssertionError(f"{stage.op.name} fails unharmed: {ended.said!r}")
    return points(ended.lines, folder)


def _kill(stage: Stage, point: Point, room: Path, tally: Tally) -> None:
    folder = fresh_copy(stage.folder, room / "dry")  # the same path: the same calls
    where = f"{stage.op.name}, killed at {point}"
    ended = traced(
        lambda: prepared(stage, folder),
        lambda b, say: _act(b, say, stage),
        room / "kill.log",
        f"{point.call}:signal=KILL:when={point.turn}",
    )
    if not ended.killed:
        raise AssertionError(f"{where}: it was not killed, {ended.said!r}")
    tally.counts["kills"] += 1
    seen = look(folder)
    for trouble in unexpected(seen.troubles, "" if ended.said else stage.op.broken):
        tally.fail("unreadable or unsound", f"{where}: {trouble}")
    if ended.said and seen.missing(stage.after):
        tally.fail("acknowledged but lost", where)
    elif not seen.holds(stage.after) and not (seen.holds(stage.before) and not ended.said):
        tally.fail("neither before nor after", where)
    again = _again(stage, folder, seen)
    if again:
        tally.fail("cannot be saved to again", f"{where}: {again}")


def _again(stage: Stage, folder: Path, seen: Look) -> str:
    """Run the operation once more where it did not happen; what is wrong then."""
    if not seen.holds(stage.before) or stage.before == stage.after:
        return ""
    bench = Bench(folder)
    try:
        stage.op.ready(bench)
        stage.op.act(bench)
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    finally:
        bench.leave()
    return "" if look(folder).holds(stage.after) else "it is not there"
