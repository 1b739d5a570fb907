"""Painting a table of readings, and the whole of the selected one in words.

The columns of the values are in the order in which they were typed, so the recorder can
read a row aloud and the examiner hears it in the order in which it was said.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from ...core.entry.rows import StationRow, number_text, r1_text
from ...core.tardieu.checks import RULES
from ...core.tardieu.components import plain_line, shown_gap
from ...core.tardieu.reading import Counts, Reading
from ...core.tardieu.reading_words import clonus_and_pain, not_tested_words
from ...core.text import cut, padded, visible, width_of
from .paint import Row, fit, line, shortened, wrap, wrapped

FULL_NAMES = 80
"""Columns from which muscle groups are named in full where the name fits."""

WITH_SCALE = 110
"""Columns from which the angle scale has a column of its own."""

ORDERS = {"fast-first": ("R1", "quality", "R2"), "slow-first": ("R2", "R1", "quality")}

COUNTS_WORDS = {
    "first": "the first counts",
    "mean": "their mean counts",
    "worst": "the least stretch counts",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its title, its width in cells, its side, and what a reading shows in it."""

    title: str
    width: int
    right: bool
    text: Callable[[StationRow, Reading], str]

    def cell(self, text: str) -> str:
        """A text brought to the width of the column, never cut."""
        return text.rjust(self.width) if self.right else text.ljust(self.width)


_VALUES: dict[str, Column] = {
    "R1": Column("R1", 4, True, lambda _, reading: r1_text(reading)),
    "quality": Column("quality", 7, True, lambda _, reading: number_text(reading.quality)),
    "R2": Column("R2", 4, True, lambda _, reading: number_text(reading.r2)),
}
_FAST = Column("fast", 4, False, lambda _, reading: reading.fast_velocity)
_GAP = Column("gap", 4, True, lambda row, _: number_text(shown_gap(row.gap)))
_SHORTFALL = Column("shortfall", 9, True, lambda row, _: number_text(row.shortfall))
_SCALE = Column("scale", 14, False, lambda _, reading: reading.scale.id)


def value_columns(field_order: str, width: int) -> tuple[Column, ...]:
    """The columns behind muscle group and side."""
    fields = tuple(_VALUES[name] for name in ORDERS[field_order])
    scale = (_SCALE,) if width >= WITH_SCALE else ()
    return (_FAST, *fields, _GAP, _SHORTFALL, *scale)


def name_width(width: int) -> int:
    """Cells for the name of a muscle group."""
    if width >= WITH_SCALE:
        return 32
    return 20 if width >= FULL_NAMES else 8


def title_row(field_order: str, width: int) -> Row:
    """The titles of the columns."""
    titles = " ".join(column.cell(column.title) for column in value_columns(field_order, width))
    names = f"    {'muscle':<{name_width(width)}} {'side':<5} "
    remarks = " remarks" if width >= FULL_NAMES else ""
    return ((f"{names}{titles}{remarks}", "title"),)


def table_row(row: StationRow, field_order: str, width: int, selected: bool) -> Row:
    """One station as one row of ``width`` cells."""
    room = name_width(width)
    names = (visible(row.name), visible(row.short))
    name = padded(next((one for one in names if width_of(one) <= room), cut(names[1], room)), room)
    pointer = ">" if selected else " "
    flag = "!" if row.flagged else " "
    head = f"{pointer}{row.mark}{flag} {name} {row.side.word:<5} "
    style = "here" if selected else "ask" if row.flagged else ""
    spans = fit(line(f"{head}{_cells(row, field_order, width)}".rstrip()), width)
    return tuple((text, style or span_style) for text, span_style in spans)


