"""Part four: a small file system that is really full, and works again when space returns.

Runs in a mount namespace of its own (``unshare -m``, or ``-rm`` for an ordinary account).
Where neither is permitted a limit on the size of files stands in for the full disk, and the
table says so.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from tests import ROOT

from .faults import Attempt, attempt, judge
from .stages import Stage, build, fresh_copy, prepared, scratch
from .tally import Tally

SIZE = 1024 * 1024
PAGE = 4096
LEFT = (0, 1, 2)
"""How many pages the full disk has left when the operation begins."""

INSIDE = "--inside"


def run() -> Tally:
    """Run in a namespace of its own; the counts come back through a pipe."""
    for flags in ("-m", "-rm"):
        if subprocess.run(["unshare", flags, "true"], capture_output=True).returncode == 0:
            return _started(["unshare", flags, sys.executable, "-m", __name__, INSIDE, "mount"])
    return _started([sys.executable, "-m", __name__, INSIDE, "limit"])


def _started(command: list[str]) -> Tally:
    root = ROOT
    done = subprocess.run(command, capture_output=True, text=True, cwd=root, timeout=1500)
    if done.returncode != 0:
        raise AssertionError(f"{command[:2]} failed: {done.stderr[-2000:]}")
    said = json.loads(done.stdout.splitlines()[-1])
    tally = Tally(said["section"])
    tally.counts.update(said["counts"])
    tally.failures += said["failures"]
    return tally


def inside(how: str) -> Tally:
    """Every operation on a full disk, or under a limit on the size of files."""
    mount = how == "mount"
    tally = Tally(
        "A full file system"
        if mount
        else "A limit on the size of files (no mount namespace here, so no full file system)"
    )
    kinds = ("operations", "attempts", "refused", "saved", 'false "saved"', "older data lost")
    kinds += ("unreadable or unsound", "no message", "not saved at the second try")
    tally.counts.update(dict.fromkeys(kinds, 0))
    with scratch() as room:
        stages = build(room)
        tally.counts["operations"] = len(stages)
        disk = room / "small"
        disk.mkdir()
        for stage in stages:
            for left in LEFT:
                _attempt(stage, left, disk, room, tally, mount)
    return tally


def _attempt(stage: Stage, left: int, disk: Path, room: Path, tally: Tally, mount: bool) -> None:
    if mount:
        command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE},mode=700", "kit", str(disk)]
        subprocess.run(command, check=True)
    try:
        folder = fresh_copy(stage.folder, disk / "shelf")
        said = _child(stage, folder, room, _fill(disk, left) if mount else _limit(left))
        tally.counts["attempts"] += 1
        tally.counts["refused" if said[0]["error"] else "saved"] += 1
        attempts = [Attempt(**one) for one in said]
        where = f"{stage.op.name} with {left} pages left"
        judge(tally, where, stage, attempts, room / "between", folder)
    finally:
        if mount:
            subprocess.run(["umount", str(disk)], check=True)


def _fill(disk: Path, left: int) -> Callable[[bool], None]:
    """Take all space but some pages, or give it back."""

    def full(on: bool) -> None:
        filler, spare = disk / "filler", disk / "spare"
        if not on:
            filler.unlink()
            return
        spare.write_bytes(bytes(left * PAGE))
        with suppress(OSError), filler.open("wb", buffering=0) as file:
            while True:
                file.write(bytes(PAGE))
        spare.unlink()

    return full


def _limit(left: int) -> Callable[[bool], None]:
    """Let no file grow beyond some bytes, or any size again."""
    import resource
    import signal

    def full(on: bool) -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
        resource.setrlimit(resource.RLIMIT_FSIZE, (left * 700 if on else hard, hard))

    return full


def _child(
    stage: Stage, folder: Path, room: Path, full: Callable[[bool], None]
) -> list[dict[str, object]]:
    """Try on the full disk, and once more when there is space again; in a process that ends."""
    answer = room / "answer.json"
    answer.unlink(missing_ok=True)
    fresh_copy(room / "nothing", room / "between")
    pid = os.fork()
    if pid == 0:
        try:
            bench = prepared(stage, folder)
            full(True)
            attempts = [attempt(stage, bench)]
            full(False)
            if attempts[0].error:
                fresh_copy(folder, room / "between")
                attempts.append(attempt(stage, bench))
            answer.write_text(json.dumps([vars(one) for one in attempts]))
        except BaseException as error:
            answer.write_text(json.dumps([{"error": "Died", "message": str(error)}]))
        os._exit(0)
    os.waitpid(pid, 0)
    return json.loads(answer.read_text())


if __name__ == "__main__":
    found = inside(sys.argv[-1])
    sys.stdout.write(
        json.dumps({"section": found.section, "counts": found.counts, "failures": found.failures})
    )
