"""The app around the drill: the frame of the program, on a throwaway shelf that stays empty."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from random import SystemRandom

from textual import events

from ....core.config.catalogue import load_catalogue
from ....core.entry.deck import drill_plan
from ....core.shelf import Shelf
from ...app import LimbscribeApp
from ...keys.keymap import Keymap
from ...keys.profiles import bindings
from ...kit.context import Context
from ...terminal.characters import needs_ascii
from ...terminal.crash import tell_crash
from ...terminal.output import tell
from .screen import DrillScreen


class DrillApp(LimbscribeApp):
    """The same frame with the drill as its only screen."""

    CSS_PATH = "../../app.tcss"

    def __init__(self, context: Context, first: DrillScreen) -> None:
        super().__init__(context)
        self._first = first

    async def on_mount(self, event: events.Mount) -> None:  # pyright: ignore[reportIncompatibleMethodOverride]
        """Open the drill in place of the first screen, and listen for the end of the line."""
        event.prevent_default()  # Textual would go on to the handler of the base class
        self._listen()
        await self.push_screen(self._first)


def run_drill(sessions: int, ascii_only: bool) -> int:
    """Open the drill; returns the exit code.

    Args:
        sessions: how many are read out.
        ascii_only: show no character above 127.
    """
    catalogue = load_catalogue(None)
    settings = catalogue.settings
    # No patient is on the screen, so there is nothing that an idle screen would have to hide.
    settings = replace(settings, idle_minutes=0)
    catalogue = replace(catalogue, settings=settings)
    changes, clashes = bindings(settings.key_profile, settings.keys, settings.places)
    for problem in (*catalogue.problems, *clashes):
        tell(str(problem))
    ascii_only = ascii_only or settings.ascii or needs_ascii()
    with tempfile.TemporaryDirectory(prefix="limbscribe-drill-") as folder:
        context = Context(Shelf(Path(folder)), catalogue, Keymap(changes), ascii_only, demo=True)
        plan = drill_plan(catalogue.checklists, dict(catalogue.muscles), context.clock().year)
        app = DrillApp(context, DrillScreen(context, plan, sessions, SystemRandom()))
        code = app.run(mouse=False) or 0
        return tell_crash(app.crash) if app.crash else code
