"""Everything of Textual whose name begins with an underscore, and public names for it.

No other file names a private part of Textual. A new version may change any of them without a
word, so pyproject.toml pins Textual to one version, and tests/tui/test_textual_private.py looks
for each of them in the one installed.
"""

from __future__ import annotations

from typing import IO, Any

from rich.console import Console, RenderableType
from textual._compositor import CompositorUpdate
from textual._xterm_parser import XTermParser
from textual.app import App
from textual.drivers.linux_driver import LinuxDriver
from textual.geometry import Size
from textual.screen import Screen

__all__ = ["HookedApp", "HookedDriver", "Written", "XTermParser"]

MODULES = ("textual._compositor", "textual._xterm_parser")
"""Modules of Textual that are private as a whole."""

OF_APP = ("_close_messages_no_wait", "_display", "_fatal_error", "_handle_exception")
KEPT_BY_APP = ("_batch_count", "_driver")
OF_DRIVER = ("_app", "_file", "_get_terminal_size", "_sigcont_application")
"""Private names of Textual's app, its attributes apart, and of its driver for Linux."""


class Written(CompositorUpdate):
    """A change of the screen that is written as it is."""

    def __init__(self, text: str) -> None:
        self.text = text

    def render_segments(self, console: Console) -> str:
        """The bytes of the update as text."""
        del console
        return self.text


class HookedApp(App[int]):
    """An app that says what it draws and why it fails."""

    def to_write(self, screen: Screen[Any]) -> str:
        """Give what is to be written for a change of a screen, "" for nothing."""
        raise NotImplementedError

    def taken(self) -> None:
        """The terminal was taken; nothing of ours is on it."""

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
        if isinstance(renderable, CompositorUpdate) and not self._batch_count:
            text = self.to_write(screen)
            written: Any = Written(text) if text else None
            super()._display(screen, written)  # pyright: ignore[reportUnknownMemberType]
            return
        super()._display(screen, renderable)  # pyright: ignore[reportUnknownMemberType]

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

    @property
    def size_now(self) -> Size:
        """The size of the terminal, in cells, asked for again."""
        return Size(*self._get_terminal_size())

    def start_application_mode(self) -> None:
        """Take the terminal, at the start or again, and say so."""
        if isinstance(self._app, HookedApp):
            self._app.taken()
        super().start_application_mode()

    def may_resume(self) -> bool:
        """Whether the terminal is to be taken again after the process was continued."""
        return True

    def _sigcont_application(self, *args: Any) -> None:
        if self.may_resume():
            super()._sigcont_application(*args)  # pyright: ignore[reportUnknownMemberType]
