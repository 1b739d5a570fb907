"""What each step of a session costs, by the number of sessions before it. Prints; run it by hand.

python -m tests.bench.bench_steps [SESSIONS ...]

CPU milliseconds in one process at 80x24, from the list of patients to the signature: the least of
several turns, each beside its ratio to the first number of sessions. They are 1, 2, 40 and 500 by
default; a chart of one session has no trend to draw. Who the patient is, identity, is asked in
every other turn of a chart that the process has read before, as after a session, and in the
others of one that it has not, where every session is summed and its signature checked.
"""

from __future__ import annotations

import asyncio
import shutil
import sys
import tempfile
import time
from pathlib import Path

from limbscribe.core.chart import unread
from limbscribe.core.shelf import Shelf
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.screens.opening.screen import OpeningScreen

from tests.support.app import NOW, catalogue, press, steady, type_keys

from .bench_report import CODE, shelf_of

TURNS = 10
REST_S = 0.6
"""The trend below the fields is drawn once the keys have come to rest."""

STEPS = {
    "identity": (),
    "set-up": ("'" + CODE[-3:], "enter"),
    "entry": ("'km", "enter", "'jy", "f2", "y"),
    "station": ("'-14", "enter", "2", "'2", "enter"),
    "review": ("r",),
    "signing": ("s", "'jy", "enter"),
}


NOT_READ = "identity, not read before"


async def steps_of(shelf: Path, read_before: bool) -> dict[str, float]:
    """CPU seconds of each step, its rest included, of one session on a shelf."""
    context = Context(
        Shelf(shelf), catalogue(), Keymap(), Flow(), clock=lambda: NOW, ticks=steady()
    )
    app = LimbscribeApp(context)
    costs: dict[str, float] = {}
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "")
        if not read_before:
            unread.split(b"")  # it remembers the sessions of the file split last
        opening = app.screen
        assert isinstance(opening, OpeningScreen)
        for name, keys in STEPS.items():
            began = time.process_time()
            if name == "identity":
                opening.open_session(CODE)
            await type_keys(pilot, *keys)
            await pilot.pause(REST_S)
            asked = name if read_before or name != "identity" else NOT_READ
            costs[asked] = time.process_time() - began
        await press(pilot, "")
        found = context.shelf.find(CODE)
        assert found
        assert not context.shelf.has_open(found), "it was signed"
    return costs


def least_of(sessions: int) -> dict[str, float]:
    """The least CPU seconds of each step among several turns on a chart of so many sessions."""
    turns: list[dict[str, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        shelf = shelf_of(Path(folder), sessions)
        for turn in range(TURNS):
            copy = shutil.copytree(shelf, Path(folder) / f"turn-{turn}")
            turns.append(asyncio.run(steps_of(copy, read_before=bool(turn % 2))))
    return {name: min(turn[name] for turn in turns if name in turn) for name in (NOT_READ, *STEPS)}


def main() -> None:
    """Print a line for each number of sessions."""
    first: dict[str, float] = {}
    for sessions in [int(text) for text in sys.argv[1:]] or [1, 2, 40, 500]:
        costs = least_of(sessions)
        first = first or costs
        words = (f"{n} {1000 * c:.0f} ms ({c / first[n]:.2f})" for n, c in costs.items())
        print(f"{sessions:4} sessions:", ", ".join(words))


if __name__ == "__main__":
    main()
