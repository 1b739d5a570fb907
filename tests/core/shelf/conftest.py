"""Builders for the tests of the shelf; every value is invented."""

from __future__ import annotations

import errno
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.reading import Reading, Side

AT = "2026-03-02T10:40:00+01:00"
CALLS = """
    open close read write fsync fchmod fstat stat rename unlink ftruncate scandir mkdir
"""


class FaultyOs:
    """Stands for the os module of the shelf; the n-th storage call of all goes wrong.

    Attributes:
        fired: whether it has.
    """

    def __init__(self, at: int, code: int = errno.EIO, kill: bool = False, only: str = "") -> None:
        self._left = at
        self._code = code
        self._kill = kill
        self._names = (only or CALLS).split()
        self.fired = False

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        return self._counted(name, real) if name in self._names else real

    def _counted(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            self._left -= 1
            if self._left != 0:
                return real(*args, **kwargs)
            self.fired = True
            if self._kill:
                os.kill(os.getpid(), signal.SIGKILL)
            if name == "close":
                real(*args)
            if name == "write":  # part of it gets through, as on a disk that fills up
                real(args[0], bytes(args[1])[: len(args[1]) // 2])
            raise OSError(self._code, os.strerror(self._code))

        return call


def reading(muscle: str = "soleus", side: Side = Side.LEFT, **changes: Any) -> Reading:
    """A reading with a catch at -5 deg and a slow range to 10 deg."""
    scale = AngleScale("neutral-zero", 1, 0)
    return replace(Reading(muscle, side, "supine", scale, r1=-5, r2=10, quality=2), **changes)


def session(name: str = "s1", start: str = "2026-03-02T10:00:00+01:00", **changes: Any) -> Session:
    """A session of two stations."""
    checklist = Checklist("short", "Short", (Item("soleus"), Item("hamstrings")))
    readings = (reading(), reading("hamstrings", Side.RIGHT))
    made = Session(name, start, "EX", "RE", checklist, readings=readings)
    return replace(made, **changes)


@pytest.fixture
def make() -> Callable[..., Session]:
    """Builds sessions."""
    return session


@pytest.fixture
def make_reading() -> Callable[..., Reading]:
    """Builds readings."""
    return reading


@pytest.fixture
def faulty() -> type[FaultyOs]:
    """The stand-in for the os module."""
    return FaultyOs


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    """An empty shelf."""
    return Shelf(tmp_path / "shelf")


@pytest.fixture
def chart_id(shelf: Shelf) -> str:
    """A chart with one closed session, "s0"."""
    made = shelf.create(Patient("TEST-1", 1960, "female", "stroke", "left", 165))
    shelf.add_closed(made, [session("s0", "2026-02-02T10:00:00+01:00")], "RE", AT)
    return made
