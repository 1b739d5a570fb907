"""The forms of treatment dates, each staying until what was typed is stored."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from ....core.chart.event import Event
from ....core.chart.events import strike
from ....core.chart.goals import Goal
from ...kit.context import Context
from ...kit.form import FormField, FormState
from ...kit.form_screen import FormScreen
from .goals import goal_form, goal_of, score_form, score_of_form
from .model import Before, asked_for, event_form, events_of, spelled_out, strike_form
from .treatment import PER_ROW, ROW, opened

HELP = (
    "What was done when: injections, casts, medication, surgery, and the next date to measure. "
    "Comparisons and sessions say how many days after an injection they were taken.",
    "A toxin treatment is one form: date, product, unit, dilution, guidance and author once, "
    "then a row a muscle, as sol l 50; two places, and its goals. Enter on a filled row opens "
    "the next one; Enter on the empty row goes on to the goals, and on the empty goal stores "
    "everything at once. Amounts are kept and shown as typed; nothing is added up or advised.",
    "Where one muscle got another unit, dilution, guidance or product, a key on its row opens a "
    "field for each below it: what stays empty there is as for all rows, shown dimmed, and - is "
    "none.",
    "A goal belongs to a treatment. How far it was reached is scored later, from -2 (much less "
    "than expected) to +2 (much more than expected), 0 being the expected level; the latest "
    "score counts. The T score of Kiresuk and Sherman (1968) over the goals of a treatment is "
    "shown with their number: 50 is the expected level, and few goals make it coarse.",
    "Nothing is ever changed: a wrong event, goal or score is struck with a reason, stays in "
    "sight marked ~, and no longer counts.",
)

Saver = Callable[[Sequence[Event], Before], str]
"""Stores events of an author, with what is offered then for the next; returns what went wrong,
"" when nothing did."""


class StoringForm(FormScreen[None]):
    """A form that stays until its events are stored."""

    about = HELP

    def __init__(self, context: Context, form: FormState, before: Before, save: Saver) -> None:
        super().__init__(context, form)
        self._before = before
        self._save = save
        self._stem = secrets.token_hex(6)

    def id_of(self, place: int) -> str:
        """Give the id of an event, the same however often it is stored: it is stored once."""
        return f"{self._stem}{place:04x}"

    def events(self) -> Sequence[Event]:
        """Make the events of the values typed."""
        raise NotImplementedError

    def offered(self) -> Before:
        """Give what the next event is offered."""
        return replace(self._before, author=self.form.values["author"].upper())

    def taken(self) -> None:
        """Store the events; what cannot be stored stays in the form."""
        trouble = self._save(self.events(), self.offered())
        if trouble:
            self.stay(trouble)
        else:
            self.dismiss(None)


class EventForm(StoringForm):
    """The form for a new event, or a toxin treatment with its rows and goals."""

    heading = "new treatment date"

    def __init__(self, context: Context, before: Before, save: Saver) -> None:
        self._muscles = context.catalogue.muscles
        self._today = context.clock().date()
        self._kept: dict[str, FormField] = {}
        super().__init__(context, event_form(self._muscles, self._today, before), before, save)

    def key_words(self) -> dict[str, str]:
        """Name the key for what is different in a row, where it does something."""
        in_row = self.form.current.name.startswith(ROW)
        return super().key_words() | ({"own": "different here"} if in_row else {})

    def press(self, key: str, action: str) -> None:
        """Type; one key opens what is different in a row."""
        if action == "own":
            self.take_step(opened(self.form))
        else:
            super().press(key, action)

    def take_step(self, form: FormState) -> None:
        """Show how date, muscle groups and goals were understood as soon as they are left."""
        form = spelled_out(form, self._muscles, self._today)
        form = asked_for(form, self._before, self._kept, self._muscles)
        self._kept |= {field.name: field for field in form.fields}
        super().take_step(form)

    def events(self) -> Sequence[Event]:
        """Make the new events."""
        return events_of(self.form.values, self._muscles, self._today, self.id_of)

    def offered(self) -> Before:
        """Give kind, date and what was given, as it was typed for every row."""
        values, [first, *_] = self.form.values, self.events()
        given = tuple((name, values.get(name, "")) for name in PER_ROW)
        return replace(super().offered(), kind=first.kind, day=first.date, given=given)


class StrikeForm(StoringForm):
    """The form that strikes an event."""

    heading = "strike a treatment date"
    done = "strike it"

    def __init__(self, context: Context, event: Event, before: Before, save: Saver) -> None:
        super().__init__(context, strike_form(before.author), before, save)
        self._event = event

    def events(self) -> Sequence[Event]:
        """Make the event that strikes another."""
        return [strike(self._event, self.id_of(0), self.form.values["reason"])]


class GoalForm(StoringForm):
    """The form for one more goal of a treatment."""

    heading = "new goal"

    def __init__(self, context: Context, day: date, before: Before, save: Saver) -> None:
        super().__init__(context, goal_form(day, before.author), before, save)
        self._day = day

    def events(self) -> Sequence[Event]:
        """Make the goal."""
        return [goal_of(self.form.values, self._day, self.id_of(0))]


class ScoreForm(StoringForm):
    """The form that says how far a goal was reached."""

    heading = "score a goal"

    def __init__(self, context: Context, goal: Goal, before: Before, save: Saver) -> None:
        self._today = context.clock().date()
        super().__init__(context, score_form(goal, self._today, before.author), before, save)
        self._goal = goal

    def events(self) -> Sequence[Event]:
        """Make the score."""
        return [score_of_form(self.form.values, self._goal, self._today, self.id_of(0))]
