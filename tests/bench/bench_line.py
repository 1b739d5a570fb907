"""What goes over the line to the terminal, in bytes. Prints; run it by hand.

python -m tests.bench.bench_line [COLUMNSxLINES]

Over ssh a byte of these is a little more. Next to each part stands how long 9,600 baud (960
bytes/s) take for it.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

from limbscribe.demo.clinic import build_demo

from tests.support.terminal import Terminal

from .bench_app import _last_values

PER_S = 960
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
        stations = []
        for number in range(1, STATIONS + 1):
            before = len(terminal.raw)
            for key in _last_values(terminal):
                terminal.send(key)
                terminal.settle(0.4)
            done = re.search(r"(\d+) of 12 done", terminal.text())
            assert done, terminal.text()
            assert int(done[1]) == number, terminal.text()
            stations.append(len(terminal.raw) - before)
        row("a station, mean", sum(stations) / len(stations), 1_000)
        row("a station, most", max(stations))
        row("review", count(terminal, "r", "Review before closing"))
        terminal.kill()
        terminal = Terminal("--shelf", str(shelf), **size, environment=surroundings)
        row("list of patients", count(terminal, "", "4 patients"), 2_300)
        row("chart", count(terminal, "<end><enter>", "[trend]"))
        terminal.kill()


if __name__ == "__main__":
    main()
