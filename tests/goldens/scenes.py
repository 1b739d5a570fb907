"""The scenes: an invented shelf that is the same on any day, and the keys that lead to each.

The real app is driven, and what it shows is read from Textual, so that modules can be moved
about without a change here.
"""

from __future__ import annotations

import asyncio
import random
import re
import secrets
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import pytest
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.event import Event
from limbscribe.core.config.catalogue import load_catalogue
from limbscribe.core.shelf import Shelf
from limbscribe.demo.clinic import build_demo
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.terminal.after import NAME
from limbscribe.tui.terminal.typeahead import LOOK_S
from textual import events
from textual.pilot import Pilot

from tests.support.app import rest, steady

NOW = datetime.fromisoformat("2026-11-25T09:41:00+01:00")
AT = NOW.isoformat()
EVENTS = {
    "DEMO-01": (
        Event("e1", "botulinum-toxin", "2026-04-08", "gastrocnemius", "right", "product A"),
        Event("e2", "cast-on", "2026-06-20", "gastrocnemius", "right", ""),
        Event("e3", "cast-off", "2026-07-04", "gastrocnemius", "right", ""),
        Event("e4", "botulinum-toxin", "2026-10-14", "", "", "product A, two muscles"),
    ),
    "DEMO-03": (Event("e5", "next-date", "2026-11-18", "", "", "school holidays"),),
    "DEMO-04": (Event("e6", "botulinum-toxin", "2026-08-26", "soleus", "left", ""),),
}
"""Treatment dates of the demo's patients, invented like them."""

MISHEARD = {("elbow-flexors", -10): -8, ("gastrocnemius", 4): 7}
"""What an amendment corrects in June: muscle group and R2 as recorded -> R2, deg."""

TURNS = 500
"""Turns of the event loop after which words that did not come are given up."""


@dataclass(frozen=True)
class Scene:
    """How to come to a screen.

    Attributes:
        code: patient whose session is asked for at the start, "" for the list of patients.
        steps: keys, and words that are on the screen once they are done.
    """

    code: str
    steps: tuple[tuple[str, str], ...]


_RESUMED = (("", "to go on"), ("-02<enter>", "resumed where it was left"))
_CHART = (("", "4 patients"), ("<end><enter>", "[trend]"))
_CALF = (*_CHART, ("ggas r<enter>", "Gastrocnemius, Right"))
_RATERS = (("", "4 patients"), ("r", "agreement between raters"))
_AMENDED = (*_CHART, ("vv", "[sessions]"), ("<left>" * 2, "> 16 Jun 2026"))

SCENES = {
    "opening": Scene("", (("", "4 patients"),)),
    "worklist": Scene("", (("", "4 patients"), ("w", "worklist:"))),
    "entry-empty": Scene(
        "DEMO-01",
        (
            ("", "to go on"),
            ("-01<enter>", "set up a session"),
            ("qx<enter>jy<f2>", "before the first fast stretch"),
            ("y", "0 of 12 done"),
        ),
    ),
    "entry-resumed": Scene("DEMO-02", _RESUMED),
    "entry-flagged": Scene("DEMO-02", (*_RESUMED, ("270<enter>", "IMPOSSIBLE"))),
    "review": Scene("DEMO-02", (*_RESUMED, ("r", "Review before closing"))),
    "sign": Scene("DEMO-02", (*_RESUMED, ("r", "half-typed"), ("c<f2>", "recorder's initials"))),
    "chart-trend": Scene("", _CALF),
    "chart-numbers": Scene("", (*_CALF, ("v", "[numbers]"))),
    "chart-sessions": Scene("", _AMENDED),
    "chart-page": Scene("", (*_CHART, ("vvv", "[page]"))),
    "details": Scene("", (*_CHART, ("p", "patient details"), ("<down><down>str", "after stroke"))),
    "compare": Scene("", (*_CHART, ("x", "compare:"))),
    "report": Scene("", (*_AMENDED, ("r", "WHAT CHANGED"))),
    "raters": Scene("", _RATERS),
    "raters-figures": Scene("", (*_RATERS, ("gsol<enter>", "> R1"), ("<enter>v", "Analysis of"))),
    "adopt": Scene("", (*_RATERS, ("gsol<enter>", "> R1"), ("a", "type it out"))),
}


def make_shelf(folder: Path) -> None:
    """Make the demo clinic with treatment dates and one amendment, its ids always the same."""
    with pytest.MonkeyPatch.context() as patch:
        # A report shows the start of a hash, and the random ids of sessions are part of it.
        patch.setattr(secrets, "token_bytes", random.Random(7).randbytes)
        build_demo(folder)
    shelf = Shelf(folder)
    ids = {entry.code: entry.id for entry in shelf.charts()}
    for code, dates in EVENTS.items():
        for one in dates:
            shelf.add_event(ids[code], one, "JY", AT)
    session = next(s for s in shelf.load(ids["DEMO-01"]).by_date if s.started[:7] == "2026-06")
    better = tuple(
        replace(reading, r2=r2, r2_tries=(r2,))
        for reading in session.readings
        if (r2 := MISHEARD.get((reading.muscle, reading.r2)))
    )
    assert len(better) == len(MISHEARD)
    shelf.amend(ids["DEMO-01"], Amendment("a1", session.id, "HD", "misheard", AT, better))


async def rows_of(scene: Scene, shelf: Path, config: Path, size: tuple[int, int]) -> list[str]:
    """Drive the app to a scene; every row of the screen without the blanks at its end.

    Args:
        scene: what to drive to.
        shelf: a shelf of make_shelf(), which may be changed.
        config: an empty folder for the configuration.
        size: columns and rows.
    """
    # The one timer that is always running is that of the lock; see _still().
    (config / "config.toml").write_text("idle_minutes = 0\n", "utf-8")
    catalogue = load_catalogue(config)
    desk = Context(Shelf(shelf), catalogue, Keymap(), Flow(), clock=lambda: NOW, ticks=steady())
    async with LimbscribeApp(desk, scene.code or None).run_test(size=size) as pilot:
        for keys, words in scene.steps:
            for key in re.findall(r"<\w+>|.", keys):
                name = key.strip("<>")
                pilot.app.post_message(events.Key(name, name if len(name) == 1 else None))
            await _until(pilot, lambda words=words: words in "\n".join(_rows(pilot)), words)
        return _rows(pilot)


async def _until(pilot: Pilot[int], there: Callable[[], bool], words: str) -> None:
    """Wait until a condition holds twice running: a timer that has ended may leave work."""
    held = 0
    for _ in range(TURNS):
        await rest(pilot)
        held = held + 1 if _still() and there() else 0
        if held == 2:
            return
        if not held:
            await pilot.pause(LOOK_S)
    raise AssertionError("\n".join([f"{words!r} did not come on the screen:", *_rows(pilot)]))


def _still() -> bool:
    """Whether nothing is put off: a drawing, or keys typed ahead of a screen that comes."""
    return not any(task.get_name() == NAME for task in asyncio.all_tasks())


def _rows(pilot: Pilot[int]) -> list[str]:
    return [strip.text.rstrip() for strip in pilot.app.screen._compositor.render_strips()]
