"""The screen of treatment dates: list, new event, striking a wrong one."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.chart.chart import Event
from ....core.chart.events import event_words, strike
from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.form import FormState
from ...kit.form_screen import FormScreen
from ...kit.paint import Row
from ...kit.screen import PaintedScreen
from .model import Before, event_form, event_of, listed, spelled_out, strike_form
from .paint import EventsView, page_rows, paint_events

HELP = (
    "What was done when: injections, casts, medication, surgery, and the next date to measure. "
    "Comparisons and sessions say how many days after an injection they were taken.",
    "Product and dose are text in the note; nothing is computed from them. An event is never "
    "changed: a wrong one is struck with a reason, stays in sight marked ~, and no longer "
    "counts.",
)

Saver = Callable[[Event, str], str]
"""Stores an event of an author; returns what went wrong, "" when nothing did."""


class EventsScreen(PaintedScreen[None]):
    """The treatment dates of a chart.

    Args:
        context: the context.
        chart_id: the chart.

    Raises:
        ShelfError: when the chart cannot be read.
    """

    name_in_keymap = "events"
    about = HELP

    def __init__(self, context: Context, chart_id: str) -> None:
        super().__init__(context)
        self._chart_id = chart_id
        self._chart = context.shelf.load(chart_id)
        self._events = listed(self._chart)
        self._at = max(0, len(self._events) - 1)
        self._message = ""
        self._before = Before()

    def paint(self, width: int, height: int) -> Sequence[Row]:
        """The rows of the screen."""
        new = self.context.keymap.name("events.new")
        view = EventsView(
            self._chart.patient, self._events, self._at, self._message, new, self.foot(width)
        )
        return paint_events(view, self.context.catalogue.muscles, width, height)

    def press(self, key: str, action: str) -> None:
        """Take a key."""
        self._message = ""
        page, count = page_rows(self.canvas.size.height), len(self._events)
        steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page}
        steps |= {"home": -count, "end": count}
        if action in steps:
            self._at = max(0, min(count - 1, self._at + steps[action]))
        elif action == "new":
            self.owner.push_screen(EventForm(self.context, self._code, self._before, self._save))
        elif action == "strike":
            self._strike()
        else:
            self.press_other(key, action)
            return
        self.repaint()

    def say(self, text: str) -> None:
        """Show a sentence on the message line."""
        self._message = text
        self.repaint()

    @property
    def _code(self) -> str:
        return self._chart.patient.code

    def _save(self, event: Event, author: str) -> str:
        """Store an event; returns what went wrong, "" when it is stored."""
        try:
            self.context.shelf.add_event(self._chart_id, event, author, self.context.wall())
            self._chart = self.context.shelf.load(self._chart_id)
        except ShelfError as error:
            return str(error)
        self._events = listed(self._chart)
        places = [i for i, one in enumerate(self._events) if one.event.id == event.id]
        self._at = places[0] if places else min(self._at, len(self._events) - 1)
        if places:
            self._before = Before(event.kind, event.date, author)
            self._message = "the event is stored"
        else:
            self._before = replace(self._before, author=author)
            self._message = "the event is struck; it stays in sight"
        return ""

    def _strike(self) -> None:
        chosen = self._events[self._at] if self._events else None
        if chosen is None or chosen.struck is not None:
            self.owner.bell()
            what = "no event to strike" if chosen is None else "this event is struck already"
            self._message = what
            return
        names = {id_: muscle.name for id_, muscle in self.context.catalogue.muscles.items()}
        form = StrikeForm(self.context, chosen.event, self._before.author, self._save)
        form.subject = self._code
        form.intro = f"Strikes: {event_words(chosen.event, names)}. It no longer counts then."
        self.owner.push_screen(form)


class EventForm(FormScreen[None]):
    """The form for a new event; it stays until the event is stored."""

    heading = "new treatment date"
    about = HELP

    def __init__(self, context: Context, code: str, before: Before, save: Saver) -> None:
        self._muscles = context.catalogue.muscles
        self._today = context.clock().date()
        super().__init__(context, event_form(self._muscles, self._today, before))
        self.subject = code
        self._save = save

    def take_step(self, form: FormState) -> None:
        """Show how date and muscle group were understood as soon as they are left."""
        super().take_step(spelled_out(form, self._muscles, self._today))

    def taken(self) -> None:
        """Store the event; what cannot be stored stays in the form."""
        values = self.form.values
        event = event_of(values, self._muscles, self._today, secrets.token_hex(8))
        trouble = self._save(event, values["author"].upper())
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(None)


class StrikeForm(FormScreen[None]):
    """The form that strikes an event; it stays until that is stored."""

    heading = "strike a treatment date"
    about = HELP

    def __init__(self, context: Context, event: Event, author: str, save: Saver) -> None:
        super().__init__(context, strike_form(author))
        self._event = event
        self._save = save

    def taken(self) -> None:
        """Store that the event is struck; what cannot be stored stays in the form."""
        values = self.form.values
        event = strike(self._event, secrets.token_hex(8), values["reason"])
        trouble = self._save(event, values["author"].upper())
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(None)
