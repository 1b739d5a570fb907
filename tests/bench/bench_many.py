"""Many recorders on one host: how long a key takes them, and what a host carries. Run it by hand.

python -m tests.bench.bench_many [RECORDERS ...]

Each recorder (1, 20 and 40 by default) is the whole program in a pseudo-terminal of its own, in a
chart of its own on one shelf. It types a key each PACE_S: a digit, Backspace, and undo or redo,
which flushes one line of the journal. The last lines are extrapolated, and say so.
"""

from __future__ import annotations

import os
import pty
import random
import select
import signal
import statistics
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf

from tests.support.shelves import session
from tests.support.terminal import PROGRAM

from .bench_app import quantile

PACE_S = 0.5
ROUNDS = 20
CORES = 4
SHARE = 0.7
"""Of the cores of a host that recorders may use, so that nobody waits for long."""

PATIENCE_S = 30.0


@dataclass
class Recorder:
    """One program in a pseudo-terminal, and how long its keys took.

    Attributes:
        code: patient.
        plain: s from a key that writes nothing to the first byte of the answer.
        flushed: the same for a key whose line is on the disk before it is answered.
    """

    code: str
    shelf: Path
    plain: list[float] = field(default_factory=list[float])
    flushed: list[float] = field(default_factory=list[float])

    def start(self) -> None:
        """Start the program and go to the first field."""
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            argv = (*PROGRAM, "enter", self.code, "--shelf", str(self.shelf))
            os.execvpe(argv[0], argv, {**os.environ, "TERM": "xterm", "LANG": "C.UTF-8"})
        self._until(b"to go on")
        time.sleep(0.3)  # a person reads the question; what is typed sooner is dropped
        os.write(self._fd, f"{self.code[-3:]}\r".encode())
        self._until(b"R1")
        self._quiet(1.0)

    def type(self) -> None:
        """Type at the pace of a person."""
        time.sleep(random.random() * PACE_S)
        for key in (b"w", b"5", b"\r"):
            self._answer(key)
        for again in range(ROUNDS):
            self.plain += (self._answer(b"1"), self._answer(b"\x7f"))
            self.flushed.append(self._answer(b"y" if again % 2 else b"u"))

    def _answer(self, key: bytes) -> float:
        """Type a key and rest until the next one is due; s to the first byte of the answer."""
        began = time.perf_counter()
        os.write(self._fd, key)
        if not select.select([self._fd], [], [], PATIENCE_S)[0]:
            raise SystemExit(f"{key!r} was not answered")
        took = time.perf_counter() - began
        self._quiet(max(0.0, PACE_S - took))
        return took

    def stop(self) -> None:
        """End the program."""
        os.kill(self.pid, signal.SIGHUP)  # closing its terminal is not enough: others hold it too
        os.close(self._fd)
        os.waitpid(self.pid, 0)

    def cpu(self) -> float:
        """CPU seconds up to now."""
        times = Path(f"/proc/{self.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(times[11]) + int(times[12])) / os.sysconf("SC_CLK_TCK")

    def _until(self, words: bytes) -> None:
        found, end = b"", time.monotonic() + PATIENCE_S
        while words not in found:
            if time.monotonic() > end:
                raise SystemExit(f"{words!r} did not come")
            if select.select([self._fd], [], [], 0.1)[0]:
                found += os.read(self._fd, 65536)

    def _quiet(self, seconds: float) -> None:
        """Take in what comes for a while."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self._fd], [], [], left)[0]:
                os.read(self._fd, 65536)


def begun(folder: Path, number: int) -> list[Recorder]:
    """Recorders of so many open sessions, their programs started one after another."""
    shelf, today = Shelf(folder), datetime.now().astimezone().isoformat(timespec="seconds")
    found: list[Recorder] = []
    for n in range(number):
        code = f"BENCH-{n:03d}"
        chart_id = shelf.create(Patient(code))
        shelf.start(chart_id, session(f"s{n}", today), "RE").leave()
        found.append(Recorder(code, folder))
    for one in found:
        one.start()
    return found


def measure(number: int) -> tuple[float, float]:
    """Print a line for so many recorders; CPU s a key, and the median flush of one key, s."""
    with tempfile.TemporaryDirectory() as folder:
        recorders = begun(Path(folder) / "shelf", number)
        before = sum(one.cpu() for one in recorders)
        threads = [threading.Thread(target=one.type) for one in recorders]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        used = sum(one.cpu() for one in recorders) - before
        for one in recorders:
            one.stop()
    plain = [1000 * each for one in recorders for each in one.plain]
    flushed = [1000 * each for one in recorders for each in one.flushed]
    print(
        f"{number:3} recorders, ms: a key p50 {quantile(plain, 0.5):.1f} p95"
        f" {quantile(plain, 0.95):.1f}; one that is flushed p50 {quantile(flushed, 0.5):.1f}"
        f" p95 {quantile(flushed, 0.95):.1f}; CPU {1000 * used / (len(plain) + len(flushed)):.1f}"
        " a key"
    )
    more = statistics.median(flushed) - statistics.median(plain)
    return used / (len(plain) + len(flushed)), max(more, 0.01) / 1000


def main() -> None:
    """Measure, then say what that would mean for a larger host."""
    print("load average", *(f"{load:.1f}" for load in os.getloadavg()), f"{os.cpu_count()} cores")
    numbers = [int(text) for text in sys.argv[1:]] or [1, 20, 40]
    cpu, flush = [measure(number) for number in numbers][-1]
    print(f"extrapolated, not measured, for a host of {CORES} cores, a key each {PACE_S} s:")
    print(f"  the processors carry about {CORES * SHARE / (cpu / PACE_S):.0f} recorders")
    print(f"  the disk carries about {SHARE / (flush / (3 * PACE_S)):.0f}, if it flushes in turn")


if __name__ == "__main__":
    main()
