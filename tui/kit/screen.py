"""The base of every screen: one canvas, keys by name, painting by a plain function."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from typing import Generic, TypeVar, cast

from textual import events
from textual.app import App, ComposeResult
from textual.screen import Screen

from ..terminal.typeahead import key_of
from .canvas import Canvas
from .context import Context
from .line_edit import NOTHING_HERE
from .paint import Row, filled, keys_row, message_rows

T = TypeVar("T")

TOO_EARLY = "What was typed before this was on the screen was dropped."

SMALLEST = (60, 20)
"""Columns and rows below which a screen only says that the window is too small."""


UNSEEN = "Nothing typed is taken until then."


class PaintedScreen(Screen[T], Generic[T]):
    """A screen that paints rows and gets its keys.

    Subclasses give ``name_in_keymap``, body(), and a method for each action in ``actions``.
    Below the body come the message, or else the hint, and the line of keys.

    Attributes:
        name_in_keymap: of the screen.
        about: paragraphs before the keys in its help.
        kept_rows: rows kept for the message, 0 for as many as it needs.
        actions: what a key does, by the action that the keymap gives it.
        message: answer to the last key.
    """

    name_in_keymap = ""
    about: tuple[str, ...] = ()
    kept_rows = 0
    AUTO_FOCUS = "Canvas"

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.context = context
        self.canvas = Canvas(context.ascii_only)
        self.message = ""
        self._rang = False
        self.actions: dict[str, Callable[[], None]] = {"help": self.show_help, "quit": self.leave}

    def compose(self) -> ComposeResult:
        """The canvas and nothing else."""
        yield self.canvas

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """Paint the screen at a size in cells: body, message, line of keys."""
        foot = [*self.message_rows(width), self.foot(width)]
        room = height - len(foot)
        return [*filled(self.body(width, room), room), *foot]

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint what is above message and keys, in at most ``height`` rows."""
        raise NotImplementedError

    def hint(self) -> str:
        """Say what the message line says while there is no message."""
        return ""

    @property
    def room(self) -> int:
        """Rows that body() has in the window as it is."""
        width, height = self.canvas.size
        return height - 1 - len(self.message_rows(width))

    def message_rows(self, width: int) -> list[Row]:
        """Paint the message, or else the hint."""
        text, style = (self.message, "ask") if self.message else (self.hint(), "")
        if self.seen_bell:
            text, style = self.message or NOTHING_HERE, "here"
        return message_rows(text, width, self.kept_rows, style)

    def take(self, key: str, action: str) -> None:
        """Take a key; a list that is gone through by letters takes those itself."""
        self.press(key, action)

    def press(self, key: str, action: str) -> None:
        """Do what a key means here; one that means nothing rings.

        Args:
            key: its character or name.
            action: what the keymap makes of it, "" for nothing.
        """
        self.message = ""
        if action in self.actions:
            self.actions[action]()
            self.repaint()
            return
        name = self.context.keymap.name(f"{self.name_in_keymap}.help")
        self.refuse(f"{key!r} does nothing here" + (f"; {name} lists the keys" if name else ""))

    def show_help(self) -> None:
        """Show the help of this screen, over it."""
        self.context.navigator.show_help(self, self.name_in_keymap, self.about)

    def leave(self) -> None:
        """Go back to the screen beneath."""
        self.dismiss(None)

    def ring(self) -> None:
        """Ring the bell; where that is set to be silent, the message line is reversed instead."""
        self._rang = True
        self.owner.bell()

    @property
    def seen_bell(self) -> bool:
        """Whether the last key was refused and that is to be seen, as nothing rings."""
        return self._rang and self.context.catalogue.settings.silent

    def say(self, text: str, ring: bool = False) -> None:
        """Show a sentence on the message line, with the bell or without."""
        self.message = text
        if ring:
            self.ring()
        self.repaint()

    def refuse(self, text: str) -> None:
        """Say why nothing was done, with the bell."""
        self.say(text, ring=True)

    def repaint(self) -> None:
        """Show what paint() makes of the present."""
        width, height = self.canvas.size
        if not width or not height:
            return
        if self.too_small:
            words = f"window {width} x {height}: at least {SMALLEST[0]} x {SMALLEST[1]} is needed"
            self.canvas.show([((words, "bold"),), ((UNSEEN, "here" if self._rang else ""),)])
            return
        self.canvas.show(self.paint(width, height))

    @property
    def too_small(self) -> bool:
        """Whether the window shows nothing of the screen; one not laid out yet has no size."""
        width, height = self.canvas.size
        return 0 < width < SMALLEST[0] or 0 < height < SMALLEST[1]

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

    def key_words(self) -> dict[str, str]:
        """Words of the line of keys that differ from the keymap's, by action."""
        return {}

    def foot(self, width: int) -> Row:
        """Paint the line of keys."""
        keymap = self.context.keymap
        return keys_row(keymap.line(self.name_in_keymap, self.key_words()), width)

    def on_mount(self) -> None:
        """First painting."""
        self.repaint()

    def on_resize(self) -> None:
        """The window changed."""
        self.call_after_refresh(self.repaint)

    def on_screen_resume(self) -> None:
        """This screen came to the front: it is new, or another one was closed over it."""
        self.context.typeahead.watch(self.owner)
        self.repaint()

    @property
    def painted(self) -> bool:
        """Whether its first frame is made."""
        return self.canvas.painted

    @property
    def told(self) -> str:
        """The sentence on the message line, "" for none."""
        return self.message

    def too_early(self, dropped: Set[str]) -> None:
        """Say that something was dropped, unless the screen has more to say itself.

        Args:
            dropped: names of the keys.
        """
        del dropped
        if self.told:
            self.ring()
            self.repaint()
        else:
            self.refuse(TOO_EARLY)

    def on_key(self, event: events.Key) -> None:
        """Every key comes here and goes no further."""
        event.stop()
        event.prevent_default()
        if self.context.typeahead.hold(self.owner, self, event):
            return
        key = key_of(event)
        everywhere = self.context.keymap.action("app", key)
        if everywhere == "suspend":
            self.owner.action_suspend_process()
            return
        if everywhere == "redraw":
            self.canvas.lost()
            return
        self._rang = False
        action = self.context.keymap.action(self.name_in_keymap, key)
        if self.too_small and action not in ("quit", "leave"):
            self.too_early({key})  # nobody sees what would become of it
            return
        self.take(key, action)
        self.context.typeahead.watch(self.owner)

    def on_paste(self, event: events.Paste) -> None:
        """Pasted text is text where text is asked for, and never a row of commands."""
        event.stop()
        if self.context.typeahead.dropped(self.owner):
            return
        self._rang = False
        if self.too_small:
            self.too_early({"paste"})
        else:
            self.pasted(event.text)

    def pasted(self, text: str) -> None:
        """Take pasted text; refused unless a screen says otherwise."""
        del text
        self.ring()
        self.repaint()
