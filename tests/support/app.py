"""An invented desk for the tests of screens: a shelf in a temporary folder, a fixed clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

from limbscribe.core.chart.checklist import Checklist, Item, shipped_checklists
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.config.catalogue import Catalogue
from limbscribe.core.config.settings import Settings
from limbscribe.core.entry.plan import settled
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.tui.flow import Flow
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.context import Context
from limbscribe.tui.kit.paint import Row
from limbscribe.tui.kit.screen import PaintedScreen
from limbscribe.tui.terminal.typeahead import HOLD_S
from textual import events
from textual.pilot import Pilot

NOW = datetime(2026, 11, 25, 9, 41, tzinfo=timezone(timedelta(hours=1)))
MUSCLES = shipped_muscles()
CHECKLISTS = shipped_checklists(MUSCLES)
SHORT = Checklist("short", "Short one", (Item("soleus"),))


def catalogue(*more: Checklist) -> Catalogue:
    """The shipped muscle groups and checklists, and more checklists."""
    return Catalogue(MUSCLES, (*CHECKLISTS, *more), Settings(), ())


def desk(folder: Path, *more: Checklist, demo: bool = False) -> Context:
    """A desk on an empty shelf."""
    return Context(Shelf(folder), catalogue(*more), Keymap(), Flow(), demo=demo, clock=lambda: NOW)


def patient(code: str = "K-014") -> Patient:
    """An invented patient."""
    return Patient(code, 1958, "female", "stroke", "left")


def session(id: str = "a1", started: str = "2026-05-02T10:15:00+02:00") -> Session:
    """An invented earlier session with ways of its own."""
    ways = replace(CHECKLISTS[1], order="side", field_order="slow-first", tries=3, counts="worst")
    return Session(
        id,
        started,
        "JT",
        "AB",
        settled(ways, "left", MUSCLES),
        Conditions("supine, head straight", 95, "new orthosis", True),
    )


def text_of(rows: Sequence[Row]) -> list[str]:
    """The rows as plain text."""
    return ["".join(text for text, _ in row).rstrip() for row in rows]


async def type_keys(pilot: Pilot[int], *keys: str) -> None:
    """Post keys without waiting between them; a longer text in quotes is typed letter by letter."""
    for key in keys:
        letters = key[1:] if key.startswith("'") else ""
        for one in letters or (key,):
            character = one if len(one) == 1 else None
            pilot.app.screen.post_message(events.Key(one, character))
        await pilot.pause()
        screen = pilot.app.screen
        while isinstance(screen, PaintedScreen) and screen.context.typeahead.waiting:
            await pilot.pause(HOLD_S)
