"""A caseload as lines of plain text, for 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping

from ..tardieu.muscles import Muscle
from ..text import counted, padded, visible, width_of
from .caseload import CAUTION, Caseload
from .figures import Spread
from .summary import ANGLES, StationSummary
from .words import (
    MEAN_OVER,
    NOTHING,
    back_words,
    change_words,
    choice_words,
    counts_words,
    mean_words,
    notes,
    recorder_words,
    signed,
    station_title,
    title_words,
)

WIDTH = 80
KEPT = "How the record is kept, by recorder"
HEAD = f"  {'window':<20} {'n':>4} {'missed':>6}       {'mean change':<20} {'n':>4} {'median':>6}"


def caseload_lines(caseload: Caseload, muscles: Mapping[str, Muscle]) -> Iterator[str]:
    """Write a caseload."""
    for text in (title_words(caseload), choice_words(caseload, muscles), *notes(caseload)):
        yield from _wrapped(text)
    for station in caseload.stations:
        yield ""
        yield from station_lines(station, caseload, muscles)
    if len(caseload.stations) > 1:
        yield from ("", MEAN_OVER, HEAD)
        for window, changes in zip(caseload.terms.windows, caseload.composite, strict=True):
            if window.first > 0:
                yield from _rows(window.name, "", "", changes)
    if caseload.recorders:
        yield from ("", KEPT)
        for one in caseload.recorders:
            yield from _wrapped(recorder_words(one), "  ")
    yield ""
    yield from _wrapped(CAUTION)


def station_lines(
    station: StationSummary, caseload: Caseload, muscles: Mapping[str, Muscle]
) -> Iterator[str]:
    """Write one muscle group: each window with a row an angle, and what was counted in it."""
    yield f"{station_title(station, muscles)}, {counted(station.cycles, 'cycle')}"
    yield HEAD
    for found in station.windows:
        yield from _rows(found.window.name, str(found.n), str(found.missed), found.changes)
        yield from _wrapped(counts_words(found), "      ")
    for text in (mean_words(station, caseload), back_words(station.back)):
        yield from _wrapped(text, "  ")


def _rows(name: str, n: str, missed: str, changes: Mapping[str, Spread]) -> Iterator[str]:
    """Write a window: a row for each angle that has a change, each with its own n."""
    head = f"  {padded(visible(name), 20)} {n:>4} {missed:>6}"
    for angle, one in changes.items():
        if one.median is not None:
            words = f"{change_words(one):<20} {one.n:>4} {signed(one.median):>6}"
            yield f"{head}  {ANGLES[angle]:<4} {words}"
            head = " " * width_of(head)
    if head.strip():
        yield f"{head}  {NOTHING}"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)
