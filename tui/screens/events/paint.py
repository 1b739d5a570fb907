"""The list of events as rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ....core.chart.events import (
    GOAL,
    NOT_DONE,
    day_of,
    day_words,
    event_words,
    kind_words,
    moment_words,
    said_words,
)
from ....core.chart.patient import Patient
from ....core.tardieu.muscles import Muscle
from ....core.text import counted
from ...kit.paint import Row, filled, fit, head_row, line, shortened, wrap
from ...kit.scroll import first_shown, scroll_row
from .model import Listed

DETAILS = 6
"""Rows kept below the list."""

WIDE = 80
"""Columns from which muscle groups are named in full."""


@dataclass(frozen=True, slots=True)
class EventsView:
    """What the list shows.

    Attributes:
        patient: the patient.
        events: in the order of dates.
        at: index of the selected one.
        new_key: the key that adds one.
        goals: how far the goals of the selected treatment were reached, "" without any.
    """

    patient: Patient
    events: Sequence[Listed]
    at: int
    new_key: str
    goals: str = ""


def page_rows(height: int) -> int:
    """Events on a page of a body of this height."""
    return max(1, height - 3 - DETAILS)


def paint_events(
    view: EventsView, muscles: Mapping[str, Muscle], width: int, height: int
) -> list[Row]:
    """Paint the list, and the selected event in full below it."""
    head = head_row((view.patient.code, "treatment dates", _counted(view)), width)
    if not view.events:
        return [head, (), *wrap(f"No treatment date is on record. {view.new_key} adds one.", width)]
    room = page_rows(height)
    top = first_shown(0, view.at, room, len(view.events))
    rows = [
        _event_row(one, index == view.at, muscles, width)
        for index, one in enumerate(view.events[top : top + room], top)
    ]
    where = f"{'muscle group, side':<{_where_room(width)}}"
    words = f"    {'date':<11} {'what':<19} {where} given, note"
    title = fit(line(words, "title"), width)
    rule = scroll_row(top, room, len(view.events), width)
    return [head, title, *filled(rows, room), rule, *_below(view, muscles, width)]


def _counted(view: EventsView) -> str:
    kinds = [one.event.kind for one in view.events if one.struck is None]
    done = counted(sum(kind not in NOT_DONE for kind in kinds), "event")
    goals = kinds.count(GOAL)
    return f"{done}, {counted(goals, 'goal')}" if goals else done


def _where_room(width: int) -> int:
    return 28 if width >= WIDE else 15


def _event_row(one: Listed, here: bool, muscles: Mapping[str, Muscle], width: int) -> Row:
    event, day = one.shown, day_of(one.event)
    muscle = muscles.get(event.muscle)
    name = event.muscle if muscle is None else muscle.name
    if muscle is not None and width < WIDE:
        name = muscle.abbreviation
    where = ", ".join(filter(None, (name, event.side.capitalize())))
    room = _where_room(width)
    date = day_words(day) if day else event.date
    head = fit(line(f"{'>' if here else ' '} {'~' if one.struck is not None else ' '} {date}"), 16)
    cells: Row = (*fit(line(kind_words(event.kind)), 19), (" ", ""))
    if event.kind not in NOT_DONE:  # a goal has no place, and its words need the room
        cells = (*cells, *fit(line(where), room), (" ", ""))
    note = said_words(event)
    if one.struck is not None:
        note = "struck" if event.kind not in NOT_DONE else f"struck: {note}"
    style = "here" if here else "dim" if one.struck is not None else ""
    row = fit((*head, *cells, *line(note)), width)
    return tuple((text, style) for text, _ in row)


def _below(view: EventsView, muscles: Mapping[str, Muscle], width: int) -> list[Row]:
    """The selected event in full, or as much of it as what else is to be said leaves room for."""
    one = view.events[view.at]
    names = {id_: muscle.name for id_, muscle in muscles.items()}
    words, rows = wrap(event_words(one.shown, names), width), list[Row]()
    if one.struck is not None:
        rows += wrap(f"~ struck, it does not count: {one.struck}", width, "bold")
    rows += wrap(view.goals, width, "bold")
    when = f", {moment_words(one.at)}" if one.at else ""
    rows += wrap(f"entered by {one.who or 'nobody on record'}{when}", width, "dim")
    more = "... the history command shows all of it"
    return filled([*shortened(words, max(2, DETAILS - len(rows)), more), *rows], DETAILS)
