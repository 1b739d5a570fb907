"""How the list of checklists and the editor of one look."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import set_cell_size

from ....core.chart.checklist import Checklist, Item
from ....core.tardieu.muscles import LONGEST_NAME
from ....core.text import visible
from ...keys.keymap import Keymap
from ...kit.form_paint import title_row
from ...kit.line_edit import line_spans
from ...kit.paint import Row, filled, line, wrap
from ...kit.scroll import centred, pointer_rows
from .model import SHOWN_MATCHES, Editing, matches, velocity_of

_ROOM_FOR_SCALE = 80
"""Columns from which each line shows its scale; below, the chosen one does under the list."""

_SIDES = {"both": "both sides", "left": "Left", "right": "Right", "affected": "affected"}
_ORDERS = {"muscle": "muscle by muscle", "side": "side by side", "position": "position by position"}
_FIELDS = {"fast-first": "fast stretch first", "slow-first": "slow stretch first"}
_COUNTS = {"first": "the first counts", "mean": "their mean counts", "worst": "the worst counts"}


def paint_lists(
    lists: Sequence[tuple[Checklist, str]], at: int, width: int, height: int
) -> list[Row]:
    """Paint the list of checklists, each with whose it is."""
    room = height - 2
    top = centred(at, room, len(lists))
    name = max(10, min(44, width - 36))
    heads = "  ".join((set_cell_size("name", name), set_cell_size("lines", 5), "whose"))
    rows: list[Row] = [title_row("checklists", "", width), line(f"  {heads}", "dim")]
    texts = (
        f"{set_cell_size(visible(one.name), name)}  {len(one.items):5d}  {visible(whose)}"
        for one, whose in lists[top : top + room]
    )
    return [*rows, *pointer_rows(texts, top, at, width)]


def lists_hint(whose: str, keymap: Keymap) -> str:
    """Say what can be done with the chosen checklist; ``whose`` is "" where there is none."""
    if not whose:
        return f"{keymap.name('checklists.new')} makes a checklist"
    copy = f"{keymap.name('checklists.copy')} copies it into one of your own"
    name, delete = keymap.name("checklists.edit"), keymap.name("checklists.delete")
    if whose == SHIPPED:
        return f"comes with the program: {name} looks at it, {copy}"
    return f"{name} changes it, {copy}, {delete} deletes it"


SHIPPED = "shipped"


def paint_editor(editing: Editing, keymap: Keymap, width: int, height: int) -> list[Row]:
    """Paint the lines of a checklist, and the prompt where something is typed."""
    prompt = [prompt_row(editing, width)] if editing.asking else []
    state = "not saved yet" if editing.changed or editing.kept is None else "saved"
    state = SHIPPED if editing.fixed else state
    rows = [title_row(f"checklist: {editing.checklist.name}", state, width)]
    rows += wrap(_ways(editing.checklist), width)
    rows.append(line("  " + _columns("muscle group", "sides", "speed", "scale", width), "dim"))
    room = height - len(rows) - len(prompt)
    items = editing.checklist.items
    top = centred(editing.at, room, len(items))
    texts = (_item_words(item, editing, width) for item in items[top : top + room])
    rows += pointer_rows(texts, top, editing.at, width)
    if not items:
        rows += wrap(f"  no line yet: {keymap.name('checklist.add')} adds a muscle group", width)
    return [*filled(rows, height - len(prompt)), *prompt]


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


def prompt_row(editing: Editing, width: int) -> Row:
    """Paint the line that is typed into."""
    what = "name" if editing.asking == "name" else "muscle group"
    style = "here" if editing.selected else ""
    return ((f"{what}: ", "bold"), *line_spans(editing.typed, width - len(what) - 2, style))


def editor_hint(editing: Editing, keymap: Keymap, width: int) -> str:
    """Say what the keys do to the chosen line, or to the line that is typed into."""
    if editing.asking:
        return _asking_hint(editing)
    if editing.fixed:
        return "comes with the program and stays as it is: leave, and copy it to change the copy"
    names = {action: keymap.name(f"checklist.{action}") for action in KEYS_SHOWN}
    words = ", ".join(f"{names[action]} {word}" for action, word in KEYS_SHOWN.items())
    if width < _ROOM_FOR_SCALE and editing.item:
        words = f"scale: {_scale(editing.item, editing)}. {words}"
    return words


def _asking_hint(editing: Editing) -> str:
    if editing.selected:
        return "the old name: typing replaces it, Left or Home goes into it; Enter keeps it"
    text = editing.typed.text
    found = matches(editing.muscles, text) if editing.asking == "muscle" else ()
    if not found:
        return "type; Enter accepts, Backspace in the empty line leaves"
    names = [muscle.name for muscle in found[:SHOWN_MATCHES]]
    rest = f" and {len(found) - SHOWN_MATCHES} more" if len(found) > SHOWN_MATCHES else ""
    return f"Enter adds {names[0]}; also: {', '.join(names[1:]) or 'none'}{rest}"


KEYS_SHOWN = {
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
