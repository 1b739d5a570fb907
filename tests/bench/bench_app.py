"""How fast the program comes up and answers, and its memory, in a pseudo-terminal at 80x24.

Run it as ``python -m tests.bench.bench_app [CHARTS ...]``. It prints figures and asserts nothing:
machines are noisy, so the start is compared with a bare Textual app in turn, in the same run, and
the load of the machine is printed. CHARTS (10 and 1,000) are the sizes of the shelves whose
opening and search are measured; each chart has ten sessions, so that 10,000 are 100,000 sessions,
which take some minutes and about 500 MB in the folder for temporary files.
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from limbscribe.core.chart import document
from limbscribe.core.chart.patient import Patient, patient_to_doc
from limbscribe.core.chart.session import sealed, session_to_doc
from limbscribe.core.shelf import Shelf
from limbscribe.demo.clinic import OPEN_CODE, build_demo

from tests.support.terminal import Terminal, shelf_args

from .bench_shelf import AT, session

BARE = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("bare app painted")

Bare().run(mouse=False)
"""
BARE_WORDS = "bare app painted"
STARTS = 9
STATIONS = 11
SESSIONS = 10
"""In each of many charts."""

OPENS = 5
FIRST = "P-00000"
SEARCH = ("0", "0", "0", "0", "7", *("<backspace>",) * 5)
"""Letters of a code, and back."""

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


def cpu_to_paint(make: Callable[[], Terminal], words: str) -> float:
    """CPU seconds of a program from its start until words are on its screen, where it is ended."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    first_paint(make, words)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def bare_app() -> Terminal:
    """An app of Textual with one line on its screen."""
    return Terminal(program=(sys.executable, "-c", BARE))


def _until(terminal: Terminal, words: str) -> None:
    end = time.perf_counter() + 240  # ten thousand charts without an index take a while
    while words not in terminal.text():
        terminal.read(0.002)
        if time.perf_counter() > end:
            raise SystemExit(f"{words!r} did not come:\n{terminal.text()}")


def starts(shelf: Path) -> None:
    """The start to the question for the code, from there to the entry, and a bare app in turn."""
    bare: list[float] = []
    asked: list[float] = []
    answered: list[float] = []
    for _ in range(STARTS):
        bare.append(first_paint(bare_app, BARE_WORDS))
        to_prompt, to_entry = _two_steps(shelf)
        asked.append(to_prompt)
        answered.append(to_entry)
    sums = [one + two for one, two in zip(asked, answered, strict=True)]
    app, total = statistics.median(bare), statistics.median(sums)
    print(f"start, median of {STARTS}, s")
    print(f"  bare Textual app, painted            {app:.3f}")
    print(f"  enter CODE to the question           {statistics.median(asked):.3f}")
    print(f"  its answer to the entry, painted     {statistics.median(answered):.3f}")
    print(
        f"  both together                        {total:.3f}   ratio {total / app:.2f} (goal 1.5)"
    )


def _two_steps(shelf: Path) -> tuple[float, float]:
    """Seconds to the question for the code's ending, and from its answer to the entry."""
    began = time.perf_counter()
    terminal = Terminal("enter", OPEN_CODE, *shelf_args(shelf))
    _until(terminal, "to go on")
    asked = time.perf_counter()
    terminal.rest()  # a person reads the question; what is typed sooner is dropped
    answered = time.perf_counter()
    terminal.send(f"{OPEN_CODE[-3:]}<enter>")
    _until(terminal, "of 24 done")
    entered = time.perf_counter()
    terminal.kill()
    return asked - began, entered - answered


