"""Lines of text under a title, scrolled: figures of a study, one muscle group of a caseload."""

from __future__ import annotations

from collections.abc import Sequence

from .form_paint import title_row
from .paint import Row, fit, line, wrap
from .scroll import clamped_top


def paint_long(title: str, rows: Sequence[Row], top: int, width: int, height: int) -> list[Row]:
    """Paint rows under a title from a row on."""
    room = height - 1
    top = clamped_top(top, len(rows), room)
    seen = rows[top : top + room]
    where = f"{top + 1} to {top + len(seen)} of {len(rows)}" if len(rows) > room else ""
    name = fit(line(title), min(len(title), width - len(where) - 3))
    return [title_row("".join(text for text, _ in name), where, width), *seen]


def rows_of(lines: Sequence[str], width: int) -> list[Row]:
    """Lines as rows; those too long for the window go on below, indented."""
    rows: list[Row] = []
    for text in lines:
        if len(text) <= width:
            rows.append(line(text))
            continue
        indent = len(text) - len(text.lstrip()) + 2
        first, *rest = wrap(text, width - indent)
        rows += [first, *(((" " * indent, ""), *row) for row in rest)]
    return rows or [line("nothing to show")]
