"""The raters screen as a value and as rows: the tables above, one table's figures below."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ....core.agreement.gather import Gathered, blind_words, targets_words, title_of
from ....core.agreement.words import digit_lines, study_lines
from ....core.tardieu.muscles import Muscle
from ...kit.form_paint import title_row
from ...kit.paint import Row, line, wrap
from ...kit.scroll import centred, clamped_top, pointer_rows, scrolled
from ...plot.raters import plot_lines

LISTED = 6
"""Rows for the list of tables; what is left is for the figures of the chosen one."""

_FRAME = 2
"""Rows of title and line between."""

NO_PAIRS = (
    "There are no pairs yet. A pair is one station of one patient in two closed sessions of "
    "one day: by two examiners, or twice by the same one. Ratings in a file work too: "
    "limbscribe agreement FILE.csv"
)


@dataclass(frozen=True, slots=True)
class Tables:
    """What is shown.

    Attributes:
        titles: of each table.
        details: lines of each table.
        at: the chosen one.
        top: first line of its details in view.
    """

    titles: tuple[str, ...]
    details: tuple[tuple[str, ...], ...]
    at: int = 0
    top: int = 0


def tables_of(found: Gathered, muscles: dict[str, Muscle]) -> Tables:
    """Every table of the shelf, the examiners' last digits as the last entry."""
    titles = [title_of(table, muscles.get(table.muscle)) for table, _ in found.studies]
    details: list[tuple[str, ...]] = []
    for table, study in found.studies:
        notes = (targets_words(table), blind_words(table))
        head = tuple(f"Note: {note}" for note in notes if note)
        details.append((*head, *study_lines(study), *plot_lines(study)))
    if found.digits:
        titles.append("Last digits of each examiner")
        details.append(tuple(digit_lines(found.digits)))
    if found.left_out:
        titles.append(f"Left out: {len(found.left_out)}")
        details.append(found.left_out)
    return Tables(tuple(titles), tuple(details))


def scroll_figures(tables: Tables, action: str, width: int, height: int) -> Tables:
    """Scroll the figures of the chosen table in a body of a size."""
    if not tables.titles:
        return tables
    count, room = len(_lines(tables, width)), _room(tables, height)
    return replace(tables, top=scrolled(tables.top, action, count, room))


def paint_tables(tables: Tables, width: int, height: int) -> list[Row]:
    """Paint the list of tables and the figures of the chosen one."""
    count = f"{len(tables.titles)} tables"
    rows: list[Row] = [title_row("agreement between raters", count, width)]
    if not tables.titles:
        return [*rows, *wrap(NO_PAIRS, width)]
    lines, room = _lines(tables, width), _room(tables, height)
    top = clamped_top(tables.top, len(lines), room)
    shown = lines[top : top + room]
    more = f" lines {top + 1} to {top + len(shown)} of {len(lines)} "
    return [*rows, *_list(tables, width), ((f"{more:-^{width}}", "dim"),), *shown]


def _room(tables: Tables, height: int) -> int:
    return height - _FRAME - min(LISTED, len(tables.titles))


def _list(tables: Tables, width: int) -> list[Row]:
    top = centred(tables.at, LISTED, len(tables.titles))
    return pointer_rows(tables.titles[top : top + LISTED], top, tables.at, width)


def _lines(tables: Tables, width: int) -> list[Row]:
    """The chosen table's lines; those too long for the window go on below, indented."""
    rows: list[Row] = []
    for text in tables.details[tables.at]:
        if len(text) <= width:
            rows.append(line(text))
            continue
        indent = len(text) - len(text.lstrip()) + 2
        first, *rest = wrap(text, width - indent)
        rows += [first, *(((" " * indent, ""), *row) for row in rest)]
    return rows or [line("nothing to show")]