def memory_mb(pid: int) -> float:
    """MB of memory that a process holds at present (VmRSS)."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024


# Many charts ------------------------------------------------------------------------------


def filled(folder: Path, charts: int) -> None:
    """Charts of SESSIONS sessions each, the files written directly."""
    Shelf(folder)
    bodies = [session_to_doc(sealed(session(f"s{n}"), "RE", AT, "")) for n in range(SESSIONS)]
    sessions = {str(n + 1): document.wrap(body) for n, body in enumerate(bodies)}
    for n in range(charts):
        patient = document.wrap(patient_to_doc(Patient(f"P-{n:05d}")))
        path = folder / "charts" / f"{n:032x}.json"
        tables = {"patient": {"1": patient}, "sessions": sessions}
        path.write_bytes(document.render(tables, path.stem))
        path.chmod(0o600)


def many(folder: Path, charts: int) -> None:
    """Opening and searching a shelf of a size."""
    began = time.perf_counter()
    filled(folder, charts)
    took = time.perf_counter() - began
    print(f"{charts:,} charts, {SESSIONS * charts:,} sessions, made in {took:.0f} s")
    start = lambda: Terminal(*shelf_args(folder))  # noqa: E731
    print(f"  opening screen, no index yet   {1000 * first_paint(start, FIRST):7.0f} ms, once")
    opens = 1000 * statistics.median([first_paint(start, FIRST) for _ in range(OPENS)])
    print(f"  opening screen, median of {OPENS}    {opens:7.0f} ms (goal: under 300)")
    pairs = [
        (cpu_to_paint(start, FIRST), cpu_to_paint(bare_app, BARE_WORDS)) for _ in range(STARTS)
    ]
    ours, bare = (1000 * statistics.median(each) for each in zip(*pairs, strict=True))
    print(f"  in CPU, beside a bare app in turn {ours:4.0f} ms   {ours / bare:.2f} of {bare:.0f}")
    terminal = start()
    _until(terminal, FIRST)
    terminal.send("/")
    terminal.read(0.3)
    times = [_search(terminal, key) for key in SEARCH * 3]
    print(
        f"  a letter of a search           {quantile(times, 0.5):7.1f} ms, p95"
        f" {quantile(times, 0.95):.1f}, {len(times)} keys (goal: under 50)"
    )
    print(f"  memory                         {memory_mb(terminal.pid):7.0f} MB")
    terminal.kill()


def _search(terminal: Terminal, key: str) -> float:
    """Time from a key of the search to the last byte of the answer, ms."""
    began = last = time.perf_counter()
    terminal.send(key)
    while time.perf_counter() - last < PAUSE_S:
        if terminal.read(0.001):
            last = time.perf_counter()
    return 1000 * (last - began)


def keys(shelf: Path) -> None:
    """Typing stations with their last values: time to the first byte of the answer, and bytes."""
    terminal = Terminal("enter", OPEN_CODE, *shelf_args(shelf))
    terminal.choose(OPEN_CODE)
    _until(terminal, "R1 V3 deg")
    terminal.read(0.5)
    terminal.send("<home>")
    terminal.read(0.5)
    times: list[float] = []
    stations: list[list[int]] = []
    for _ in range(STATIONS):
        sizes: list[int] = []
        for key in _last_values(terminal):
            began = time.perf_counter()
            terminal.send(key)
            while not (count := terminal.read(0.0)):
                pass
            times.append(1000 * (time.perf_counter() - began))
            sizes.append(count + terminal.read(PAUSE_S))
        stations.append(sizes)
    memory = memory_mb(terminal.pid)
    terminal.kill()
    print(f"a key in the entry screen, {len(times)} keys, to the first changed cell, ms")
    print(f"  p50 {quantile(times, 0.5):.1f}  p95 {quantile(times, 0.95):.1f} (goal: p95 under 16)")
    each = [size for sizes in stations for size in sizes]
    print("bytes written for a key, the trend drawn after it included")
    print(
        f"  mean {statistics.mean(each):.0f}  p50 {quantile(each, 0.5):.0f}"
        f"  p95 {quantile(each, 0.95):.0f} (goal: under 300)"
    )
    whole = [sum(sizes) for sizes in stations]
    print(f"bytes written for a station: mean {statistics.mean(whole):.0f}, most {max(whole)}")
    print(f"memory of the program after that {memory:.0f} MB")


def _last_values(terminal: Terminal) -> Iterator[str]:
    """The keys that type what the last session had at the station on the screen."""
    r1, quality, r2 = _row(terminal, "  last    ").replace("no catch", "none").split()
    yield from _angle(terminal, r1)
    yield quality
    yield from _angle(terminal, r2)


def _angle(terminal: Terminal, value: str) -> Iterator[str]:
    """The keys of an angle; the sign that a field brings along is flipped where it is wrong."""
    if value.lstrip("-").isdigit():
        yield from value.lstrip("-")
        if value not in _row(terminal, "  now     ").replace("_", "").split():
            yield "-"
    yield "<enter>"


def _row(terminal: Terminal, label: str) -> str:
    lines = terminal.text().splitlines()
    return next(line.split(label)[1] for line in lines if label in line)


def quantile(values: list[float] | list[int], share: float) -> float:
    """A quantile of measured values."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def main() -> None:
    """Measure on throwaway shelves."""
    sizes = [int(text) for text in sys.argv[1:]] or [10, 1000]
    print("load average", *(f"{load:.1f}" for load in os.getloadavg()))
    with tempfile.TemporaryDirectory() as folder:
        shelf = Path(folder) / "shelf"
        build_demo(shelf)
        starts(shelf)
        keys(shelf)
        for charts in sizes:
            many(Path(folder) / str(charts), charts)
    print("load average at the end", *(f"{load:.1f}" for load in os.getloadavg()))


if __name__ == "__main__":
    main()
