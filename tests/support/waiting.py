"""What a test says of waiting without looking at a clock, which tells of the machine."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType, SimpleNamespace
from typing import Any

import pytest
from limbscribe.core.shelf import lock


@pytest.fixture
def never_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever waits for the lock of a chart in this process fails the test."""
    monkeypatch.setattr(lock, "time", SimpleNamespace(monotonic=lambda: 0.0, sleep=_waits))


def _waits(seconds: float) -> None:
    raise AssertionError(f"waited {seconds} s for a lock")


def calls_of(act: Callable[[], object]) -> int:
    """How many functions of Python and of C are called by an act; the same on any machine."""
    count = 0

    def counted(_frame: FrameType, event: str, _arg: Any) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(counted)
    try:
        act()
    finally:
        sys.setprofile(before)
    return count
