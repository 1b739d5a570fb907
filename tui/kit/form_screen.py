"""The screen around a form: it feeds keys to step() and paints what comes back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from .context import Context
from .form import FormState, step, typed
from .form_paint import form_rows, hint_rows, title_row
from .paint import Row, wrap
from .screen import PaintedScreen

T = TypeVar("T")


class FormScreen(PaintedScreen[T]):
    """A form. Subclasses say what it is about, and what to do when it is taken or left."""

    name_in_keymap = "form"
    heading = ""
    subject = ""
    intro = ""
    done = "save"
    """What finishing the form does, for the line of keys."""

    def __init__(self, context: Context, form: FormState, message: str = "") -> None:
        super().__init__(context)
        self.form = form
        self.message = message

    def key_words(self) -> dict[str, str]:
        """Say what finishing the form does here."""
        return {"save": self.done}

    def taken(self) -> None:
        """The form was taken: every value passed its check."""
        raise NotImplementedError

    def press(self, key: str, action: str) -> None:
        """Type; only help is no key of the form itself."""
        if action == "help":
            self.show_help()
        else:
            self.take_step(step(self.form, key, action))

    def pasted(self, text: str) -> None:
        """The first line of pasted text goes into a field of text."""
        lines = text.strip().splitlines()
        if self.form.current.kind == "choice" or not lines:
            super().pasted(text)
            return
        self.take_step(typed(self.form, lines[0]))

    def take_step(self, form: FormState) -> None:
        """Show a new state of the form, or end it."""
        self.form = form
        if form.outcome == "left":
            self.dismiss(None)
        elif form.outcome == "taken":
            self.taken()
        else:
            self.say(form.message, ring=form.refused)

    def stay(self, message: str) -> None:
        """Go on with a form that was taken, and say why."""
        self.form = replace(self.form, outcome="")
        self.refuse(message)

    def put_away(self) -> str:
        """A form that nobody finished is dropped."""
        return "a form that was not finished" if any(f.touched for f in self.form.fields) else ""

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint title, intro and fields."""
        head = [title_row(self.heading, self.subject, width), *wrap(self.intro, width)]
        return [*head, *form_rows(self.form, width, height - len(head))]

    def message_rows(self, width: int) -> list[Row]:
        """Paint the message with the hint of the current field, in rows that are always kept."""
        style = "here" if self.seen_bell else "ask"
        return hint_rows(self.form, width, self.message, style)
