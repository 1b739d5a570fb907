"""How a form looks: one row a field, and the hint of the field being typed below them.

Beside each value is what is wrong with it, or what was there last time.
"""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size

from ...core.text import visible
from .form import FormField, FormState
from .line_edit import line_spans
from .paint import CUT, Row, Span, filled, message_rows, width_of, wrap
from .scroll import centred

HINT_ROWS = 5
"""Rows kept for the answer and the hint, so that nothing jumps while moving through the form; a
longer answer takes what it needs."""

SAID_BELOW = "! go there to read why"
"""Beside a field whose fault has no room there."""

WIDEST_VALUE = 44
"""Cells that a value gets at most; what is left is for the remark beside it."""


def form_rows(form: FormState, width: int, height: int) -> list[Row]:
    """The heading and as many fields as fit around the current one, in ``height`` rows."""
    label, value = _columns(form, width)
    heading = f"last time: {form.dated}" if form.dated else ""
    room = max(1, height - 1)
    top = centred(form.at, room, len(form.fields))
    indent = max(0, min(label + value + 3, width - cell_len(heading)))
    rows: list[Row] = [((" " * indent, ""), (visible(heading), "dim"))]
    for index, field in enumerate(form.fields[top : top + room], top):
        rows.append(_field_row(form, field, index == form.at, (label, value, width)))
    return rows


def hint_rows(form: FormState, width: int, message: str, style: str = "ask") -> list[Row]:
    """The answer to the last key, what is wrong, and what goes into the current field."""
    now = form.current
    problem = form.problems.get(now.name)
    rows = message_rows(message, width, style=style)
    if problem:
        mend = f": {problem.mend}" if problem.mend else ""
        rows += wrap(f"! {problem.what}{mend}", width, "ask")
    rows += wrap(_hint(now), width)
    if now.last:
        took = " - taken over; typing replaces it" if now.taken_over else ""
        when = f" ({form.dated})" if form.dated else ""
        rows += wrap(f"last time{when}: {now.last}{took}", width, "dim")
    return filled(rows, max(HINT_ROWS, len(rows)))


def _hint(now: FormField) -> str:
    if now.kind != "choice":
        return now.hint
    return f"{now.hint} Choose: {' / '.join(words for _, words in now.choices)}"


def _columns(form: FormState, width: int) -> tuple[int, int]:
    """Cells of the label and of the value."""
    label = max(cell_len(field.label) for field in form.fields) + 4
    longest = max(
        (cell_len(words) for field in form.fields for _, words in field.choices), default=0
    )
    wanted = max((width - label) * 11 // 20, longest + cell_len("<  >"))
    return label, min(WIDEST_VALUE, wanted, width - label)


def _field_row(form: FormState, field: FormField, here: bool, size: tuple[int, int, int]) -> Row:
    style = "bold" if here else ""
    label, value, width = size
    return (
        (set_cell_size(f"{'>' if here else ' '} {field.label}", label), style),
        *_value_spans(form, field, here, value),
        ("   ", ""),
        _remark(form, field, width - label - value - 3),
    )


def _value_spans(form: FormState, field: FormField, here: bool, width: int) -> tuple[Span, ...]:
    words = visible(field.words)
    if not here:
        dimmed = field.taken_over or bool(field.stands and not words)
        words = words or visible(field.stands)
        return ((set_cell_size(_cut(words, width), width), "dim" if dimmed else ""),)
    if field.kind == "choice":
        return ((set_cell_size(f"< {words} >", width), "here"),)
    spans = line_spans(form.line, width, "here")
    return (*spans, (" " * (width - width_of(spans)), "here"))


def _cut(words: str, width: int) -> str:
    return words if cell_len(words) <= width else set_cell_size(words, max(0, width - 1)) + CUT


def _remark(form: FormState, field: FormField, room: int) -> Span:
    problem = form.problems.get(field.name)
    if problem:
        said = (visible(f"! {problem.what}"), SAID_BELOW)
        return (next((words for words in said if cell_len(words) <= room), "!"), "ask")
    if field.last:
        return (_cut(visible(field.last), room), "dim")
    return ("needed" if field.needed and not field.value else "", "dim")


def title_row(left: str, right: str, width: int) -> Row:
    """The reversed line at the head of a screen."""
    left, right = f" {visible(left)}", f"{visible(right)} "
    space = max(1, width - cell_len(left) - cell_len(right))
    return ((left + " " * space + right, "bar"),)
