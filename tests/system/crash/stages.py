"""The shelf before each operation, made once by the real code and copied for each attempt."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from .look import Items, look
from .scenario import Bench, Op, apart, chain


@dataclass(frozen=True)
class Stage:
    """What one operation runs on.

    Attributes:
        op: the operation.
        folder: the shelf as it is beforehand, and what lies beside it; copy it, never use it.
        before: items it holds.
        after: items once the operation is done.
    """

    op: Op
    folder: Path
    before: Items
    after: Items


@contextmanager
def scratch() -> Generator[Path]:
    """A folder for the attempts, in memory where the system has such a place."""
    fast = Path("/dev/shm")
    where = fast if fast.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="limbscribe-kit-", dir=where) as name:
        yield Path(name)


def fresh_copy(source: Path, target: Path) -> Path:
    """Put a copy of a folder in place of whatever is there."""
    shutil.rmtree(target, ignore_errors=True)
    if source.exists():
        shutil.copytree(source, target)
    return target


def build(room: Path) -> list[Stage]:
    """Every stage: run the chain once, keeping a copy before each operation."""
    stages: list[Stage] = []
    held: Items = frozenset()
    work = room / "work"
    work.mkdir()
    for number, op in enumerate(chain()):
        kept = fresh_copy(work, room / f"stage-{number}")
        stages.append(Stage(op, kept, held, op.result(held)))
        held = _run(op, work, held)
    by_name = {stage.op.name: place for place, stage in enumerate(stages)}
    for number, op in enumerate(apart()):
        place = by_name[op.after]
        kept = fresh_copy(stages[place + 1].folder, room / f"apart-{number}")
        if op.setup is not None:
            op.setup(kept, stages[place].folder)
        before = stages[place].after
        stages.append(Stage(op, kept, before, op.result(before)))
        _once(op, fresh_copy(kept, work))  # what it imports is imported before any fork
    return stages


def prepared(stage: Stage, folder: Path) -> Bench:
    """A bench at which the stage's operation can be run at once."""
    bench = Bench(folder)
    if stage.op.name != "first opening" and not stage.op.after:
        bench.reopen()
        stage.op.ready(bench)
    elif stage.op.name.startswith(("resume", "set")):
        bench.reopen()
    return bench


def _once(op: Op, work: Path) -> None:
    bench = Bench(work)
    op.ready(bench)
    op.act(bench)
    bench.leave()


def _run(op: Op, work: Path, held: Items) -> Items:
    _once(op, work)
    seen = look(fresh_copy(work, work.with_name("seen")))
    wanted = op.result(held)
    if not seen.holds(wanted) or seen.troubles:
        raise AssertionError(f"{op.name} on a sound disk: {seen.troubles or seen.items ^ wanted}")
    return wanted
