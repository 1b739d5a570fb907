"""How the list of checklists and the editor of one look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.cells import set_cell_size

from ....core.chart.checklist import Checklist, Item
from ....core.tardieu.muscles import LONGEST_NAME
from ....core.text import visible
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.paint import Row, fit, line, wrap
from .model import SHOWN_MATCHES, Editing, matches, velocity_of

MESSAGE_ROWS = 3
_ROOM_FOR_SCALE = 80
"""Columns from which each line shows its scale; below, the chosen one does under the list."""

_SIDES = {"both": "both sides", "left": "Left", "right": "Right", "affected": "affected"}
_ORDERS = {"muscle": "muscle by muscle", "side": "side by side"}
_FIELDS = {"fast-first": "fast stretch first", "slow-first": "slow stretch first"}
_COUNTS = {"first": "the first counts", "mean": "their mean counts", "worst": "the worst counts"}


@dataclass(frozen=True, slots=True)
class ListsView:
    """The list of checklists.

    Attributes:
        rows: every checklist with whose it is.
        at: index of the chosen one.
        message: answer to the last key.
    """

    rows: tuple[tuple[Checklist, str], ...]
    at: int = 0
    message: str = ""


def paint_lists(view: ListsView, keymap: Keymap, foot: Row, width: int, height: int) -> list[Row]:
    """The list of checklists in ``height`` rows."""
    room = height - 3 - MESSAGE_ROWS
    top = _top(view.at, len(view.rows), room)
    name = max(10, min(44, width - 36))
    heads = "  ".join((set_cell_size("name", name), set_cell_size("lines", 5), "whose"))
    rows: list[Row] = [title_row("checklists", "", width), line(f"  {heads}", "dim")]
    for index, (checklist, whose) in enumerate(view.rows[top : top + room], top):
        named = set_cell_size(visible(checklist.name), name)
        text = f"{named}  {len(checklist.items):5d}  {visible(whose)}"
        rows.append(_chosen(text, index == view.at, width))
    words = view.message or _hint(view, keymap)
    return [*_filled(rows, height - 1 - MESSAGE_ROWS), *_answer(words, width, view.message), foot]


def _hint(view: ListsView, keymap: Keymap) -> str:
    if not view.rows:
        return f"{keymap.name('checklists.new')} makes a checklist"
    _, whose = view.rows[view.at]
    copy = f"{keymap.name('checklists.copy')} copies it into one of your own"
    edit = f"{keymap.name('checklists.edit')} changes it, {copy}"
    return f"comes with the program: {copy}" if whose == SHIPPED else edit


SHIPPED = "shipped"


def paint_editor(editing: Editing, keymap: Keymap, foot: Row, width: int, height: int) -> list[Row]:
    """The editor in ``height`` rows."""
    state = "not saved yet" if editing.changed or editing.kept is None else "saved"
    rows = [title_row(f"checklist: {editing.checklist.name}", state, width)]
    rows += wrap(_ways(editing.checklist), width)
    rows.append(line("  " + _columns("muscle group", "sides", "speed", "scale", width), "dim"))
    room = height - len(rows) - 1 - MESSAGE_ROWS
    items = editing.checklist.items
    top = _top(editing.at, len(items), room)
    for index, item in enumerate(items[top : top + room], top):
        rows.append(_chosen(_item_words(item, editing, width), index == editing.at, width))
    if not items:
        rows += wrap(f"  no line yet: {keymap.name('checklist.add')} adds a muscle group", width)
    foot_rows = _asking(editing, width) if editing.asking else _below(editing, keymap, width)
    return [*_filled(rows, height - 1 - MESSAGE_ROWS), *foot_rows, foot]


def _ways(checklist: Checklist) -> str:
    tries = "1 try" if checklist.tries == 1 else f"{checklist.tries} tries"
    return (
        f"{_ORDERS[checklist.order]}, {checklist.first_side.word} first; "
        f"{_FIELDS[checklist.field_order]}; {tries}, {_COUNTS[checklist.counts]}; "
        f"quality 0 to {checklist.quality_max}"
    )


def _item_words(item: Item, editing: Editing, width: int) -> str:
    muscle = editing.muscles[item.muscle]
    speed = velocity_of(item, editing.muscles)
    speed_words = speed if item.fast_velocity else f"{speed} usual"
    return _columns(
        visible(muscle.name), _SIDES[item.sides], speed_words, _scale(item, editing), width
    )


def _scale(item: Item, editing: Editing) -> str:
    return item.scale or f"{editing.muscles[item.muscle].default_scale} usual"


def _columns(name: str, sides: str, speed: str, scale: str, width: int) -> str:
    cells = ((name, LONGEST_NAME), (sides, 10), (speed, 8), (scale, 22))
    shown = cells if width >= _ROOM_FOR_SCALE else cells[:-1]
    return "  ".join(set_cell_size(text, size) for text, size in shown)


def _asking(editing: Editing, width: int) -> list[Row]:
    what = "name" if editing.asking == "name" else "muscle group"
    typed: Row = ((f"{what}: ", "bold"), (f"{visible(editing.typed)}_", "here"))
    found = matches(editing.muscles, editing.typed) if editing.asking == "muscle" else ()
    if editing.message:
        more = wrap(editing.message, width, "ask")
    elif found:
        names = [muscle.name for muscle in found[:SHOWN_MATCHES]]
        rest = f" and {len(found) - SHOWN_MATCHES} more" if len(found) > SHOWN_MATCHES else ""
        more = wrap(f"Enter adds {names[0]}; also: {', '.join(names[1:]) or 'none'}{rest}", width)
    else:
        more = wrap("type; Enter accepts, Backspace in the empty line leaves", width)
    return _filled([typed, *more], MESSAGE_ROWS)


def _below(editing: Editing, keymap: Keymap, width: int) -> list[Row]:
    names = {action: keymap.name(f"checklist.{action}") for action in _KEYS_SHOWN}
    words = ", ".join(f"{names[action]} {word}" for action, word in _KEYS_SHOWN.items())
    if width < _ROOM_FOR_SCALE and editing.item:
        words = f"scale: {_scale(editing.item, editing)}. {words}"
    return _answer(editing.message or words, width, editing.message)


_KEYS_SHOWN = {
    "earlier": "up",
    "later": "down",
    "sides": "sides",
    "velocity": "speed",
    "scale": "scale",
    "order": "order",
    "first": "first side",
    "fields": "fast or slow first",
    "tries": "tries",
    "counts": "which counts",
    "grades": "grades",
    "name": "name",
    "undo": "undo",
}


def _answer(words: str, width: int, message: str) -> list[Row]:
    return _filled(wrap(words, width, "ask" if message else ""), MESSAGE_ROWS)


def _chosen(text: str, here: bool, width: int) -> Row:
    row = line(f"{'>' if here else ' '} {text}", "here" if here else "")
    return fit(row, width)


def _top(at: int, count: int, room: int) -> int:
    return max(0, min(at - room // 2, count - room))


def _filled(rows: Sequence[Row], height: int) -> list[Row]:
    shown = list(rows[:height])
    return [*shown, *([()] * (height - len(shown)))]
