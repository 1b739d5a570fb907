"""The raters screen as a value and as rows: the tables above, one table's figures below."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ....core.agreement.gather import Gathered, targets_words, title_of
from ....core.agreement.words import digit_lines, study_lines
from ....core.tardieu.muscles import Muscle
from ...kit.form_paint import title_row
from ...kit.paint import Row, fit, line, wrap
from ...plot.raters import plot_lines

LISTED = 6
"""Rows for the list of tables; what is left is for the figures of the chosen one."""

_FRAME = 4
"""Rows of title, line between, message and keys."""

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
        note = targets_words(table)
        head = (f"Note: {note}",) if note else ()
        details.append((*head, *study_lines(study), *plot_lines(study)))
    if found.digits:
        titles.append("Last digits of each examiner")
        details.append(tuple(digit_lines(found.digits)))
    if found.left_out:
        titles.append(f"Left out: {len(found.left_out)}")
        details.append(found.left_out)
    return Tables(tuple(titles), tuple(details))


def moved(tables: Tables, action: str, width: int, height: int) -> Tables | None:
    """The tables after a key that moves, None for any other."""
    steps = {"up": -1, "down": 1}
    if action in steps:
        at = max(0, min(tables.at + steps[action], len(tables.titles) - 1))
        return replace(tables, at=at, top=0)
    if action in ("pageup", "pagedown") and tables.titles:
        page = max(1, _room(tables, height) - 1)
        last = max(0, len(_lines(tables, width)) - _room(tables, height))
        step = page if action == "pagedown" else -page
        return replace(tables, top=max(0, min(tables.top + step, last)))
    return None


def paint_tables(tables: Tables, message: str, foot: Row, width: int, height: int) -> list[Row]:
    """Every row of the screen."""
    count = f"{len(tables.titles)} tables"
    rows: list[Row] = [title_row("agreement between raters", count, width)]
    if not tables.titles:
        rows += wrap(NO_PAIRS, width)
    else:
        rows += _list(tables, width)
        lines = _lines(tables, width)
        room = _room(tables, height)
        shown = lines[tables.top : tables.top + room]
        more = f" lines {tables.top + 1} to {tables.top + len(shown)} of {len(lines)} "
        rows += [((f"{more:-^{width}}", "dim"),), *shown]
    rows = [*rows, *([()] * height)][: height - 2]
    return [*rows, fit(line(message, "bold"), width), foot]


def _room(tables: Tables, height: int) -> int:
    return height - _FRAME - min(LISTED, len(tables.titles))


def _list(tables: Tables, width: int) -> list[Row]:
    top = max(0, min(tables.at - LISTED // 2, len(tables.titles) - LISTED))
    rows: list[Row] = []
    for index in range(top, min(top + LISTED, len(tables.titles))):
        here = index == tables.at
        mark = "> " if here else "  "
        rows.append(fit(line(mark + tables.titles[index], "here" if here else ""), width))
    return rows


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
