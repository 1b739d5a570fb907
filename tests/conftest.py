"""Shared test set-up."""

from __future__ import annotations

import gc
import os
import signal
import sys

from hypothesis import settings

# On a busy machine the time of an example says nothing about the program; and what runs
# unwatched tries the same examples every time, so that a failure is that of the change.
settings.register_profile("limbscribe", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("limbscribe")

# What pytest makes of the asserts is kept for the next run like its other caches, also where
# no bytecode is to be written: else each of its processes spends seconds on it every time.
sys.dont_write_bytecode = False

if "PYTEST_XDIST_WORKER" in os.environ:
    gc.disable()  # until pytest_collection_finish(): what is read in stays


def _taken(*_: object) -> None:
    """Take a signal and do nothing."""


# A run in the background is begun with these ignored, and what it starts would inherit that: a
# program that a test ends by one of them would go on for ever.
for number in (signal.SIGINT, signal.SIGHUP):
    if signal.getsignal(number) is signal.SIG_IGN:
        signal.signal(number, _taken)

# Where neither is set, as in a bare job, the program would rightly refuse to draw.
os.environ.setdefault("TERM", "xterm")
os.environ.setdefault("LANG", "C.UTF-8")

# Fixtures that every test can ask for.
HOMES = ("postgres", "both", "run", "book", "clinic", "quick", "waiting", "reports")
pytest_plugins = [f"tests.support.{home}" for home in HOMES]


def pytest_collection_finish() -> None:
    """Spare the collector of garbage what all tests share: it would look through it each time."""
    gc.freeze()
    gc.enable()
