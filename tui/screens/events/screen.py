"""The screen of treatment dates: list, new event, striking a wrong one."""

from __future__ import annotations

from collections.abc import Sequence

from ....core.chart.event import Event
from ....core.chart.events import GOAL, GOAL_SCORE, NEXT_DATE, STRUCK, day_of, event_words
from ....core.chart.goals import score_of, treatment_days, treatment_words
from ....core.errors import NotConfirmed, ShelfError
from ....core.text import counted
from ...kit.context import Context
from ...kit.list_screen import ListScreen
from ...kit.paint import Row
from ...kit.scroll import moved, moving
from .forms import HELP, EventForm, GoalForm, ScoreForm, StoringForm, StrikeForm
from .model import Before, Listed, goal_named, goals_told, listed, treatment_of
from .paint import EventsView, page_rows, paint_events


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
        self.actions |= {
            **moving(self._move),
            "new": self._new,
            "strike": self._strike,
            "goal": self._goal,
            "score": self._score,
        }

    def body(self, width: int, height: int) -> Sequence[Row]:
        """Paint the list."""
        new = self.context.keymap.name("events.new")
        told = goals_told(self._chart, self._events[self._at].event) if self._events else ""
        view = EventsView(self._chart.patient, self._events, self._at, new, told)
        return paint_events(view, self.context.catalogue.muscles, width, height)

    def _move(self, action: str) -> None:
        self._at = moved(self._at, action, len(self._events), page_rows(self.room))

    def names(self) -> Sequence[str]:
        """Name every event by its date, kind, muscle group and side."""
        return [self._words(one) for one in self._events]

    def _words(self, one: Listed) -> str:
        names = {id_: muscle.name for id_, muscle in self.context.catalogue.muscles.items()}
        return event_words(one.shown, names)

    def go_to(self, index: int) -> None:
        """Select an event."""
        self._at = index

    def _new(self) -> None:
        self._open(EventForm(self.context, self._before, self._save))

    def _open(self, form: StoringForm, intro: str = "") -> None:
        form.subject, form.intro = self._chart.patient.code, intro
        self.owner.push_screen(form)

    def _save(self, events: Sequence[Event], offered: Before) -> str:
        """Store events; returns what went wrong, "" when they are stored."""
        try:
            shelf, at = self.context.shelf, self.context.wall()
            shelf.add_events(self._chart_id, events, offered.author, at)
        except NotConfirmed as error:
            return str(error)
        except ShelfError as error:
            # Saved again after the disk did not confirm it: then it is there, and written anew.
            if not self._there(events):
                return str(error)
        try:
            self._chart = self.context.shelf.load(self._chart_id)
        except ShelfError as error:
            return str(error)
        self._events = listed(self._chart)
        score = score_of(events[0])  # the goal stays chosen, the next one is below it
        wanted = score[0] if score else events[0].id
        places = [i for i, one in enumerate(self._events) if one.event.id == wanted]
        self._at = places[0] if places else min(self._at, len(self._events) - 1)
        self._before = offered
        self.message = self._stored(events)
        return ""

    def _there(self, events: Sequence[Event]) -> bool:
        try:
            there = {event.id for event in self.context.shelf.load(self._chart_id).events}
        except ShelfError:
            return False
        return all(event.id in there for event in events)

    def _stored(self, events: Sequence[Event]) -> str:
        """Say what was stored."""
        kind = events[0].kind
        if kind == STRUCK:
            day = day_of(events[0])
            treated = day in treatment_days(self._chart.events)
            of_day = (one for one in self._events if day_of(one.event) == day)
            goals = any(one.event.kind == GOAL and one.struck is None for one in of_day)
            left = " Its goals still count." if goals and not treated else ""
            return f"the event is struck; it stays in sight{'.' if left else ''}{left}"
        if kind == GOAL_SCORE:
            told = goals_told(self._chart, events[0])
            return f"the score is stored; {told}"
        goals = sum(event.kind == GOAL for event in events)
        done = len(events) - goals
        if done == 1 and not goals:
            return "the event is stored"
        words = (counted(done, "event") if done else "", counted(goals, "goal") if goals else "")
        return f"stored: {' and '.join(filter(None, words))}"

    @property
    def _chosen(self) -> Listed | None:
        return self._events[self._at] if self._events else None

    def _strike(self) -> None:
        chosen = self._chosen
        if chosen is None or chosen.struck is not None:
            self.refuse("no event to strike" if chosen is None else "this event is struck already")
            return
        form = StrikeForm(self.context, chosen.event, self._before, self._save)
        self._open(form, f"Strikes: {self._words(chosen)}. It no longer counts then.")

    def _goal(self) -> None:
        """Ask for a goal of the selected treatment."""
        day = treatment_of(self._chart, self._chosen.event) if self._chosen else None
        if day is None or (self._chosen and self._chosen.event.kind == NEXT_DATE):
            self.refuse("select a treatment that was not struck: a goal belongs to one")
            return
        form = GoalForm(self.context, day, self._before, self._save)
        self._open(form, f"A goal of the {treatment_words(day)}.")

    def _score(self) -> None:
        """Ask how far the selected goal was reached."""
        goal = goal_named(self._chart, self._chosen.event) if self._chosen else None
        if goal is None:
            self.refuse("select the row of a goal that was not struck, then again")
            return
        form = ScoreForm(self.context, goal, self._before, self._save)
        self._open(form, f"{goal.title}. Until now: {goal.attained or 'not scored yet'}.")
