"""Runs the crash kit and prints what it counted: ``python -m tests.system.crash [--size full]``.

Exit code 0 when nothing is wrong, 1 when something is.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

from . import faults, full_disk, kill, writers
from .plant import PLANTS
from .replay import Replay, Size
from .stages import build, scratch
from .tally import Enough, Tally

SIZES = {
    "small": Size(states=24, again=1, then=1, long=0.0),
    "default": Size(states=24, again=1, then=1, long=0.04),
    "full": Size(states=500, again=4, then=16),
}
PARTS = ("kill", "power", "faults", "disk", "writers")
FULL_STATES = 10_000
"""Power-cut states that the full size has to reach."""


def part(name: str, size: str, room: Path, seed: int) -> Tally:
    """Run one part of the kit.

    Args:
        name: one of PARTS.
        size: one of SIZES.
        room: a folder for the attempts.
        seed: of everything random.
    """
    full = size == "full"
    if name == "power":
        chosen = SIZES[size]
        tally = Replay(room, replace(chosen, seed=seed)).run()
        reached = tally.counts["states"] + tally.counts["states after a second crash"]
        if full and reached < FULL_STATES:
            tally.fail("too few states", f"{reached} of {FULL_STATES}")
        return tally
    if name == "writers":
        return writers.run(room, 8 if full else 4, 100 if full else 12)
    if name == "disk":
        return full_disk.run()
    stages = build(room)
    if name == "kill":
        return kill.run(stages, room, every_call=full)
    return faults.run(stages, room, size)


def main(arguments: list[str]) -> int:
    """Run the parts asked for; the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.system.crash", description=__doc__)
    parser.add_argument("--size", choices=SIZES, default="default")
    parser.add_argument("--part", choices=PARTS, action="append", help="may be repeated")
    parser.add_argument("--plant", choices=list(PLANTS), help="take a protection out first")
    parser.add_argument("--stop-after", type=int, default=0, metavar="N", help="failures")
    parser.add_argument("--seed", type=int, default=2026)
    chosen = parser.parse_args(arguments)
    if chosen.plant:
        PLANTS[chosen.plant]()
    failed = 0
    Tally.most = chosen.stop_after
    for name in chosen.part or PARTS:
        started = time.monotonic()
        with scratch() as room:
            try:
                tally = part(name, chosen.size, room, chosen.seed)
            except Enough as enough:
                tally = enough.args[0]
            except AssertionError as error:  # the operations fail even on a sound disk
                tally = Tally(name)
                tally.fail("the part could not be run", str(error))
        failed += len(tally.failures)
        show(tally, time.monotonic() - started)
    sys.stdout.write("nothing is wrong\n" if not failed else f"{failed} failures\n")
    return 1 if failed else 0


def show(tally: Tally, seconds: float) -> None:
    """Print the table of one part."""
    rows = [*tally.rows(), f"  {seconds:>8.1f}  s"]
    rows += [f"  ! {failure[:600]}" for failure in tally.failures[:20]]
    sys.stdout.write("\n".join(rows) + "\n\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
