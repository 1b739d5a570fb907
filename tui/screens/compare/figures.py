"""The body chart of both dates side by side, and the same as a list for small windows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from ....core.change.compare import CompareRow
from ....core.tardieu.measured import catch_of
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import Reading
from ...kit.body import (
    CHART_WIDTH,
    FIRST,
    Ranked,
    Spot,
    figure_rows,
    gap_span,
    most_telling,
    spot_of,
)
from ...kit.paint import Row, Span, fit, line
from ...kit.scroll import first_shown

Mark = Literal["larger", "catch", "within", "no catch", "not tested"]

MARKS: dict[Mark, tuple[str, str, str]] = {
    "larger": (">", "ask", "now: larger"),
    "catch": ("x", "bold", "catch"),
    "within": ("=", "", "now: within"),
    "no catch": ("o", "done", "no catch"),
    "not tested": ("n", "dim", "not tested"),
}
"""Sign, style and words, the more telling first: the sign alone says it all."""

GAPS = "digit: tens of the gap  - no catch  x not tested  ? no R2  underlined: R2 short"
"""What the signs of the gaps mean; it fits 80 cells."""

SIDE_BY_SIDE = 2 * CHART_WIDTH + 2
FIGURE_ROWS = 18


def state_mark(reading: Reading | None) -> Mark:
    """What was found at one date."""
    found = catch_of(reading)
    return "not tested" if found is None else "catch" if found else "no catch"


def change_mark(row: CompareRow) -> Mark:
    """What is found now, and whether it changed; R1 and R2 are looked at."""
    found = state_mark(row.after)
    verdicts = {row.change.r1.verdict, row.change.r2.verdict}
    if "larger" in verdicts:
        return "larger"
    return "within" if found == "catch" and "within" in verdicts else found


def legend_row() -> Row:
    """What the marks mean."""
    marks = (((sign, style), (f" {words}  ", "dim")) for sign, style, words in MARKS.values())
    return tuple(span for mark in marks for span in mark)


def figures_fit(width: int, height: int) -> bool:
    """Whether both figures fit a block of this size."""
    return width >= SIDE_BY_SIDE and height >= FIGURE_ROWS + 1


def both_figures(
    rows: Sequence[CompareRow],
    muscles: Mapping[str, Muscle],
    selected: int,
    width: int,
    gaps: bool = False,
) -> list[Row]:
    """The figures of then and now side by side, and the legend.

    Args:
        rows: the stations.
        muscles: every muscle group by id.
        selected: index of the selected station.
        width: cells.
        gaps: the tens of each gap, underlined where R2 is short of the reference.
    """
    then, now = (figure_rows(_marks(rows, muscles, selected, at, gaps)) for at in (False, True))
    half = width // 2
    figures: list[Row] = [(*fit(one, half), *other) for one, other in zip(then, now, strict=True)]
    return [*figures, fit(line(GAPS, "dim") if gaps else legend_row(), width)]


def _state_sign(row: CompareRow, now: bool) -> Ranked:
    mark = change_mark(row) if now else state_mark(row.before)
    return list(MARKS).index(mark), _span(mark)


def _gap_sign(row: CompareRow, now: bool) -> Ranked:
    reading = row.after if now else row.before
    change = row.change
    gap = change.gap.after if now else change.gap.before
    short = change.shortfall.after if now else change.shortfall.before
    return gap_span(gap, short, catch_of(reading), change.r2.reading_error)


def mark_list(rows: Sequence[CompareRow], selected: int, width: int, height: int) -> list[Row]:
    """Every station with its marks then and now, for windows too small for the figures."""
    room = max(1, height - 3)
    top = first_shown(0, selected, room, len(rows))
    name = width - 14
    shown: list[Row] = [line(f"  {'muscle, side':<{name}} then  now", "title")]
    for index, row in enumerate(rows[top : top + room], top):
        here = index == selected
        text = f"{'>' if here else ' '} {row.name}, {row.side.word}"
        signs = (_span(state_mark(row.before)), _span(change_mark(row)))
        label = fit(line(text, "here" if here else ""), name + 3)
        shown.append((*label, signs[0], ("     ", ""), signs[1]))
    legend = [f"{sign} {words}" for sign, _, words in MARKS.values()]
    return [*shown, line("  ".join(legend[:2]), "dim"), line("  ".join(legend[2:]), "dim")]


def _marks(
    rows: Sequence[CompareRow], muscles: Mapping[str, Muscle], selected: int, now: bool, gaps: bool
) -> dict[Spot, Span]:
    """Place -> sign, then or now; the selected station shows before any other."""
    signs: list[tuple[Spot, Ranked]] = []
    for index, row in enumerate(rows):
        if muscle := muscles.get(row.muscle):
            rank, (text, style) = (_gap_sign if gaps else _state_sign)(row, now)
            ranked = (FIRST, (text, "here")) if index == selected else (rank, (text, style))
            signs.append((spot_of(muscle, row.side), ranked))
    return most_telling(signs)


def _span(mark: Mark) -> Span:
    return MARKS[mark][:2]
