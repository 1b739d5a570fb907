"""A caseload as lines of plain text, at most 80 characters wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping

from ..tardieu.muscles import Muscle
from .caseload import CAUTION, Caseload
from .figures import Spread
from .summary import ANGLES, StationSummary
from .words import (
    back_words,
    change_words,
    choice_words,
    counted,
    counts_words,
    mean_words,
    notes,
    recorder_words,
    station_title,
    title_words,
)

WIDTH = 80
KEPT = "How the record is kept, by recorder"
HEAD = f"  {'window':<15}{'n':>4} {'missed':>6}  {'R1':<15} {'R2':<15} gap"


def caseload_lines(caseload: Caseload, muscles: Mapping[str, Muscle]) -> Iterator[str]:
    """Write a caseload."""
    for text in (title_words(caseload), choice_words(caseload, muscles), *notes(caseload)):
        yield from _wrapped(text)
    for station in caseload.stations:
        yield ""
        yield from station_lines(station, caseload, muscles)
    if len(caseload.stations) > 1:
        yield from ("", "Mean over the treated muscle groups of a cycle", HEAD)
        for window, changes in zip(caseload.terms.windows, caseload.composite, strict=True):
            if window.first > 0:
                yield _row(window.name, str(changes["r1"].n), "", changes)
    if caseload.recorders:
        yield from ("", KEPT)
        for one in caseload.recorders:
            yield from _wrapped(recorder_words(one), "  ")
    yield ""
    yield from _wrapped(CAUTION)


def station_lines(
    station: StationSummary, caseload: Caseload, muscles: Mapping[str, Muscle]
) -> Iterator[str]:
    """Write one muscle group: a row for each window, and what was counted in it."""
    yield f"{station_title(station, muscles)}, {counted(station.cycles, 'cycle')}"
    yield HEAD
    for found in station.windows:
        yield _row(found.window.name, str(found.n), str(found.missed), found.changes)
        yield from _wrapped(counts_words(found), "      ")
    for text in (mean_words(station, caseload), back_words(station.back)):
        yield from _wrapped(text, "  ")


def _row(name: str, n: str, missed: str, changes: Mapping[str, Spread]) -> str:
    r1, r2, gap = (change_words(changes[angle]) for angle in ANGLES)
    return f"  {name:<15}{n:>4} {missed:>6}  {r1:<15} {r2:<15} {gap}".rstrip()


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)
