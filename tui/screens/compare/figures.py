"""The body chart of both dates side by side, and the same as a list for small windows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Literal

from ....core.change.compare import CompareRow
from ....core.tardieu.measured import catch_of
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import Reading
from ...kit.body import CHART_WIDTH, FIRST, Ranked, Spot, figure_rows, gap_span, spot_of
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
    if reading is None:
        return "not tested"
    if reading.r1 is not None:
        return "catch"
    return "no catch" if reading.r1_tries or reading.quality in (0, 1) else "not tested"


def change_mark(row: CompareRow) -> Mark:
    """What is found now, and whether it changed; R1 and R2 are looked at."""
    found = state_mark(row.after)
    verdicts = {row.change.r1.verdict, row.change.r2.verdict}
    if "larger" in verdicts:
        return "larger"
    return "within" if found == "catch" and "within" in verdicts else found


def legend_row() -> Row:
    """What the marks mean."""
    spans: list[Span] = []
    for sign, style, words in MARKS.values():
        spans += [(sign, style), (f" {words}  ", "dim")]
    return tuple(spans)


def figures_fit(width: int, height: int) -> bool:
    """Whether both figures fit a block of this size."""
    return width >= SIDE_BY_SIDE and height >= FIGURE_ROWS + 1


def both_figures(
    rows: Sequence[CompareRow], muscles: Mapping[str, Muscle], selected: int, width: int
) -> list[Row]:
    """The figures of then and now side by side, and the legend."""
    return _side_by_side(rows, muscles, selected, width, _state_sign, legend_row())


def both_gaps(
    rows: Sequence[CompareRow], muscles: Mapping[str, Muscle], selected: int, width: int
) -> list[Row]:
    """The same with the tens of the gap, underlined where R2 is short of the reference."""
    return _side_by_side(rows, muscles, selected, width, _gap_sign, line(GAPS, "dim"))


Sign = Callable[[CompareRow, bool], Ranked]
"""The sign of a station, then or now."""


def _side_by_side(
    rows: Sequence[CompareRow],
    muscles: Mapping[str, Muscle],
    selected: int,
    width: int,
    sign: Sign,
    legend: Row,
) -> list[Row]:
    then = figure_rows(_marks(rows, muscles, selected, lambda row: sign(row, False)))
    now = figure_rows(_marks(rows, muscles, selected, lambda row: sign(row, True)))
    half = width // 2
    figures: list[Row] = [(*fit(one, half), *other) for one, other in zip(then, now, strict=True)]
    return [*figures, fit(legend, width)]


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
    rows: Sequence[CompareRow],
    muscles: Mapping[str, Muscle],
    selected: int,
    sign: Callable[[CompareRow], Ranked],
) -> dict[Spot, Span]:
    """Place -> sign; of two stations at one place the selected shows, else the more telling."""
    found: dict[Spot, Ranked] = {}
    for index, row in enumerate(rows):
        muscle = muscles.get(row.muscle)
        if muscle is None:
            continue
        rank, (text, style) = sign(row)
        here = index == selected
        rank, style = (FIRST, "here") if here else (rank, style)
        spot = spot_of(muscle, row.side)
        if spot not in found or rank < found[spot][0]:
            found[spot] = rank, (text, style)
    return {spot: span for spot, (_, span) in found.items()}


def _span(mark: Mark) -> Span:
    return MARKS[mark][:2]
