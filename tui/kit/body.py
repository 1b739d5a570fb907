"""The body chart: two figures in plain characters, a mark for every muscle and side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from ...core.entry.state import EntryState
from ...core.tardieu.figure import FIGURE, column
from ...core.tardieu.muscles import Muscle
from ...core.tardieu.reading import Side
from .paint import Row, Span
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


def body_rows(state: EntryState) -> list[Row]:
    """Both figures with their marks: a title row and 17 rows, CHART_WIDTH cells wide.

    At a station of the left side LEFT is at the left edge, beside the head of the first figure.
    """
    marks = {spot: MARKS[mark] for spot, mark in _places(state).items()}
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


def legend_rows() -> list[Row]:
    """What the marks mean."""
    first = (("@", "here"), (" here  ", "dim"), (".", "bold"), (" open  ", "dim"))
    second = (("*", "done"), (" done", "dim"))
    last = (("!", "ask"), (" flagged  ", "dim"), ("n", "dim"), (" not tested", "dim"))
    return [(*first, *second), last]


def strip_row(state: EntryState, width: int) -> Row:
    """The same marks in a row, for windows too small for the figures."""
    spans: list[Span] = [("stations ", "dim")]
    here = state.cursor.station
    count = width - 10
    first = centred(here, count, len(state.drafts))
    for index in range(first, min(len(state.drafts), first + count)):
        spans.append(MARKS["here"] if index == here else MARKS[mark_of(state, index)])
    return tuple(spans)


def _places(state: EntryState) -> dict[Spot, Mark]:
    """Place -> mark; of two stations at one place the more telling shows."""
    ranks = list(MARKS)
    marks: dict[Spot, Mark] = {}
    for index, station in enumerate(state.plan.stations):
        spot = spot_of(station.muscle, station.side)
        mark: Mark = "here" if index == state.cursor.station else mark_of(state, index)
        if spot not in marks or ranks.index(mark) < ranks.index(marks[spot]):
            marks[spot] = mark
    return marks


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
