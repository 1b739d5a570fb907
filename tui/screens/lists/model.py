"""The editor of a checklist as a value: what a key makes of it. Pure, no terminal.

Whatever the keys are, the checklist stays one that parse_checklist() takes: a muscle group
never appears twice at one velocity, and a scale is one that the muscle group has.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from ....core.chart.checklist import SIDE_WORDS, WAYS, Checklist, Item, with_ways
from ....core.config.own_lists import LONGEST_NAME
from ....core.tardieu.muscle import Muscle
from ....core.tardieu.reading import FastVelocity
from ....core.text import names
from ...kit.line_edit import EDITS, EMPTY, LineEdit, edited, inserted
from ...kit.scroll import STEPS, clamped, following, moved

Asking = Literal["", "muscle", "name"]
Outcome = Literal["", "save", "left"]

SHOWN_MATCHES = 4
PAGE = 15
"""Lines passed over by a page key: about what a window of 24 rows shows."""

_SPEEDS: tuple[FastVelocity | None, ...] = (None, "V2", "V3")
_OF_A_LINE = ("remove", "earlier", "later", "sides", "velocity", "scale")
"""What is done to the chosen line."""

_UNDONE = 200
"""Steps that can be taken back; more than anybody takes."""


@dataclass(frozen=True, slots=True)
class Editing:
    """A checklist being made.

    Attributes:
        checklist: as it is now.
        muscles: every muscle group by id.
        kept: as it was last saved, None for a new one.
        at: index of the chosen line.
        asking: what is being typed, "" for nothing.
        typed: the line that is typed into.
        selected: the whole line is what was there before; the first letter typed replaces it.
        fixed: it comes with the program and can only be looked at.
        past: what can be taken back, oldest first.
        message: answer to the last key.
        refused: the last key did nothing and should be heard.
        leaving: leaving was asked for once and has to be asked for again.
        outcome: "save" or "left" when the screen has to act.
    """

    checklist: Checklist
    muscles: Mapping[str, Muscle]
    kept: Checklist | None = None
    at: int = 0
    asking: Asking = ""
    typed: LineEdit = EMPTY
    selected: bool = False
    fixed: bool = False
    past: tuple[Checklist, ...] = ()
    message: str = ""
    refused: bool = False
    leaving: bool = False
    outcome: Outcome = ""

    @property
    def item(self) -> Item | None:
        """The chosen line."""
        return self.checklist.items[self.at] if self.checklist.items else None

    @property
    def changed(self) -> bool:
        """Something is not saved yet."""
        return self.checklist != self.kept and bool(self.past or self.kept)


def step(editing: Editing, key: str, action: str) -> Editing:
    """The editor after a key.

    Args:
        editing: before it.
        key: its character or name.
        action: what the keymap says it does here, "" for nothing.
    """
    quiet = replace(editing, message="", refused=False, leaving=False, outcome="")
    if editing.asking:
        return _asked(quiet, key, action)
    if action in ("quit", "leave"):
        return _left(quiet, editing.leaving)
    if editing.fixed and action not in STEPS:
        return _refuse(quiet, "this one comes with the program and stays as it is: copy it")
    if action in _OF_A_LINE and not editing.item:
        return _refuse(quiet, "there is no line yet: add a muscle group first")
    if action in _ACTIONS:
        return _ACTIONS[action](quiet)
    return _refuse(quiet, "this key does nothing here")


def matches(muscles: Mapping[str, Muscle], text: str) -> tuple[Muscle, ...]:
    """Muscle groups that the letters mean: each word begins a word of the name."""
    return tuple(
        muscle
        for muscle in muscles.values()
        if names(f"{muscle.name} {muscle.abbreviation} {muscle.id}", text)
    )


def velocity_of(item: Item, muscles: Mapping[str, Muscle]) -> FastVelocity:
    """The velocity at which a line is tested."""
    return item.fast_velocity or muscles[item.muscle].velocity


def _refuse(editing: Editing, message: str) -> Editing:
    return replace(editing, message=message, refused=True)


def _made(editing: Editing, checklist: Checklist, message: str = "") -> Editing:
    """The editor with another checklist; the one before can be taken back."""
    past = (*editing.past, editing.checklist)[-_UNDONE:]
    at = clamped(editing.at, len(checklist.items))
    return replace(editing, checklist=checklist, past=past, at=at, message=message)


def _with_items(editing: Editing, items: tuple[Item, ...], at: int, message: str = "") -> Editing:
    moved = replace(editing, at=at)
    return _made(moved, replace(editing.checklist, items=items), message)


# Typing ---------------------------------------------------------------------------------


def _asked(editing: Editing, key: str, action: str) -> Editing:
    if len(key) == 1 and key.isprintable():
        return typed(editing, key)
    if action in ("quit", "leave") or (action == "backspace" and not editing.typed.text):
        return replace(editing, asking="", typed=EMPTY)
    if action in EDITS:
        rubs_out = editing.selected and action in ("backspace", "delete")
        line = edited(editing.typed, "clear" if rubs_out else action)
        return replace(editing, typed=line, selected=False)
    if action == "accept":
        return _named(editing) if editing.asking == "name" else _added(editing)
    return _refuse(editing, "type letters; Enter accepts, Backspace rubs out and leaves")


def typed(editing: Editing, text: str) -> Editing:
    """Insert text into the line that is asked for."""
    line = inserted(EMPTY if editing.selected else editing.typed, text, LONGEST_NAME)
    if isinstance(line, str):
        return _refuse(editing, line)
    wanted = line.text.strip()
    if editing.asking == "muscle" and wanted and not matches(editing.muscles, wanted):
        return _refuse(editing, f"no muscle group begins with {line.text!r}: nothing was typed")
    return replace(editing, typed=line, selected=False)


def _named(editing: Editing) -> Editing:
    name = editing.typed.text.strip()
    if not name:
        return _refuse(editing, "a checklist needs a name")
    done = replace(editing, asking="", typed=EMPTY)
    return _made(done, replace(editing.checklist, name=name))


def _added(editing: Editing) -> Editing:
    found = matches(editing.muscles, editing.typed.text)
    if not found:
        return _refuse(editing, "type letters of a muscle group, or Backspace to leave")
    muscle, items = found[0], editing.checklist.items
    taken = {(item.muscle, velocity_of(item, editing.muscles)) for item in items}
    free: list[FastVelocity | None] = [
        v for v in _SPEEDS if (muscle.id, v or muscle.velocity) not in taken
    ]
    if not free:
        return _refuse(editing, f"{muscle.name} is in the list at V2 and at V3 already")
    velocity = free[0]
    to = editing.at + 1 if items else 0
    new = (*items[:to], Item(muscle.id, fast_velocity=velocity), *items[to:])
    done = replace(editing, asking="", typed=EMPTY)
    at = f" at {velocity}, the other speed is in the list" if velocity else ""
    return _with_items(done, new, to, f"{muscle.name} was added{at}")


# Lines ----------------------------------------------------------------------------------


def _moved(action: str) -> Callable[[Editing], Editing]:
    def move(editing: Editing) -> Editing:
        to = moved(editing.at, action, len(editing.checklist.items), PAGE)
        return replace(editing, at=to) if to != editing.at else _refuse(editing, "no further line")

    return move


def _removed(editing: Editing) -> Editing:
    items = editing.checklist.items
    name = editing.muscles[items[editing.at].muscle].name
    new = (*items[: editing.at], *items[editing.at + 1 :])
    return _with_items(editing, new, editing.at, f"{name} was removed")


def _shifted(editing: Editing, by: int) -> Editing:
    items, to = list(editing.checklist.items), editing.at + by
    if not 0 <= to < len(items):
        return _refuse(editing, f"this is the {'first' if by < 0 else 'last'} line")
    items[editing.at], items[to] = items[to], items[editing.at]
    return _with_items(editing, tuple(items), to)


def _changed_item(editing: Editing, make: Callable[[Item], Item | str]) -> Editing:
    """Replace the chosen line; a text says why it cannot be."""
    items = editing.checklist.items
    new = make(items[editing.at])
    if isinstance(new, str):
        return _refuse(editing, new)
    return _with_items(editing, (*items[: editing.at], new, *items[editing.at + 1 :]), editing.at)


def _sides(item: Item) -> Item:
    return replace(item, sides=following(SIDE_WORDS, item.sides))


def _velocity(editing: Editing) -> Editing:
    def make(item: Item) -> Item | str:
        others = [one for one in editing.checklist.items if one is not item]
        taken = {velocity_of(one, editing.muscles) for one in others if one.muscle == item.muscle}
        choices = tuple(
            v for v in _SPEEDS if (v or editing.muscles[item.muscle].velocity) not in taken
        )
        new = replace(item, fast_velocity=following(choices, item.fast_velocity))
        return new if new != item else "the other speed is in another line"

    return _changed_item(editing, make)


def _scale(editing: Editing) -> Editing:
    def make(item: Item) -> Item | str:
        offered = [scale.id for scale in editing.muscles[item.muscle].scales]
        if len(offered) < 2:
            return f"this muscle group is read on one scale only: {offered[0]}"
        return replace(item, scale=following(("", *offered), item.scale))

    return _changed_item(editing, make)


# The whole list -------------------------------------------------------------------------


def _way(key: str) -> Callable[[Editing], Editing]:
    def change(editing: Editing) -> Editing:
        now = getattr(editing.checklist, key)
        now = now.value if key == "first_side" else now
        return _made(editing, with_ways(editing.checklist, {key: following(WAYS[key], now)}))

    return change


def _undone(editing: Editing) -> Editing:
    if not editing.past:
        return _refuse(editing, "there is nothing to take back")
    before, past = editing.past[-1], editing.past[:-1]
    at = clamped(editing.at, len(before.items))
    return replace(editing, checklist=before, past=past, at=at, message="taken back")


def _saving(editing: Editing) -> Editing:
    if not editing.checklist.items:
        return _refuse(editing, "not saved: a checklist needs at least one muscle group")
    if editing.checklist == editing.kept:
        return _refuse(editing, "nothing has changed since it was saved")
    return replace(editing, outcome="save")


def _left(editing: Editing, asked: bool) -> Editing:
    if asked or not editing.changed:
        return replace(editing, outcome="left")
    return replace(
        editing,
        message="what was changed is not saved: the same key again leaves without it",
        leaving=True,
        refused=True,
    )


_ACTIONS: dict[str, Callable[[Editing], Editing]] = {
    **{action: _moved(action) for action in STEPS},
    "add": lambda editing: replace(editing, asking="muscle", typed=EMPTY, selected=False),
    "name": lambda editing: replace(
        editing, asking="name", typed=LineEdit(editing.checklist.name), selected=True
    ),
    "remove": _removed,
    "earlier": lambda editing: _shifted(editing, -1),
    "later": lambda editing: _shifted(editing, 1),
    "sides": lambda editing: _changed_item(editing, _sides),
    "velocity": _velocity,
    "scale": _scale,
    "order": _way("order"),
    "first": _way("first_side"),
    "fields": _way("field_order"),
    "tries": _way("tries"),
    "counts": _way("counts"),
    "grades": _way("quality_max"),
    "undo": _undone,
    "save": _saving,
}
