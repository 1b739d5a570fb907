"""The base of every screen: one canvas, keys by name, painting by a plain function."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar, cast

from textual import events
from textual.app import App, ComposeResult
from textual.screen import Screen

from .canvas import Canvas
from .context import Context
from .paint import Row, keys_row

T = TypeVar("T")

SMALLEST = (60, 20)
"""Columns and rows below which a screen only says that the window is too small."""


class PaintedScreen(Screen[T], Generic[T]):
    """A screen that paints rows and is told its keys.

    Subclasses give ``name_in_keymap``, paint() and press(); they call repaint() when what
    they show has changed. ``about`` are the paragraphs before the keys in their help.
    """

    name_in_keymap = ""
    about: tuple[str, ...] = ()
    AUTO_FOCUS = "Canvas"

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.context = context
        self.canvas = Canvas(context.ascii_only)

    def compose(self) -> ComposeResult:
        """The canvas and nothing else."""
        yield self.canvas

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the screen at a size in cells."""
        raise NotImplementedError

    def press(self, key: str, action: str) -> None:
        """Take a key: its character or name, and the action the keymap gives it."""
        raise NotImplementedError

    def press_other(self, key: str, action: str) -> None:
        """What a screen does with the keys it has no use of its own for: help, leave, refuse."""
        if action == "help":
            self.show_help()
        elif action == "quit":
            self.dismiss(None)
        else:
            self.owner.bell()
            name = self.context.keymap.name(f"{self.name_in_keymap}.help")
            self.say(f"{key!r} does nothing here; {name} lists the keys")

    def show_help(self) -> None:
        """The help of this screen, over it."""
        self.context.navigator.show_help(self, self.name_in_keymap, self.about)

    def say(self, text: str) -> None:
        """Show a sentence on the message line, on screens that have one."""

    def repaint(self) -> None:
        """Show what paint() makes of the present."""
        width, height = self.canvas.size
        if not width or not height:
            return
        if width < SMALLEST[0] or height < SMALLEST[1]:
            words = f"window {width} x {height}: at least {SMALLEST[0]} x {SMALLEST[1]} is needed"
            self.canvas.show([((words, "bold"),)])
            return
        self.canvas.show(self.paint(width, height))

    def put_away(self) -> str:
        """Leave everything as the lock of an idle screen leaves it, before this screen goes.

        Returns:
            What was half-typed and is not kept, in words without any value; "" when nothing.
        """
        return ""

    @property
    def owner(self) -> App[int]:
        """The app, with its type."""
        return cast("App[int]", self.app)  # pyright: ignore[reportUnknownMemberType]

    def foot(self, width: int) -> Row:
        """The line of keys."""
        return keys_row(self.context.keymap.line(self.name_in_keymap), width)

    def on_mount(self) -> None:
        """First painting."""
        self.repaint()

    def on_resize(self) -> None:
        """The window changed."""
        self.call_after_refresh(self.repaint)

    def on_screen_resume(self) -> None:
        """Another screen was closed over this one."""
        self.repaint()

    def on_key(self, event: events.Key) -> None:
        """Every key comes here and goes no further."""
        event.stop()
        event.prevent_default()
        if self.context.typeahead.hold(self.owner, self, event):
            return
        key = event.character if event.character and event.is_printable else event.key
        if self.context.keymap.action("app", key) == "suspend":
            self.owner.action_suspend_process()
            return
        self.press(key, self.context.keymap.action(self.name_in_keymap, key))

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text is text where text is asked for, and never a row of commands."""
        event.stop()
        self.pasted(event.text)

    def pasted(self, text: str) -> None:
        """Take pasted text; refused unless a screen says otherwise."""
        del text
        self.owner.bell()
