"""What encryption costs: unlocking, an append, a close, the list of charts. Prints.

    python tests/bench/bench_encryption.py [CHARTS]

A plain and an encrypted shelf of CHARTS (200) charts each are measured by turns in the same
run, so that a slow moment of the machine falls on both. The goal of unlocking is our own.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from limbscribe.core.chart.patient import Patient
from limbscribe.core.shelf import Shelf
from limbscribe.core.shelf.encryption import keyfile
from limbscribe.core.shelf.encryption.cipher import COSTS, best_kdf
from limbscribe.core.shelf.encryption.convert import encrypt, rekey

from tests.bench.bench_shelf import session

AT = "2026-03-02T10:40:00+01:00"
GOAL_MS = 500
PASSPHRASE = "heron candle pavement violin"


def ms(act: Callable[[], object]) -> float:
    """How long something takes, ms."""
    began = time.perf_counter()
    act()
    return (time.perf_counter() - began) * 1000


def show(what: str, times: list[float]) -> None:
    """Print the median and the 95th percentile."""
    p50, p95 = statistics.median(times), statistics.quantiles(times, n=20)[18]
    print(f"{what:36} p50 {p50:8.3f} ms   p95 {p95:8.3f} ms   ({len(times)} times)")


def main() -> None:
    """Measure and print."""
    charts = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as room:
        plain, folder = Shelf(Path(room) / "plain"), Path(room) / "sealed"
        for shelf in (plain, Shelf(folder)):
            ids = shelf.create_all([Patient(f"P-{n:05d}") for n in range(charts)])
            for made in ids.values():
                assert isinstance(made, str)
                shelf.add_closed(made, [session("s1")], "RE", AT)
        first, second = keyfile.make(PASSPHRASE), keyfile.make(PASSPHRASE)
        print(
            f"{charts} charts: encrypted in {ms(lambda: encrypt(folder, first)):.0f} ms, ", end=""
        )
        print(f"re-keyed in {ms(lambda: rekey(folder, first.key, second)):.0f} ms")
        unlocking = [ms(lambda: keyfile.unlock(second.data, PASSPHRASE)) for _ in range(20)]
        show(f"unlock ({best_kdf()}, {COSTS[best_kdf()]})", unlocking)
        within = sum(time <= GOAL_MS for time in unlocking)
        print(f"  within the goal of {GOAL_MS} ms: {within} of {len(unlocking)}")
        _compare({"plain": plain, "encrypted": Shelf(folder, second.key)})


def _compare(shelves: dict[str, Shelf]) -> None:
    times: dict[str, list[float]] = {}
    at = {name: shelf.find("P-00000") or "" for name, shelf in shelves.items()}
    opened = {name: shelf.start(at[name], session("o"), "RE") for name, shelf in shelves.items()}
    entry = {"station": 3, "field": "r1", "value": -25, "at": AT}
    for _ in range(300):
        for name, one in opened.items():
            times.setdefault(f"append, {name}", []).append(ms(lambda one=one: one.append(entry)))
    for one in opened.values():
        one.discard()
    for turn in range(20):
        for name, shelf in shelves.items():
            one = shelf.start(at[name], session(f"c{turn}"), "RE")
            took = ms(lambda one=one, turn=turn: one.close(session(f"c{turn}"), "RE", AT))
            times.setdefault(f"close, {name}", []).append(took)
            times.setdefault(f"list of charts, {name}", []).append(ms(shelf.charts))
    for what, measured in sorted(times.items()):
        show(what, measured)


if __name__ == "__main__":
    main()
