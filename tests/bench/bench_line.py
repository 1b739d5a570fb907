"""What goes over the line to the terminal, in bytes. Prints; run it by hand.

python -m tests.bench.bench_line [COLUMNSxLINES]

Over ssh a byte of these is a little more. Next to each part stands how long 9,600 baud (960
bytes/s) take for it.
"""

from __future__ import annotations

import os
import select
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from limbscribe.demo.clinic import build_demo

from tests.support.terminal import Terminal

from .bench_app import _last_values

PER_S = 960
ROUND_TRIP_S = 0.15
STATIONS = 12
PARTS = (
    ("the code is asked for", "", "to go on", 0),
    ("set-up", "-01<enter>", "set up a session", 0),
    ("cautions", "qx<enter>jy<f2>", "before the first fast stretch", 0),
    ("first field", "y", "0 of 12 done", 12_000),
    ("help", "?", "Help:", 2_500),
    ("back", "q", "0 of 12 done", 3_000),
)
"""Name, keys, words that come, and the goal: of the first four parts, for all of them."""


def count(terminal: Terminal, keys: str, words: str) -> int:
    """Bytes until words are there and the screen has come to rest."""
    before = len(terminal.raw)
    if keys:
        terminal.send(keys)
    terminal.wait_for(words)
    terminal.settle(0.5)
    return len(terminal.raw) - before


def row(name: str, size: float, goal: int = 0) -> None:
    """Print a line."""
    wanted = f"  (goal: {goal:,})" if goal else ""
    print(f"{name:<32}{size:>9,.0f} bytes {size / PER_S:>6.1f} s{wanted}")


def slowly(terminal: Terminal, keys: str, words: str) -> float:
    """Seconds from a key until words are on the screen, over 9,600 baud and 150 ms there and back.

    What the program writes waits in the line's buffer, as it would on a real one.
    """
    time.sleep(ROUND_TRIP_S / 2)
    began = time.monotonic()
    terminal.send(keys)
    waiting, taken = b"", 0
    while words not in terminal.text():
        time.sleep(0.005)
        while select.select([terminal._fd], [], [], 0)[0]:
            waiting += os.read(terminal._fd, 65536)
        room = int((time.monotonic() - began - ROUND_TRIP_S / 2) * PER_S) - taken
        piece, waiting = waiting[: max(0, room)], waiting[max(0, room) :]
        taken += len(piece) if waiting or piece else 0
        if not waiting and not piece:  # an idle line carries nothing over
            taken = max(taken, int((time.monotonic() - began - ROUND_TRIP_S / 2) * PER_S))
        terminal._stream.feed(piece)
    return time.monotonic() - began + ROUND_TRIP_S


def stations(terminal: Terminal, pause: float) -> Iterator[int]:
    """Bytes of half of the stations, typed with their last values."""
    for _ in range(STATIONS // 2):
        before = len(terminal.raw)
        for key in _last_values(terminal):
            terminal.send(key)
            terminal.read(pause)
        yield len(terminal.raw) - before


def main() -> None:
    """Measure one size of window."""
    columns, lines = map(int, (sys.argv[1] if len(sys.argv) > 1 else "80x24").split("x"))
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf"
        build_demo(shelf)
        size = {"columns": columns, "lines": lines}
        surroundings = {"LIMBSCRIBE_CONFIG": str(Path(folder) / "config")}
        terminal = Terminal(
            "enter", "DEMO-01", "--shelf", str(shelf), **size, environment=surroundings
        )
        total = 0
        for name, keys, words, goal in PARTS:
            size_ = count(terminal, keys, words)
            total += size_
            row(name, size_, 0 if name == "first field" else goal)
            if name == "first field":
                row("  from the start until there", total, goal)
        for pause, how in ((0.12, "typed on"), (0.6, "with a rest at every key")):
            sizes = list(stations(terminal, pause))
            row(f"a station, {how}", sum(sizes) / len(sizes), 1_000)
        row("review", count(terminal, "r", "Review before closing"))
        terminal.kill()
        terminal = Terminal(
            "enter", "DEMO-03", "--shelf", str(shelf), **size, environment=surroundings
        )
        for keys, words in (("", "to go on"), ("-03<enter>", "set up a session")):
            count(terminal, keys, words)
        count(terminal, "qx<enter>jy<f2>", "before the first fast stretch")
        took = slowly(terminal, "y", "r review")
        print(
            f"y to the first field over 9,600 baud, 150 ms there and back: {took:.1f} s (goal: 4)"
        )
        terminal.kill()
        terminal = Terminal("--shelf", str(shelf), **size, environment=surroundings)
        row("list of patients", count(terminal, "", "4 patients"), 2_300)
        row("chart", count(terminal, "<end><enter>", "[trend]"))
        terminal.kill()


if __name__ == "__main__":
    main()
