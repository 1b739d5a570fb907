"""The body chart: two figures in plain characters, a mark for every muscle and side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from ...core.entry.readings import reading_of
from ...core.entry.state import EntryState
from ...core.tardieu.components import shortfall_of
from ...core.tardieu.figure import FIGURE, column, gap_sign
from ...core.tardieu.measured import catch_of
from ...core.tardieu.measurement_error import error_of_readings
from ...core.tardieu.muscles import Muscle
from ...core.tardieu.reading import Side
from .paint import Row, Span, line
from .scroll import centred

WIDTH = 17
CHART_WIDTH = 2 * WIDTH + 2

Mark = Literal["here", "open", "done", "flagged", "not tested"]

MARKS: dict[Mark, tuple[str, str]] = {
    "here": ("@", "here"),
    "flagged": ("!", "ask"),
    "open": (".", "bold"),
    "not tested": ("n", "dim"),
    "done": ("*", "done"),
}
"""Sign and style of each state, the more telling first: the sign alone says it all."""


def mark_of(state: EntryState, index: int) -> Mark:
    """The state of one station, the current one aside."""
    draft = state.drafts[index]
    if draft.heard:
        return "flagged"
    if draft.not_tested:
        return "not tested"
    return "done" if draft.done else "open"


Spot = tuple[str, int, int]
"""View, row and column of a place on the figures."""


Ranked = tuple[int, Span]
"""Rank of a sign, the lowest of a place shows, and the sign with its style."""

FIRST = -1000
"""Rank before every other."""


def body_rows(state: EntryState, gaps: bool = False) -> list[Row]:
    """Both figures with their marks: a title row and 17 rows, CHART_WIDTH cells wide.

    At a station of the left side LEFT is at the left edge, beside the head of the first figure.

    Args:
        state: the entry.
        gaps: the tens of each gap, underlined where R2 is short of the reference, stand in
            place of the states.
    """
    marks = most_telling(
        (spot_of(station.muscle, station.side), _sign(state, index, gaps))
        for index, station in enumerate(state.plan.stations)
    )
    if state.station.side is Side.LEFT:
        marks |= {("front", 0, x): (letter, "here") for x, letter in enumerate("LEFT")}
    return figure_rows(marks)


def figure_rows(marks: Mapping[Spot, Span]) -> list[Row]:
    """Both figures with any marks: a title row and 17 rows, CHART_WIDTH cells wide.

    Args:
        marks: sign of one cell, and its style, by place.
    """
    title: Row = (
        (f"{'Right':<6}{'front':^5}{'Left':>6}  {'Left':<6}{'back':^5}{'Right':>6}", "dim"),
    )
    rows: list[Row] = [title]
    for y, outline in enumerate(FIGURE):
        front = _figure_row(outline, y, "front", marks)
        back = _figure_row(outline, y, "back", marks)
        rows.append((*front, ("  ", ""), *back))
    return rows


def legend_rows(gaps: bool = False) -> list[Row]:
    """What the marks mean."""
    if gaps:
        tens = (("gap tens  ", "dim"), ("R2 short", "title"))
        where = (("  ", ""), ("@", "here"), (" here  . open", "dim"))
        return [(*tens, *where), line("- no catch  x not tested  ? no R2", "dim")]
    first = (("@", "here"), (" here  ", "dim"), (".", "bold"), (" open  ", "dim"))
    second = (("*", "done"), (" done", "dim"))
    last = (("!", "ask"), (" flagged  ", "dim"), ("n", "dim"), (" not tested", "dim"))
    return [(*first, *second), last]


def strip_row(state: EntryState, width: int, gaps: bool = False) -> Row:
    """The same marks in a row, for windows too small for the figures."""
    count = width - 10
    first = centred(state.cursor.station, count, len(state.drafts))
    shown = range(first, min(len(state.drafts), first + count))
    title = ("gap tens " if gaps else "stations ", "dim")
    return (title, *(_sign(state, index, gaps)[1] for index in shown))


def most_telling(signs: Iterable[tuple[Spot, Ranked]]) -> dict[Spot, Span]:
    """Place -> sign; of two stations at one place the more telling shows."""
    found: dict[Spot, Ranked] = {}
    for spot, ranked in signs:
        if spot not in found or ranked[0] < found[spot][0]:
            found[spot] = ranked
    return {spot: span for spot, (_, span) in found.items()}


def _sign(state: EntryState, index: int, gaps: bool) -> Ranked:
    if index == state.cursor.station:
        return FIRST, MARKS["here"]
    if gaps:
        return _gap_sign(state, index)
    mark = mark_of(state, index)
    return list(MARKS).index(mark), MARKS[mark]


def _gap_sign(state: EntryState, index: int) -> Ranked:
    """The tens of a station's gap, open where nothing was entered."""
    if not state.drafts[index].has_content:
        return 1, MARKS["open"]
    reading = reading_of(state, index)
    shortfall = shortfall_of(reading, state.plan.stations[index].reference)
    return gap_span(reading.gap, shortfall, catch_of(reading), state.plan.limits.reading_error)


def gap_span(
    gap: int | None, shortfall: int | None, catch: bool | None, reading_error: int
) -> Ranked:
    """Make the sign of a gap, underlined where R2 is short of the reference beyond error.

    Args:
        gap: deg, as for figure.gap_sign().
        shortfall: deg, None where it is not known.
        catch: as for figure.gap_sign().
        reading_error: deg, standard error of one reading.
    """
    short = shortfall is not None and shortfall > error_of_readings(reading_error, 1)
    return -(gap or 0), (gap_sign(gap, catch), "title" if short else "bold")


def spot_of(muscle: Muscle, side: Side) -> Spot:
    """Where a muscle group of a side is on the figures."""
    place = muscle.place
    return (place.view, place.row, column(place.view, side, place.lateral))


def _figure_row(outline: str, y: int, view: str, marks: Mapping[Spot, Span]) -> list[Span]:
    spans: list[Span] = []
    plain = ""
    for x, character in enumerate(outline):
        mark = marks.get((view, y, x))
        if mark is None:
            plain += character
            continue
        if plain:
            spans.append((plain, "dim"))
            plain = ""
        spans.append(mark)
    if plain:
        spans.append((plain, "dim"))
    return spans
