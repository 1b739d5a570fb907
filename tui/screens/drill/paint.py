"""The drill as rows: the entry with what is read out above it, and the result."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ....core.entry.state import EntryState
from ....core.text import counted
from ...kit.paint import Row, filled, line, wrap, wrapped
from ..entry.layout import View, paint_entry, resting_rows
from .state import Drill, Result, read_out


def paint_drill(
    drill: Drill,
    number: int,
    sessions: int,
    ticks: float,
    foot: Row,
    size: tuple[int, int],
    refused: bool = False,
) -> list[Row]:
    """The entry as it always is; its top line reads the station out.

    Args:
        drill: the session.
        number: of this session, from 1.
        sessions: how many there are.
        ticks: s on the monotonic clock.
        foot: the line of keys.
        size: columns and rows.
        refused: the last key was refused, which is to be seen as nothing rings.
    """
    head = (f"read: {read_out(drill)}", f"drill {number} of {sessions}", "nothing is stored")
    view = View(drill.entry, head, (), ticks, foot, refused=refused)
    return paint_entry(replace(view, below=resting_rows(view, *size, _no_trend)), *size)


def _no_trend(width: int, height: int) -> tuple[str, ...]:
    """A drill has no sessions behind it."""
    del width, height
    return ()


def paint_result(
    result: Result, left: int, first: int, size: tuple[int, int], names: Mapping[str, str]
) -> list[Row]:
    """Paint what came of it.

    Args:
        result: of the sessions typed so far.
        left: sessions that are still to come.
        first: slip that is the first in sight.
        size: columns and rows.
        names: key of each action of the drill, as screens write it.
    """
    width, height = size
    rows: list[Row] = [line(" Drill, result: invented values, nothing is stored", "title"), ()]
    rows += wrapped(result_lines(result), width)
    rows += [(), *slip_rows(result, first, width, height - len(rows) - 3, names["down"])]
    more = f"{names['next']} goes on: {left} to come" if left else f"{names['next']} leaves"
    return [*filled(rows, height - 1), line(more, "bold")]


def result_lines(result: Result) -> list[str]:
    """The figures in words."""
    pace = result.per_minute
    fast = "" if pace is None else f": {pace:.1f} readings a minute"
    lines = [f"{counted(result.readings, 'reading')} in {result.seconds:.0f} s{fast}"]
    over = result.keys - result.least
    lines.append(f"{counted(result.keys, 'key')}, the fewest possible {result.least}: {over} over")
    lines.append(f"{counted(len(result.slips), 'slip')} in {counted(result.values, 'value')}")
    return lines


def slip_rows(result: Result, first: int, width: int, room: int, down: str) -> list[Row]:
    """Slips from one on, as many as fit; what does not fit is counted, with the key to it."""
    shown: list[Row] = []
    slips = result.slips[first:]
    for index, slip in enumerate(slips):
        rows = wrap(str(slip), width, "ask")
        last = index == len(slips) - 1
        if len(shown) + len(rows) > room - (not last):
            return [*shown, line(f"and {len(slips) - index} more: {down}", "dim")]
        shown += rows
    return shown


def is_empty(state: EntryState) -> bool:
    """Whether no station has been done."""
    return not any(draft.done for draft in state.drafts)
