"""How fast the entry screen comes up and answers, in a pseudo-terminal at 80x24.

Run it as ``python -m tests.bench.bench_app``. It prints figures and asserts nothing: machines are
noisy, so the start is compared with a bare Textual app in turn, in the same run.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from limbscribe.demo.clinic import OPEN_CODE, build_demo

from ..terminal import Terminal, shelf_args

BARE = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("bare app painted")

Bare().run(mouse=False)
"""
STARTS = 9
STATIONS = 11
PAUSE_S = 0.12
"""s after a key: a trend drawn after the keys have come to rest is counted too."""


def first_paint(make: Callable[[], Terminal], words: str, then: str = "", last: str = "") -> float:
    """Seconds from the start of a program until words are on its screen."""
    began = time.perf_counter()
    terminal = make()
    _until(terminal, words)
    if then:
        terminal.send(then)
        _until(terminal, last)
    took = time.perf_counter() - began
    terminal.kill()
    return took


def _until(terminal: Terminal, words: str) -> None:
    end = time.perf_counter() + 20
    while words not in terminal.text():
        terminal.read(0.002)
        if time.perf_counter() > end:
            raise SystemExit(f"{words!r} did not come:\n{terminal.text()}")


def starts(shelf: Path) -> None:
    """The start, against a bare app in turn."""
    bare: list[float] = []
    entry: list[float] = []
    code = OPEN_CODE
    for _ in range(STARTS):
        bare.append(
            first_paint(lambda: Terminal(program=(sys.executable, "-c", BARE)), "bare app painted")
        )
        entry.append(
            first_paint(lambda: Terminal("enter", code, *shelf_args(shelf)), "to go on")
        )
    one, two = statistics.median(bare), statistics.median(entry)
    print(f"start to first painted screen, median of {STARTS}, s")
    print(f"  bare Textual app   {one:.3f}")
    print(f"  enter CODE         {two:.3f}   ratio {two / one:.2f} (goal: at most 1.5)")


def keys(shelf: Path) -> None:
    """Typing stations: time to the first byte of the answer, and bytes to the last."""
    terminal = Terminal("enter", OPEN_CODE, *shelf_args(shelf))
    terminal.choose(OPEN_CODE)
    _until(terminal, "R1 V3 deg")
    terminal.read(0.5)
    terminal.send("<home>")
    terminal.read(0.5)
    times: list[float] = []
    sizes: list[int] = []
    for _ in range(STATIONS):
        for key in ("1", "<enter>", "2", "1", "5", "<enter>"):
            began = time.perf_counter()
            terminal.send(key)
            while not (count := terminal.read(0.0)):
                pass
            times.append(1000 * (time.perf_counter() - began))
            sizes.append(count + terminal.read(PAUSE_S))
    terminal.kill()
    print(f"a key in the entry screen, {len(times)} keys, to the first changed cell, ms")
    print(f"  p50 {quantile(times, 0.5):.1f}  p95 {quantile(times, 0.95):.1f} (goal: p95 under 16)")
    print("bytes written for a key, the trend drawn after it included")
    print(
        f"  mean {statistics.mean(sizes):.0f}  p50 {quantile(sizes, 0.5):.0f}"
        f"  p95 {quantile(sizes, 0.95):.0f} (goal: under 300)"
    )


def quantile(values: list[float] | list[int], share: float) -> float:
    """A quantile of measured values."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def main() -> None:
    """Measure on a throwaway shelf."""
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf"
        build_demo(shelf)
        starts(shelf)
        keys(shelf)


if __name__ == "__main__":
    main()
