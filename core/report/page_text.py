"""The page as plain text: 80 columns, at most 66 lines for up to 30 stations.

Where lines are short the body chart gives way first, then the words on the columns, then the
blank lines; at last the longer paragraphs are cut, and say so.
"""

from __future__ import annotations

from collections.abc import Sequence

from .letters import folded, padded, shown, width_of
from .page import COLUMN_WORDS, Page, PageRow
from .page_figure import figure_rows

WIDTH, LINES = 80, 66
"""Columns of a line, lines of a page."""

MOST_ROWS = 30
"""Stations that go on one page."""

_NAME, _SIDE, _FAST = 18, 5, 2
_PAIRS = ((6, 5), (6, 5), (6, 3))
_AFTER = (4, 6, 2)
"""Cells of the columns: name, side, velocity; R1, R2 and quality; gap, short of ref, mark."""

_HEAD, _CHANGES, _NOTES, _GOALS = 8, 8, 8, 4
"""Lines that head, changes, notes and goals have at most where all is to go on one page; the
lines of goals are taken from those of the notes."""

_CUT = "(more in the full report)"


def page_text(page: Page, ascii_only: bool = False) -> str:
    """Write the page, a form feed before each further sheet, each line with its end."""
    lines = page_lines(page, ascii_only)
    sheets = [lines[start : start + LINES] for start in range(0, len(lines), LINES)]
    return "\f".join("".join(f"{line.rstrip()}\n" for line in sheet) for sheet in sheets)


def page_lines(page: Page, ascii_only: bool = False) -> list[str]:
    """Write the page as lines."""

    def fold(texts: Sequence[str], first: str = "", after: str = "  ") -> list[str]:
        return [
            line for text in texts for line in folded(shown(text, ascii_only), WIDTH, first, after)
        ]

    top = [_top(page, ascii_only), *fold((page.patient,))]
    head, changes = (
        fold(page.head),
        [*fold(page.changes, "  ", "    "), *fold((page.chance,), "  ")],
    )
    notes, figure = fold(page.notes), figure_rows(page)
    table = _table(page, ascii_only)
    words, foot = fold((COLUMN_WORDS,), "", ""), [*fold((page.caution, page.signed), "", "")]
    blocks = {
        "head": [*top, *head],
        "changes": ["WHAT CHANGED", *changes],
        "table": table,
        "notes": notes,
        "figure": figure,
        "goals": fold(page.goals),
        "words": words,
        "foot": foot,
    }
    if len(page.rows) <= MOST_ROWS:
        for name in ("figure", "words"):
            if _height(blocks) > LINES:
                blocks[name] = []
        blank = _height(blocks) <= LINES
        if not blank and _height(blocks, blank=False) > LINES:
            blocks["head"] = [*top, *_cut(head, _HEAD - len(top))]
            blocks["changes"] = ["WHAT CHANGED", *_cut(changes, _CHANGES)]
            blocks["goals"] = _cut(blocks["goals"], _GOALS)
            blocks["notes"] = _cut(notes, _NOTES - len(blocks["goals"]))
    else:
        blank, blocks["figure"] = True, []
    lines: list[str] = []
    for block in filter(None, blocks.values()):
        lines += [*([""] if blank and lines else ()), *block]
    return lines


def _height(blocks: dict[str, list[str]], blank: bool = True) -> int:
    filled = [block for block in blocks.values() if block]
    return sum(map(len, filled)) + (len(filled) - 1) * blank


def _cut(lines: list[str], most: int) -> list[str]:
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    room = WIDTH - len(_CUT) - 1
    while width_of(last) > room:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip()} {_CUT}"]


def _top(page: Page, ascii_only: bool) -> str:
    left = f"{shown(page.code, ascii_only)}  {page.title}"
    what = "Tardieu scale, angles in deg as read"
    return f"{left:<{WIDTH - len(what)}}{what}" if len(left) + len(what) < WIDTH else left


def _table(page: Page, ascii_only: bool) -> list[str]:
    """Write the rows below two lines of titles, and what their signs mean."""
    if not page.rows:
        return []
    lines = [*_titles(page.compared), *(_row(row, page.compared, ascii_only) for row in page.rows)]
    short = {row.short: row.name for row in page.rows if width_of(row.name) > _NAME}
    names = "; ".join(f"{short}: {name}" for short, name in short.items())
    words = shown("   ".join(filter(None, (page.legend_words, names))), ascii_only)
    return [*lines, *folded(words, WIDTH)] if words else lines


def _titles(compared: bool) -> tuple[str, str]:
    upper = [" " * (_NAME + 1 + _SIDE + 1 + _FAST)]
    lower = [padded("Muscle, side", _NAME + 1 + _SIDE + 1 + _FAST)]
    for title, (then, now) in zip(("R1", "R2", "quality"), _PAIRS, strict=True):
        if compared:
            upper.append(padded(title, then + 1 + now, True))
            lower += [padded("before", then), padded("now", now, True)]
        else:
            upper.append(padded(title, max(now, len(title)), True))
            lower.append(" " * max(now, len(title)))
    gap, short, _ = _AFTER
    upper += [padded("gap", gap, True), padded("short", short, True)]
    lower += [padded("now" if compared else "", gap, True), padded("of ref", short, True)]
    return " ".join(upper), " ".join(lower)


def _row(row: PageRow, compared: bool, ascii_only: bool) -> str:
    name = shown(row.name, ascii_only)
    if width_of(name) > _NAME:
        name = shown(row.short, ascii_only)
    _, side, fast, *numbers, gap, short, mark = row.cells(compared)
    cells = [padded(name, _NAME), padded(side, _SIDE), padded(fast, _FAST)]
    widths = [width for pair in _PAIRS for width in pair] if compared else [5, 5, 7]
    cells += [padded(one, width, True) for one, width in zip(numbers, widths, strict=True)]
    return " ".join((*cells, padded(gap, _AFTER[0], True), padded(short, _AFTER[1], True), mark))