def _cells(row: StationRow, field_order: str, width: int) -> str:
    """The values of a station, or the words why there are none, and remarks behind."""
    reading = row.reading
    if reading is None or not _anything(reading):
        if reading is not None and reading.not_tested:
            return f"not tested: {not_tested_words(reading)}"
        beside = _beside(reading) if reading else []
        return f"no values; {', '.join(beside)}" if beside else "open, nothing entered"
    columns = value_columns(field_order, width)
    cells = " ".join(column.cell(column.text(row, reading)) for column in columns)
    remarks = _remarks(row, reading)
    if width < FULL_NAMES:  # no room for words: a sign that the details have more
        return f"{cells} {'+' if remarks else ''}"
    return f"{cells} {', '.join(remarks)}"


def _anything(reading: Reading) -> bool:
    entered = (reading.r2, reading.quality, reading.r1)
    return any(value is not None for value in entered) or bool(reading.r1_tries)


def _remarks(row: StationRow, reading: Reading) -> list[str]:
    """Short words for what has no column; the details have all of it."""
    words: list[str] = []
    if not row.done:
        words.append("unfinished")
    if reading.not_tested:
        words.append(not_tested_words(reading))
    if row.moved:
        words.append("position")
    return words + _beside(reading)


def _beside(reading: Reading) -> list[str]:
    """Short words for what was entered beside the values."""
    comment = ["comment"] if reading.comment else []
    return clonus_and_pain(reading.clonus_s, reading.pain) + comment


def table_rows(
    rows: Sequence[StationRow], field_order: str, width: int, top: int, room: int, selected: int
) -> list[Row]:
    """The rows of the table from ``top`` on, as many as there is room for."""
    return [
        table_row(row, field_order, width, index == selected)
        for index, row in enumerate(rows[top : top + room], top)
    ]


def detail_rows(
    row: StationRow, counts: Counts, reading_error: int, width: int, room: int
) -> list[Row]:
    """Everything about one station in words.

    Args:
        row: the station.
        counts: which of several tries is the reading.
        reading_error: deg, see components.plain_line.
        width: cells.
        room: rows at most; what does not fit is said.
    """
    rows = wrap(f"{row.name}, {row.side.word}: {_place(row)}", width, "bold")
    reading = row.reading
    if reading is not None and (_anything(reading) or reading.not_tested or _beside(reading)):
        rows += wrap(plain_line(reading, row.reference, reading_error), width)
        facts = _facts(reading, counts)
        rows += wrap("; ".join(facts), width) if facts else []
        rows += wrapped(_flag_texts(reading), width, "ask")
        if reading.comment:
            rows += wrap(f"comment: {reading.comment}", width)
    return shortened(rows, room, "... {} more lines: the window is too low")


def _place(row: StationRow) -> str:
    reading = row.reading
    if reading is None:
        return "nothing entered"
    position = f"position differs: {reading.posture}" if row.moved else reading.posture
    return f"{position}; scale {reading.scale.id}"


def _facts(reading: Reading, counts: Counts) -> list[str]:
    facts: list[str] = []
    if reading.not_tested:
        facts.append(f"not tested: {not_tested_words(reading)}")
    for name, tries in (("R1", reading.r1_tries), ("R2", reading.r2_tries)):
        if len(tries) > 1:
            words = ", ".join("none" if try_ is None else str(try_) for try_ in tries)
            facts.append(f"{name} tries {words} ({COUNTS_WORDS[counts]})")
    return facts + clonus_and_pain(reading.clonus_s, reading.pain, " of 10")


def _flag_texts(reading: Reading) -> list[str]:
    """Every flag with its level, and beside it the reason of its override."""
    reasons = {override.rule: override.reason for override in reading.overrides}
    texts: list[str] = []
    for flag in reading.flags:
        reason = reasons.pop(flag.rule, "")
        why = f"; overridden: {reason}" if reason else ""
        texts.append(f"! {flag.level}: {flag.text}{why}")
    for rule, reason in reasons.items():
        name = RULES[rule][1] if rule in RULES else rule
        texts.append(f"! {name}; overridden: {reason}")
    return texts
