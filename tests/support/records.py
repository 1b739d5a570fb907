"""Invented sessions, entries and screens for the tests of review, chart and help."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.config.catalogue import Catalogue
from limbscribe.core.config.settings import Settings
from limbscribe.core.entry.plan import make_plan, settled
from limbscribe.core.entry.state import EntryState, begin
from limbscribe.core.entry.step import step
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import Row, width_of
from limbscribe.tui.kit.screen import PaintedScreen
from limbscribe.tui.terminal.typeahead import HOLD_S
from textual import events
from textual.app import App
from textual.pilot import Pilot

MUSCLES = shipped_muscles()
PATIENT = Patient("INV-07", 1956, "male", "stroke", "left")
CHECKLIST = Checklist(
    "invented",
    "Invented list",
    (Item("gastrocnemius"), Item("soleus", "left"), Item("elbow-flexors", "left")),
)
KEYS = {"\n": "enter", "<": "up", ">": "down", "[": "pageup", "]": "pagedown"}
"""How the tests write keys that are not characters."""


def text_of(rows: list[Row] | Any) -> list[str]:
    """Rows as plain lines."""
    return ["".join(text for text, _ in row).rstrip() for row in rows]


def fits(rows: Any, width: int, height: int) -> bool:
    """Whether rows fill the height and none is wider than the window."""
    return len(rows) == height and all(width_of(row) <= width for row in rows)


def state_of(keys: str, checklist: Checklist = CHECKLIST, **changes: Any) -> EntryState:
    """An entry after keys."""
    ready = settled(replace(checklist, **changes), PATIENT.affected, MUSCLES)
    state = begin(make_plan(ready, PATIENT, 2026, MUSCLES))
    for key in keys:
        state, _ = step(state, KEYS.get(key, key))
    return state


def reading(muscle: str, side: Side, r1: int | None, r2: int | None, **more: Any) -> Reading:
    """A reading in the muscle's default scale and standard position."""
    found = MUSCLES[muscle]
    values: dict[str, Any] = {
        "quality": 2 if r1 is not None else 1,
        "r1_tries": (r1,),
        "r2_tries": () if r2 is None else (r2,),
        "entered": "2026-01-02T10:00:00+01:00",
        "posture": found.posture_words,
        "scale": found.scale(),
        "fast_velocity": found.velocity,
    }
    return Reading(muscle=muscle, side=side, r1=r1, r2=r2, **(values | more))


def session(day: str, *readings: Reading, **more: Any) -> Session:
    """A session on a day, with the invented checklist."""
    checklist = settled(CHECKLIST, "left", MUSCLES)
    found = Session(f"id-{day}", f"{day}T10:00:00+01:00", "AB", "CD", checklist)
    return replace(found, readings=readings, **more)


def desk_on(folder: Path, *sessions: Session) -> tuple[Context, str]:
    """A desk with a shelf of one chart, and the chart's id."""
    shelf = Shelf(folder / "shelf")
    chart_id = shelf.create(PATIENT)
    for one in sessions:
        shelf.add_closed(chart_id, [one], "CD", "2026-11-25T12:00:00+01:00")
    catalogue = Catalogue(MUSCLES, (CHECKLIST,), Settings(), ())
    noon = datetime.fromisoformat("2026-11-25T12:00:00+01:00")
    return Context(shelf, catalogue, Keymap(), Flow(), clock=lambda: noon), chart_id


class OneScreen(App[int]):
    """An app with one screen, which keeps what that screen was dismissed with."""

    def __init__(self, screen: PaintedScreen[Any]) -> None:
        super().__init__()
        self.first = screen
        self.answers: list[Any] = []

    def on_mount(self) -> None:
        """Show the screen."""
        self.push_screen(self.first, self.answers.append)


async def press(pilot: Pilot[int], keys: str) -> None:
    """Post keys to the screen in front, and wait until all of them are taken."""
    for char in keys:
        name = KEYS.get(char)
        key = events.Key(name, None) if name else events.Key(char, char)
        pilot.app.post_message(key)
    await pilot.pause()
    screen = pilot.app.screen
    while isinstance(screen, PaintedScreen) and screen.context.typeahead.waiting:
        await pilot.pause(HOLD_S)


def shown(pilot: Pilot[int]) -> list[str]:
    """What the screen in front has on its canvas."""
    screen = pilot.app.screen
    assert isinstance(screen, PaintedScreen)
    canvas = screen.canvas
    height = canvas.size.height
    return ["".join(s.text for s in canvas.render_line(y)).rstrip() for y in range(height)]
