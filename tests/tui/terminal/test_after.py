"""Something done once a little later is done, however badly the machine stops the program."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from limbscribe.tui.terminal.after import after
from textual import timer
from textual.app import App

STOPPED_S = 5.0


def stop_after_the_next_start(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the second look at the clock on it is later: the program stood still in between."""
    real, looks = timer._time.get_time, [0]

    def looked() -> float:
        looks[0] += 1
        return real() + (STOPPED_S if looks[0] > 1 else 0)

    monkeypatch.setattr(timer, "_time", SimpleNamespace(get_time=looked))


async def test_it_is_done_once(monkeypatch: pytest.MonkeyPatch):
    done: list[str] = []
    async with App().run_test() as pilot:
        stop_after_the_next_start(monkeypatch)
        after(pilot.app, 0.01, lambda: done.append("done"))
        while not done:
            await pilot.pause(0.02)
        await pilot.pause(0.1)
    assert done == ["done"]


async def test_a_one_shot_timer_of_the_library_is_lost(monkeypatch: pytest.MonkeyPatch):
    """Why after() is there; once the library mends this, it can go."""
    done: list[str] = []
    async with App().run_test() as pilot:
        stop_after_the_next_start(monkeypatch)
        pilot.app.set_timer(0.01, lambda: done.append("done"))
        await pilot.pause(0.5)
    assert done == []
