"""The forms of treatment dates, each staying until what was typed is stored."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from datetime import date

from ....core.chart.event import Event
from ....core.chart.events import strike
from ....core.chart.goals import Goal
from ...kit.context import Context
from ...kit.form import FormField, FormState
from ...kit.form_screen import FormScreen
from .goals import goal_form, goal_of, score_form, score_of_form
from .model import Before, asked_for, event_form, events_of, spelled_out, strike_form

HELP = (
    "What was done when: injections, casts, medication, surgery, and the next date to measure. "
    "Comparisons and sessions say how many days after an injection they were taken.",
    "A toxin treatment is one form: date, product, unit, dilution, guidance and author once, "
    "then a row a muscle, as sol l 50; two places, and its goals. Enter on a filled row opens "
    "the next one; Enter on the empty row goes on to the goals, and on the empty goal stores "
    "everything at once. Amounts are kept and shown as typed; nothing is added up or advised.",
    "A goal belongs to a treatment. How far it was reached is scored later, from -2 (much less "
    "than expected) to +2 (much more than expected), 0 being the expected level; the latest "
    "score counts. The T score of Kiresuk and Sherman (1968) over the goals of a treatment is "
    "shown with their number: 50 is the expected level, and few goals make it coarse.",
    "Nothing is ever changed: a wrong event, goal or score is struck with a reason, stays in "
    "sight marked ~, and no longer counts.",
)

Saver = Callable[[Sequence[Event], str], str]
"""Stores events of an author; returns what went wrong, "" when nothing did."""


class StoringForm(FormScreen[None]):
    """A form that stays until its events are stored."""

    about = HELP

    def __init__(self, context: Context, form: FormState, save: Saver) -> None:
        super().__init__(context, form)
        self._save = save
        self._stem = secrets.token_hex(6)

    def id_of(self, place: int) -> str:
        """Give the id of an event, the same however often it is stored: it is stored once."""
        return f"{self._stem}{place:04x}"

    def events(self) -> Sequence[Event]:
        """Make the events of the values typed."""
        raise NotImplementedError

    def taken(self) -> None:
        """Store the events; what cannot be stored stays in the form."""
        trouble = self._save(self.events(), self.form.values["author"].upper())
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(None)


class EventForm(StoringForm):
    """The form for a new event, or a toxin treatment with its rows and goals."""

    heading = "new treatment date"

    def __init__(self, context: Context, code: str, before: Before, save: Saver) -> None:
        self._muscles = context.catalogue.muscles
        self._today = context.clock().date()
        self._before = before
        self._kept: dict[str, FormField] = {}
        super().__init__(context, event_form(self._muscles, self._today, before), save)
        self.subject = code

    def take_step(self, form: FormState) -> None:
        """Show how date, muscle groups and goals were understood as soon as they are left."""
        form = spelled_out(form, self._muscles, self._today)
        form = asked_for(form, self._before, self._kept, self._muscles)
        self._kept |= {field.name: field for field in form.fields}
        super().take_step(form)

    def events(self) -> Sequence[Event]:
        """Make the new events."""
        return events_of(self.form.values, self._muscles, self._today, self.id_of)


class StrikeForm(StoringForm):
    """The form that strikes an event."""

    heading = "strike a treatment date"
    done = "strike it"

    def __init__(self, context: Context, event: Event, author: str, save: Saver) -> None:
        super().__init__(context, strike_form(author), save)
        self._event = event

    def events(self) -> Sequence[Event]:
        """Make the event that strikes another."""
        return [strike(self._event, self.id_of(0), self.form.values["reason"])]


class GoalForm(StoringForm):
    """The form for one more goal of a treatment."""

    heading = "new goal"

    def __init__(self, context: Context, day: date, author: str, save: Saver) -> None:
        super().__init__(context, goal_form(day, author), save)
        self._day = day

    def events(self) -> Sequence[Event]:
        """Make the goal."""
        return [goal_of(self.form.values, self._day, self.id_of(0))]


class ScoreForm(StoringForm):
    """The form that says how far a goal was reached."""

    heading = "score a goal"

    def __init__(self, context: Context, goal: Goal, author: str, save: Saver) -> None:
        self._today = context.clock().date()
        super().__init__(context, score_form(goal, self._today, author), save)
        self._goal = goal

    def events(self) -> Sequence[Event]:
        """Make the score."""
        return [score_of_form(self.form.values, self._goal, self._today, self.id_of(0))]
