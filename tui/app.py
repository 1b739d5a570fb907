"""The Textual app: it opens the first screen and leaves cleanly, whatever ends it."""

from __future__ import annotations

import asyncio
import gc
import os
import signal
import sys
from pathlib import Path

from textual.app import App

from ..core.catalogue import load_catalogue
from ..core.shelf import Shelf, ShelfError
from .characters import needs_ascii
from .desk import Desk
from .keymap import Keymap, check_changes

TTY_WATCH_S = 5.0


class LimbscribeApp(App[int]):
    """Nothing but the frame around the screens."""

    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "limbscribe"

    def __init__(self, desk: Desk, code: str | None = None) -> None:
        super().__init__(ansi_color=True)
        self.desk = desk
        self._code = code
        self.theme = "ansi-dark"

    async def on_mount(self) -> None:
        """Open the first screen, and listen for the end of the line."""
        self._listen()
        from .opening.screen import OpeningScreen

        opening = OpeningScreen(self.desk)
        await self.push_screen(opening)
        if self._code:
            opening.open_session(self._code)

    def on_ready(self) -> None:
        """After the first painting: collect garbage again, but not what stays for good."""
        gc.freeze()
        gc.enable()

    def action_help_quit(self) -> None:
        """Ctrl-C is a key like any other, see the keymap."""

    def _listen(self) -> None:
        """Textual dies of these signals without restoring the terminal; leave instead.

        Everything accepted is on disk already, so there is nothing to save.
        """
        loop = asyncio.get_running_loop()
        for name in ("SIGHUP", "SIGTERM"):
            if hasattr(signal, name):
                number = getattr(signal, name)
                loop.add_signal_handler(number, self.exit, 128 + number)
        self.set_interval(TTY_WATCH_S, self._watch)

    def _watch(self) -> None:
        """Leave when the terminal has vanished without a word (it reads as end of file)."""
        try:
            os.ttyname(sys.__stdin__.fileno()) if sys.__stdin__ else None
        except OSError:
            if self.is_headless:
                return
            self.exit(128 + 1)


def run_app(
    shelf_folder: Path, *, code: str | None = None, ascii_only: bool = False, demo: bool = False
) -> int:
    """Open the program on a shelf.

    Args:
        shelf_folder: folder of the shelf, made when missing.
        code: patient whose session is opened at once.
        ascii_only: show no character above 127.
        demo: the shelf is a throwaway copy.

    Returns:
        The exit code: 0, or 1 when the shelf or the configuration cannot be used.
    """
    catalogue = load_catalogue(None)
    changes = catalogue.settings.keys
    for problem in (*catalogue.problems, *check_changes(changes)):
        print(problem, file=sys.stderr)
    try:
        shelf = Shelf(shelf_folder)
        if code and shelf.find(code) is None:
            print(f"no chart with the code {code}", file=sys.stderr)
            return 1
    except ShelfError as error:
        print(error, file=sys.stderr)
        return 1
    ascii_only = ascii_only or catalogue.settings.ascii or needs_ascii()
    desk = Desk(shelf, catalogue, Keymap(changes), ascii_only, demo)
    return LimbscribeApp(desk, code).run(mouse=False) or 0
