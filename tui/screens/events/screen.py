"""The screen of treatment dates: list, new event, striking a wrong one."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import replace

from ....core.chart.event import Event
from ....core.chart.events import event_words, strike
from ....core.errors import ShelfError
from ...kit.context import Context
from ...kit.form import FormState
from ...kit.form_screen import FormScreen
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moved, moving
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


class EventsScreen(ListScreen[None]):
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
        self._before = Before()
        self.actions |= {**moving(self._move), "new": self._new, "strike": self._strike}

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the list."""
        new = self.context.keymap.name("events.new")
        view = EventsView(self._chart.patient, self._events, self._at, new)
        return paint_events(view, self.context.catalogue.muscles, width, height)

    def _move(self, action: str) -> None:
        self._at = moved(self._at, action, len(self._events), page_rows(self.room))

    def names(self) -> Sequence[str]:
        """Name every event by its date, kind, muscle group and side."""
        names = {id_: muscle.name for id_, muscle in self.context.catalogue.muscles.items()}
        return [event_words(one.event, names) for one in self._events]

    def go_to(self, index: int) -> None:
        """Select an event."""
        self._at = index

    def _new(self) -> None:
        self.owner.push_screen(EventForm(self.context, self._code, self._before, self._save))

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
            self.message = "the event is stored"
        else:
            self._before = replace(self._before, author=author)
            self.message = "the event is struck; it stays in sight"
        return ""

    def _strike(self) -> None:
        chosen = self._events[self._at] if self._events else None
        if chosen is None or chosen.struck is not None:
            self.refuse("no event to strike" if chosen is None else "this event is struck already")
            return
        names = {id_: muscle.name for id_, muscle in self.context.catalogue.muscles.items()}
        form = StrikeForm(self.context, chosen.event, self._before.author, self._save)
        form.subject = self._code
        form.intro = f"Strikes: {event_words(chosen.event, names)}. It no longer counts then."
        self.owner.push_screen(form)


class _StoringForm(FormScreen[None]):
    """A form that stays until its event is stored."""

    about = HELP

    def __init__(self, context: Context, form: FormState, save: Saver) -> None:
        super().__init__(context, form)
        self._save = save

    def event(self) -> Event:
        """Make the event of the values typed."""
        raise NotImplementedError

    def taken(self) -> None:
        """Store the event; what cannot be stored stays in the form."""
        trouble = self._save(self.event(), self.form.values["author"].upper())
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(None)


class EventForm(_StoringForm):
    """The form for a new event."""

    heading = "new treatment date"

    def __init__(self, context: Context, code: str, before: Before, save: Saver) -> None:
        self._muscles = context.catalogue.muscles
        self._today = context.clock().date()
        super().__init__(context, event_form(self._muscles, self._today, before), save)
        self.subject = code

    def take_step(self, form: FormState) -> None:
        """Show how date and muscle group were understood as soon as they are left."""
        super().take_step(spelled_out(form, self._muscles, self._today))

    def event(self) -> Event:
        """Make the new event."""
        return event_of(self.form.values, self._muscles, self._today, secrets.token_hex(8))


class StrikeForm(_StoringForm):
    """The form that strikes an event."""

    heading = "strike a treatment date"
    done = "strike it"

    def __init__(self, context: Context, event: Event, author: str, save: Saver) -> None:
        super().__init__(context, strike_form(author), save)
        self._event = event

    def event(self) -> Event:
        """Make the event that strikes another."""
        return strike(self._event, secrets.token_hex(8), self.form.values["reason"])
