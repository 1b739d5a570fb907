"""The station panel: what to test, how to hold and read it, the fields, and what was."""

from __future__ import annotations

from ....core.entry.blind import HIDDEN
from ....core.entry.readings import reading_of
from ....core.entry.rows import number_text
from ....core.entry.state import EntryState, Field, Mode, answered, stored
from ....core.tardieu.components import plain_line
from ....core.tardieu.reading import Side
from ....core.tardieu.reading_words import clonus_and_pain
from ...kit.paint import Row, Span, fit, labelled, line, width_of, wrap

_LABEL = 8
_CELL = 11


def station_rows(state: EntryState, width: int, alone: bool = False) -> list[Row]:
    """Name, position, landmarks and angle scale of the current station.

    Args:
        state: the entry.
        width: cells.
        alone: no body chart is beside it, so LEFT is at its own left edge.
    """
    station, draft = state.station, state.draft
    muscle = station.muscle
    rows: list[Row] = [_name_row(muscle.name, station.side, width, alone)]
    differs = draft.posture != muscle.posture_words
    rows += wrap(draft.posture, width, "bold" if differs else "")[:2]
    if station.remembered and draft.posture == station.posture:
        rows.append(((f"position as on {station.remembered}", "dim"),))
    for label, value in (
        ("stretch", muscle.movement),
        ("axis", muscle.axis),
        ("fixed", muscle.fixed_arm),
        ("moving", muscle.moving_arm),
    ):
        rows += _fact(label, value, width)
    scale = f"{station.scale.id}: {muscle.example(station.scale.id)}"
    return [*rows, *wrap(scale, width, "dim")[:2]]


def _name_row(name: str, side: Side, width: int, alone: bool) -> Row:
    """Muscle group and side; a name too long gives way, the side never.

    The side is also at the edge on that side, so that a glance is enough; see body_rows().
    """
    words, label = f", {side.word.upper()}", side.word.upper()
    room = width - len(label) - 1
    shown = line(name, "title")
    if width_of(shown) > room - len(words):
        shown = fit(shown, room - len(words))
    row = fit((*shown, (words, "title")), room)
    if side is Side.RIGHT:
        return (*row, (" " * (width - len(label) - width_of(row)), ""), (label, "here"))
    return ((label, "here"), (" ", ""), *row) if alone else row


def field_rows(state: EntryState, reading_error: int, width: int, toxin: str = "") -> list[Row]:
    """The fields of the current station, the last values, gap and shortfall.

    Args:
        state: the entry.
        reading_error: deg, see components.plain_line.
        width: cells.
        toxin: days since an injection of this muscle group and side, "" without one.
    """
    header: list[Span] = [(" " * _LABEL, "")]
    now: list[Span] = [(f"{'now':<{_LABEL}}", "")]
    for place, field in enumerate(state.fields):
        header.append((f"{_head(state, field):<{_CELL}}", "bold"))
        now += _cell(state, place, field)
    rows: list[Row] = [tuple(header), tuple(now), *_last_rows(state)]
    if toxin:
        rows.append(fit(line(f"{'now':<{_LABEL}}{toxin}", "dim"), width))
    reading = reading_of(state, state.cursor.station)
    words = plain_line(reading, state.station.reference, reading_error)
    return [*rows, *wrap(words, width)[:3], *_extras(state, width)]


def detail_rows(state: EntryState, width: int) -> list[Row]:
    """Start and end of the stretch and the reference, where there is room for them."""
    station = state.station
    rows = _fact("from", station.muscle.start, width) + _fact("to", station.muscle.end, width)
    reference = station.reference_range
    if reference is not None:
        typed = station.scale.typed(reference.whole)
        rows += wrap(f"reference {typed} deg, {reference.source}", width, "dim")[:2]
    return rows


def _fact(label: str, value: str, width: int) -> list[Row]:
    """A label and its words, in two rows at most."""
    return labelled(label, wrap(value, width - _LABEL)[:2], _LABEL)


def _head(state: EntryState, field: Field) -> str:
    if field is Field.QUALITY:
        return "quality"
    velocity = state.draft.velocity if field is Field.R1 else "V1"
    return f"{field.value.upper()} {velocity} deg"


def _cell(state: EntryState, place: int, field: Field) -> list[Span]:
    """One field: what is typed, or what is accepted; the current one reversed."""
    if place == state.cursor.place:
        shown = f"{_typing(state, field):<5}"
        style = "stop" if state.hold else "here"
        return [(shown, style), (" " * (_CELL - len(shown)), "")]
    return [(f"{accepted(state, field):<{_CELL}}", "")]


def _typing(state: EntryState, field: Field) -> str:
    cursor = state.cursor
    if cursor.text is None and answered(state.draft, field, cursor.attempt):
        value = stored(state.draft, field, cursor.attempt)
        return "none" if value is None else str(value)
    sign = "-" if cursor.negative and field is not Field.QUALITY else ""
    refused = state.hold.shown if state.hold and state.mode is Mode.FIELDS else ""
    return f"{sign}{cursor.text or ''}{refused}_"


def accepted(state: EntryState, field: Field) -> str:
    """A field's accepted tries as text; "." while there is none."""
    draft = state.draft
    if field is Field.QUALITY:
        return number_text(draft.quality)
    tries = draft.r1 if field is Field.R1 else draft.r2
    return " ".join("none" if try_ is None else str(try_) for try_ in tries) or "."


def _last_rows(state: EntryState) -> list[Row]:
    """The last values under the fields, and their date: shown, never filled in."""
    station = state.station
    last = station.last
    if state.plan.blind:
        return [line(HIDDEN, "dim")]
    if last is None:
        return [(("last    no reading of this station yet", "dim"),)]
    r1, quality, r2 = station.last_words
    values = {Field.R1: r1, Field.R2: r2, Field.QUALITY: quality}
    cells = "".join(f"{values[field]:<{_CELL}}" for field in state.fields)
    date = f"{'':<{_LABEL}}on {station.last_date}, fast stretch {last.fast_velocity}"
    return [((f"{'last':<{_LABEL}}{cells}", "dim"),), ((date, "dim"),)]


def _extras(state: EntryState, width: int) -> list[Row]:
    """Attempt, pain, clonus, comment, reason: only what is there."""
    draft, cursor = state.draft, state.cursor
    parts: list[str] = []
    if state.field is not Field.QUALITY and (cursor.attempt or state.plan.tries > 1):
        parts.append(f"try {cursor.attempt + 1}")
    if draft.not_tested:
        parts.append(f"not tested: {draft.not_tested_note or draft.not_tested}")
    parts += clonus_and_pain(draft.clonus_s, draft.pain)
    if draft.comment:
        parts.append(f"comment: {draft.comment}")
    return wrap("; ".join(parts), width, "bold")[:2] if parts else []
