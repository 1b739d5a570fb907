"""One process among many on a shelf: what it was told is saved, it writes to its output.

Run as ``python -m tests.system.people.worker WHAT SHELF NAME CHART COUNT``.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from contextlib import suppress

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.session import Session
from limbscribe.core.errors import ChartLocked
from limbscribe.core.shelf import OpenSession, Shelf
from limbscribe.core.shelf.places import where_is

from tests.support.shelves import reading

from .made import AT, BASE, session

BURST = 10
"""Fields a person enters before leaving the chart to the next."""

PATIENCE_S = 600


def say(*words: object) -> None:
    """A line of output, at once: whoever kills us must see all that was acknowledged."""
    sys.stdout.write(" ".join(map(str, words)) + "\n")
    sys.stdout.flush()


def until_free(act: Callable[[], OpenSession | None]) -> OpenSession | None:
    """Try until nobody else holds the chart, as a person would."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            return act()
        except ChartLocked as error:
            say("refused", error.holder.who, error.holder.pid)
            time.sleep(random.uniform(0.01, 0.05))
    raise SystemExit("the chart was never free")


def opened(shelf: Shelf, name: str, chart: str) -> OpenSession:
    found = until_free(lambda: shelf.resume(chart, name))
    assert found is not None
    former = found.taken_over_from
    say("in", former.who if former else "-", former.pid if former else 0)
    return found


def append(entry: OpenSession, name: str, number: int) -> None:
    begun = time.perf_counter()
    entry.append({"by": name, "n": number})
    say("saved", number, f"{1000 * (time.perf_counter() - begun):.3f}")


def enter(shelf: Shelf, name: str, chart: str, count: int) -> None:
    """Keep a chart and enter every field."""
    entry = opened(shelf, name, chart)
    for number in range(count):
        append(entry, name, number)
    entry.leave()


def take_turns(shelf: Shelf, name: str, chart: str, count: int) -> None:
    """Share a chart with others, a burst of fields at a time."""
    for first in range(0, count, BURST):
        entry = opened(shelf, name, chart)
        for number in range(first, min(count, first + BURST)):
            append(entry, name, number)
        entry.leave()
        time.sleep(0.005)  # whoever leaves does something else before coming back


def store(shelf: Shelf, name: str, chart: str, count: int) -> None:
    """Store closed sessions and amendments, one save each, in a chart shared with others."""
    for number in range(count):
        id_ = f"{name}-{number}"
        begun = time.perf_counter()
        if number % 2:
            amendment = Amendment(id_, BASE, name, "misread", AT, (reading(r2=number % 40),))
            until_free(lambda amendment=amendment: shelf.amend(chart, amendment))
        else:
            one = session(id_)
            until_free(lambda one=one: _add(shelf, chart, one))
        say("saved", number, f"{1000 * (time.perf_counter() - begun):.3f}")


def _add(shelf: Shelf, chart: str, one: Session) -> None:
    shelf.add_closed(chart, [one], one.recorder, AT)


def hold(shelf: Shelf, name: str, chart: str, count: int) -> None:
    """Enter fields without end; to be killed."""
    del count
    entry = opened(shelf, name, chart)
    number = len(entry.entries)
    while True:
        append(entry, name, number)
        number += 1


def store_for_ever(shelf: Shelf, name: str, chart: str, count: int) -> None:
    """Make short writes without end; to be killed, perhaps while one holds the lock."""
    del count
    store(shelf, name, chart, 1_000_000)


JOBS = {
    "enter": enter,
    "turns": take_turns,
    "store": store,
    "hold": hold,
    "store-for-ever": store_for_ever,
}

if __name__ == "__main__":
    with suppress(BrokenPipeError):
        JOBS[sys.argv[1]](Shelf(where_is(sys.argv[2])), sys.argv[3], sys.argv[4], int(sys.argv[5]))
