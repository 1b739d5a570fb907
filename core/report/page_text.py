"""The page as plain text: 80 columns, at most 66 lines for up to 30 stations.

Where lines are short the body chart gives way first, then the words on the columns, then the
blank lines; at last the longer paragraphs are cut, and say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..language import N_, gettext, pgettext
from ..tardieu.reading import Side
from ..text import folded, padded, shown, width_of
from .page import COLUMN_WORDS, SCALE, Page, PageRow, side_cell
from .page_figure import figure_rows

WIDTH, LINES = 80, 66
"""Columns of a line, lines of a page."""

MOST_ROWS = 30
"""Stations that go on one page."""

_NAME_AND_SIDE, _FAST = 24, 2
_NUMBER, _GRADE, _GAP, _SHORT = 5, 3, 4, 6
"""Cells that the columns have at least; titles of other languages may be wider."""

_HEAD, _CHANGES, _NOTES, _GOALS = 8, 8, 8, 4
"""Lines that head, changes, notes and goals have at most where all is to go on one page; the
lines of goals are taken from those of the notes."""

_KEPT = 10
"""Lines at the end of a sheet that move to the next one, so that no paragraph is parted."""

_CUT = N_("(more in the full report)")


def page_text(page: Page, ascii_only: bool = False) -> str:
    """Write the page, a form feed before each further sheet, each line with its end."""
    sheets = _sheets(page, page_lines(page, ascii_only), ascii_only)
    return "\f".join("".join(f"{line.rstrip()}\n" for line in sheet) for sheet in sheets)


def _sheets(page: Page, lines: list[str], ascii_only: bool) -> Iterator[list[str]]:
    """Part the lines into sheets; each further one says of whom and what it is."""
    start = _end(lines, 0, LINES)
    yield lines[:start]
    record = gettext("record {record}").format(record=page.record)
    head = [shown(f"{page.code}  {page.date}  {record}", ascii_only), ""]
    titles = list(_Grid(page, ascii_only).titles())
    while start < len(lines):
        above = lines[:start]
        # Within the table its titles are said again: numbers without them can be misread.
        inside = titles[1] in above and "" not in above[above.index(titles[1]) :]
        again = [*head, *(titles if inside and lines[start] else ())]
        end = _end(lines, start, LINES - len(again))
        yield [*again, *lines[start + (not lines[start]) : end]]
        start = end


def _end(lines: Sequence[str], start: int, most: int) -> int:
    """Find where a sheet ends: at a blank line near its end, where there is one."""
    end = start + most
    if end >= len(lines):
        return len(lines)
    return next((n for n in range(end, end - _KEPT, -1) if not lines[n]), end)


def page_lines(page: Page, ascii_only: bool = False) -> list[str]:
    """Write the page as lines."""

    def fold(texts: Sequence[str], first: str = "", after: str = "  ") -> list[str]:
        return [
            line for text in texts for line in folded(shown(text, ascii_only), WIDTH, first, after)
        ]

    top = [_top(page, ascii_only), *fold((page.patient,))]
    head = fold(page.head)
    chance = fold((page.chance,), "  ") if page.chance else []
    changes = [*fold(page.changes, "  ", "    "), *chance]
    title = shown(gettext("What changed").upper(), ascii_only)
    *drawn, signs = figure_rows(page)
    notes, figure = fold(page.notes), [*drawn, *fold((signs,), "", "")]
    table = _table(page, ascii_only)
    words, foot = fold((gettext(COLUMN_WORDS),), "", ""), fold((page.caution, page.signed), "", "")
    blocks = {
        "head": [*top, *head],
        "changes": [title, *changes],
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
            blocks["head"] = [*top, *_cut(head, _HEAD - len(top), ascii_only)]
            blocks["changes"] = [title, *_cut(changes, _CHANGES, ascii_only)]
            blocks["goals"] = _cut(blocks["goals"], _GOALS, ascii_only)
            blocks["notes"] = _cut(notes, _NOTES - len(blocks["goals"]), ascii_only)
    else:
        blank, blocks["figure"] = True, []
    lines: list[str] = []
    for block in filter(None, blocks.values()):
        lines += [*([""] if blank and lines else ()), *block]
    return lines


def _height(blocks: dict[str, list[str]], blank: bool = True) -> int:
    filled = [block for block in blocks.values() if block]
    return sum(map(len, filled)) + (len(filled) - 1) * blank


def _cut(lines: list[str], most: int, ascii_only: bool) -> list[str]:
    if len(lines) <= most:
        return lines
    cut = shown(gettext(_CUT), ascii_only)
    last = lines[most - 1]
    while width_of(last) > WIDTH - width_of(cut) - 1:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip()} {cut}"]


def _top(page: Page, ascii_only: bool) -> str:
    left, what = shown(f"{page.code}  {page.title}", ascii_only), shown(gettext(SCALE), ascii_only)
    blanks = WIDTH - width_of(left) - width_of(what)
    return f"{left}{' ' * blanks}{what}" if blanks > 0 else left


def _table(page: Page, ascii_only: bool) -> list[str]:
    """Write the rows below two lines of titles, and what their signs mean."""
    if not page.rows:
        return []
    grid = _Grid(page, ascii_only)
    lines = [*grid.titles(), *map(grid.row, page.rows)]
    short = {row.short: row.name for row in page.rows if grid.name(row) == row.short != row.name}
    explained = [*(f"{sign} {words}" for sign, words in page.legend)]
    explained += [f"{short}: {name}" for short, name in short.items()]
    *all_but_last, last = explained or [""]
    items = [*(f"{each};" for each in all_but_last), last]
    return [*lines, *_in_lines(shown(each, ascii_only) for each in items)]


def _in_lines(items: Iterable[str]) -> Iterator[str]:
    """Put signs with their words on lines, none parted from its words where it fits a line."""
    line = ""
    for item in items:
        joined = f"{line} {item}" if line else item
        if width_of(joined) > WIDTH and line:
            yield from folded(line, WIDTH) if width_of(line) > WIDTH else (line,)
            joined = item
        line = joined
    if line:
        yield from folded(line, WIDTH) if width_of(line) > WIDTH else (line,)


class _Grid:
    """The columns of a page, as wide as the words of its language need them."""

    def __init__(self, page: Page, ascii_only: bool) -> None:
        self._compared, self._ascii = page.compared, ascii_only
        say = self._shown
        self._times = (say(gettext("before")), say(gettext("now"))) if page.compared else ("",)
        self._gap = say(pgettext("column", "gap"))
        self._short = say(pgettext("column", "short")), say(pgettext("column", "of ref"))
        self._pairs = ("R1", "R2", say(pgettext("column", "quality")))
        now = width_of(self._times[-1])
        before = (max(_NUMBER, width_of(self._times[0])),) if page.compared else ()
        self._numbers = (
            *(*before, max(_NUMBER, now)),
            *(*before, max(_NUMBER, now)),
            *(*before, max(_GRADE if page.compared else width_of(self._pairs[2]), now)),
        )
        self._after = max(_GAP, width_of(self._gap), now), max(_SHORT, *map(width_of, self._short))
        self._side = max(width_of(say(side_cell(side))) for side in Side)

    def _shown(self, text: str) -> str:
        return shown(text, self._ascii)

    def titles(self) -> tuple[str, str]:
        """Write the two lines of titles."""
        first = _NAME_AND_SIDE + 1 + _FAST
        each = len(self._times)
        pairs = (self._numbers[n : n + each] for n in range(0, len(self._numbers), each))
        upper = [
            padded(title, sum(pair) + len(pair) - 1, True)
            for title, pair in zip(self._pairs, pairs, strict=True)
        ]
        lower = [
            padded(time, width, bool(n % each) or each == 1)
            for n, (time, width) in enumerate(zip(3 * self._times, self._numbers, strict=True))
        ]
        gap, short = self._after
        upper += [padded(self._gap, gap, True), padded(self._short[0], short, True)]
        lower += [padded(self._times[-1], gap, True), padded(self._short[1], short, True)]
        title = padded(self._shown(gettext("Muscle, side")), first)
        return " ".join((" " * first, *upper)), " ".join((title, *lower))

    def name(self, row: PageRow) -> str:
        """Find the longest of its names that fits the column."""
        names = (row.name, row.narrow, row.short)
        return next((name for name in names if self._fits(name)), row.short)

    def _fits(self, name: str) -> bool:
        return width_of(self._shown(name)) <= _NAME_AND_SIDE - 1 - self._side

    def row(self, row: PageRow) -> str:
        """Write a row."""
        _, side, fast, *numbers, gap, short, mark = row.cells(self._compared)
        side, name = padded(self._shown(side), self._side), self._shown(self.name(row))
        cells = [padded(name, _NAME_AND_SIDE - 1 - self._side), side, padded(fast, _FAST)]
        for text, width in zip((*numbers, gap, short), (*self._numbers, *self._after), strict=True):
            cells.append(padded(self._shown(text), width, True))
        return " ".join((*cells, mark))
