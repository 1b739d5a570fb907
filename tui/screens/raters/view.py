"""The raters screen as rows: the overview of every table, and the figures of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ....core.agreement.across_days import MOST_DAYS
from ....core.agreement.gather import Gathered, group_of, notes_of, pair_lines, row_of, title_of
from ....core.agreement.overview import HEADER, LEGEND, overview_line
from ....core.agreement.words import digit_lines, study_lines
from ....core.tardieu.muscles import Muscle
from ....core.text import counted
from ...kit.form_paint import title_row
from ...kit.paint import Row, fit, line, wrap
from ...kit.scroll import centred, pointer_row
from ...plot.raters import plot_lines

NO_PAIRS = (
    "There are no pairs yet. A pair is one station of one patient in two closed sessions, by two "
    "examiners or twice by the same one: of one day, or of two days at most "
    f"{MOST_DAYS} days apart without treatment between. Ratings in a file work too: "
    "limbscribe agreement FILE.csv"
)

ABOUT = (
    "First the overview, a row for each table of pairs. Each row describes its pairs and gives no "
    "verdict on anybody.",
    f"{LEGEND[0].upper()}{LEGEND[1:]}",
)

_HEAD = 2
"""Rows of the title and the names of the columns."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the overview.

    Attributes:
        group: heading of the rows that belong together, "" for none.
        cells: the row as in overview.HEADER, () where it is the title alone.
        title: what it is about, in words.
    """

    group: str
    cells: tuple[str, ...]
    title: str

    def text(self, width: int) -> str:
        """The row in as many cells, or more."""
        return overview_line(self.cells, width) if self.cells else self.title


def entries_of(found: Gathered, muscles: Mapping[str, Muscle]) -> tuple[Entry, ...]:
    """Every table, then the examiners' last digits, then what was left out."""
    entries: list[Entry] = []
    for table, study in found.studies:
        muscle = muscles.get(table.muscle)
        cells = row_of(table, study).cells
        entries.append(Entry(group_of(table, muscle), cells, title_of(table, muscle)))
    return (*entries, *(Entry("", (), title) for title, _ in _others(found)))


def lines_of(found: Gathered, at: int, variances: bool) -> tuple[str, ...]:
    """The figures of an entry, as lines that may be too long for a window.

    Args:
        found: what the shelf holds.
        at: index of the entry.
        variances: the analysis of variance too.
    """
    if at >= len(found.studies):
        return _others(found)[at - len(found.studies)][1]
    table, study = found.studies[at]
    sentence = row_of(table, study).sentence
    head = [f"In words: {sentence}"] if sentence else []
    head += [f"Note: {note}" for note in notes_of(table)]
    return (*head, *study_lines(study, variances), *plot_lines(study), "", *pair_lines(table))


def _others(found: Gathered) -> list[tuple[str, tuple[str, ...]]]:
    """Titles and lines of what is no table."""
    others: list[tuple[str, tuple[str, ...]]] = []
    if found.digits:
        others.append(("Last digits of each examiner", tuple(digit_lines(found.digits))))
    if found.left_out:
        others.append((f"Left out: {len(found.left_out)}", found.left_out))
    return others


def paint_overview(entries: Sequence[Entry], at: int, width: int, height: int) -> list[Row]:
    """Paint the overview, headings between the rows, the chosen row in sight."""
    rows: list[Row] = [title_row("agreement between raters", counted(len(entries), "row"), width)]
    if not entries:
        return [*rows, (), *wrap(NO_PAIRS, width)]
    shown, chosen = _list(entries, at, width)
    room = height - _HEAD
    top = centred(chosen, room, len(shown))
    header = fit(line(f"  {overview_line(HEADER, width - 2)}", "dim"), width)
    return [*rows, header, *shown[top : top + room]]


def _list(entries: Sequence[Entry], at: int, width: int) -> tuple[list[Row], int]:
    """The rows with their headings, and at which of them the chosen one is."""
    rows: list[Row] = []
    group, chosen = "", 0
    for index, entry in enumerate(entries):
        if entry.group != group:
            group = entry.group
            rows.append(fit(line(group, "title"), width))
        chosen = len(rows) if index == at else chosen
        rows.append(pointer_row(entry.text(width - 2), index == at, width))
    return rows, chosen
