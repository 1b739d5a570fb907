"""The Textual app: it opens the first screen and leaves cleanly, whatever ends it."""

from __future__ import annotations

import asyncio
import gc
import os
import signal
from contextlib import suppress
from typing import Any

from rich.console import RenderableType
from textual import events
from textual.screen import Screen

from .kit.context import Context
from .kit.screen import PaintedScreen
from .screens.guard.lock import IdleClock, LockedView
from .terminal.after import after
from .terminal.crash import catch_strays
from .terminal.line import Line, LineDriver, can_be_set_aside
from .terminal.mirror import Mirror
from .terminal.textual_private import HookedApp


class LimbscribeApp(HookedApp):
    """Nothing but the frame around the screens."""

    CSS_PATH = "app.tcss"
    ENABLE_COMMAND_PALETTE = False
    TITLE = "limbscribe"

    def __init__(
        self,
        context: Context,
        code: str | None = None,
        first: PaintedScreen[None] | None = None,
        said: str = "",
    ) -> None:
        """Make the app.

        Args:
            context: what every screen is handed.
            code: patient whose session is opened at once.
            first: the first screen, None for the list of patients.
            said: what that list says at first.
        """
        super().__init__(driver_class=LineDriver, ansi_color=True)
        self.context = context
        self._line = Line()
        self.mirror = Mirror()
        self._code = code
        self._first = first
        self._said = said
        self.idle = IdleClock(context.catalogue.settings.idle_minutes)
        self.crash: BaseException | None = None
        context.typeahead.at_rest = self._at_rest
        self.theme = "ansi-dark"

    async def on_mount(self) -> None:
        """Open the first screen, and listen for the end of the line."""
        self._listen()
        self._look_at_idle()
        if self._first:
            await self.push_screen(self._first)
            return
        from .screens.opening.screen import OpeningScreen

        opening = OpeningScreen(self.context)
        await self.push_screen(opening)
        if self._said:
            opening.say(self._said, ring=True)
        if self._code:
            opening.open_session(self._code)

    def on_ready(self) -> None:
        """After the first painting: collect garbage again, but not what stays for good."""
        gc.freeze()
        gc.enable()

    # The lock of an idle screen -----------------------------------------------------------

    async def on_event(self, event: events.Event) -> None:
        """Keys put the lock off; one that comes too late, after the machine slept, goes nowhere."""
        if isinstance(event, events.Key | events.Paste):
            late = self.idle.left <= 0
            self.idle.touch()
            if late and self.lock():
                return
        await super().on_event(event)

    def _look_at_idle(self) -> None:
        """Lock when it is due, else look again when it may be."""
        if self.idle.left <= 0:
            self.idle.touch()
            self.lock()
        if self.idle.minutes:
            after(self, max(0.1, self.idle.left), self._look_at_idle)

    def lock(self) -> bool:
        """Leave everything that is open and show a page without patients; whether it was done."""
        from .screens.guard.screen import LockedScreen
        from .screens.opening.screen import OpeningScreen

        if isinstance(self.screen, LockedScreen):
            self.screen.forget()
            return False
        self.context.typeahead.drop()
        dropped: list[str] = []
        session = False
        while isinstance(self.screen, PaintedScreen) and not isinstance(self.screen, OpeningScreen):
            session = session or self.screen.name_in_keymap == "entry"
            dropped.append(self.screen.put_away())
            self.pop_screen()
        asks = self.context.shelf.encrypted
        view = LockedView(self.idle.minutes, tuple(filter(None, dropped)), session, asks)
        self.push_screen(LockedScreen(self.context, view), lambda _: self._unlocked(view))
        return True

    def _unlocked(self, view: LockedView) -> None:
        from .screens.guard.lock import locked_words
        from .screens.opening.screen import OpeningScreen

        if isinstance(self.screen, OpeningScreen):
            self.screen.read_again()
            self.screen.say(" ".join(locked_words(view)))

    def to_write(self, screen: Screen[Any]) -> str:
        """Write what the terminal does not show yet; nothing of a screen not painted so far."""
        if screen is not self.screen or not isinstance(screen, PaintedScreen) or not screen.painted:
            return ""
        canvas = screen.canvas
        if canvas.anew:
            canvas.anew = False
            self.mirror.lost()
        return self.mirror.update(canvas.strips(), canvas.size.width, self.console)

    def taken(self) -> None:
        """The terminal was taken, at the start or again: nothing of ours is on it."""
        self.mirror.lost()

    def on_resize(self, event: events.Resize) -> None:
        """Of what it showed before, a terminal of another size may show anything.

        A signal may come within the handling of another one, which then tells its size last
        although it is the older: so it is asked for again.
        """
        self.mirror.lost()
        driver = self.driver
        if isinstance(driver, LineDriver) and (now := driver.size_now) != event.size:
            self.post_message(events.Resize(now, now))

    def _at_rest(self) -> bool:
        driver = self.driver
        return not isinstance(driver, LineDriver) or driver.at_rest

    def bell(self) -> None:
        """Ring, unless the clinic has set silence; what was refused is then in reverse video."""
        if not self.context.catalogue.settings.silent:
            super().bell()

    # A crash ------------------------------------------------------------------------------

    def failed(self, error: Exception) -> None:
        """Keep what nobody caught, for a last word that shows no data; see report_crash()."""
        self.crash = self.crash or error

    def _stray(self, error: BaseException) -> None:
        self.crash = self.crash or error
        self.close_now()

    def panic(self, *renderables: RenderableType) -> None:
        """Leave; what would be shown may hold data."""
        del renderables
        self._stray(RuntimeError())

    def action_help_quit(self) -> None:
        """Ctrl-C is a key like any other, see the keymap."""

    def action_suspend_process(self) -> None:
        """Ctrl-Z: back to the shell until it brings us back, if there is one behind us."""
        if self.is_headless or not can_be_set_aside():
            self.bell()
            return
        # The whole process group, as the terminal does it: a wrapper script stops with us.
        os.killpg(0, signal.SIGTSTP)
        self.refresh(layout=True)

    def _listen(self) -> None:
        """Textual dies of signals without restoring the terminal; leave in order instead."""
        if self.is_headless:
            return
        catch_strays(self._stray)
        loop = asyncio.get_running_loop()

        def leave(code: int) -> None:
            with suppress(RuntimeError):  # the loop has ended already
                loop.call_soon_threadsafe(self.exit, code)

        self._line.watch(leave)
