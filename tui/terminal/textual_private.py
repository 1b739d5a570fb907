"""Everything of Textual whose name begins with an underscore, and public names for it.

No other file names a private part of Textual. A new version may change any of them without a
word, so pyproject.toml pins Textual to one version, and tests/tui/test_textual_private.py looks
for each of them in the one installed.
"""

from __future__ import annotations

from typing import IO, Any

from rich.console import RenderableType
from textual._compositor import ChopsUpdate
from textual._xterm_parser import XTermParser
from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.screen import Screen

__all__ = ["ChopsUpdate", "HookedApp", "HookedDriver", "XTermParser"]

MODULES = ("textual._compositor", "textual._xterm_parser")
"""Modules of Textual that are private as a whole."""

OF_APP = ("_close_messages_no_wait", "_display", "_fatal_error", "_handle_exception")
KEPT_BY_APP = ("_driver",)
OF_DRIVER = ("_file", "_sigcont_application")
"""Private names of Textual's app, its attributes apart, and of its driver for Linux."""


class HookedApp(App[int]):
    """An app that says what it draws and why it fails."""

    def drawn(self, update: RenderableType | None) -> RenderableType | None:
        """Give what is written for a change of the screen; by default what Textual made."""
        return update

    def failed(self, error: Exception) -> None:
        """Take note of an exception that nobody caught."""

    @property
    def driver(self) -> object:
        """What talks to the terminal."""
        return self._driver

    def close_now(self) -> None:
        """Leave without a word."""
        self._close_messages_no_wait()

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        super()._display(screen, self.drawn(renderable))  # pyright: ignore[reportUnknownMemberType]

    def _handle_exception(self, error: Exception) -> None:
        self.failed(error)
        super()._handle_exception(error)

    def _fatal_error(self) -> None:
        """Leave; the traceback that would be shown prints every local variable."""
        self.close_now()


class HookedDriver(LinuxDriver):
    """A driver whose file can be replaced, and that asks before it takes the terminal again."""

    @property
    def file(self) -> IO[str]:
        """What is written to."""
        return self._file

    @file.setter
    def file(self, file: Any) -> None:
        self._file = file

    def may_resume(self) -> bool:
        """Whether the terminal is to be taken again after the process was continued."""
        return True

    def _sigcont_application(self, *args: Any) -> None:
        if self.may_resume():
            super()._sigcont_application(*args)  # pyright: ignore[reportUnknownMemberType]
