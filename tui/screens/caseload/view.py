"""The caseload as rows: an overview of the muscle groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ....core.caseload.caseload import CAUTION, Caseload
from ....core.caseload.summary import ANGLES, StationSummary
from ....core.caseload.text import KEPT, station_lines
from ....core.caseload.words import (
    change_words,
    choice_words,
    composite_words,
    notes,
    recorder_words,
    station_title,
    title_words,
)
from ....core.tardieu.muscles import Muscle
from ...kit.form_paint import title_row
from ...kit.paint import Row, counted, fit, line, wrap
from ...kit.scroll import centred, pointer_rows

ABOUT = (
    "Many patients at once: what changed since before their treatments, and who is missing. A "
    "treatment opens a cycle; the windows around it are in the settings. Of two sessions in one "
    "window the nearest to its middle counts.",
    "Changes are means in deg of stretch with their 95 % intervals, window minus before the "
    "treatment. Missed counts windows that are over without a session.",
    CAUTION,
)

NOTHING = (
    "No treated muscle group is among them. A treatment date in a patient's chart opens a cycle."
)

_NAME, _COUNT, _CHANGE = 20, 8, 16
"""Cells of a row: its name at least, missed, and each change."""


def overview(
    caseload: Caseload,
    muscles: Mapping[str, Muscle],
    shown: tuple[str, int],
    width: int,
    height: int,
) -> list[Row]:
    """Paint the overview.

    Args:
        caseload: the caseload.
        muscles: all muscle groups by id.
        shown: angle whose changes are shown, and the chosen row.
        width: cells.
        height: rows.
    """
    angle, at = shown
    named = f"{ANGLES[angle]}, {counted(len(caseload.stations), 'muscle group')}"
    head = [title_row("caseload", named, width), *wrap(title_words(caseload), width)]
    head += wrap(choice_words(caseload, muscles), width)
    if not caseload.stations:
        return [*head, (), *wrap(NOTHING, width)]
    after = [window.name for window in caseload.terms.windows if window.first > 0]
    windows = after[: max(1, (width - _NAME - _COUNT - 2) // _CHANGE)]
    name = width - _COUNT - 2 - len(windows) * _CHANGE
    names = "".join(f"{found[: _CHANGE - 1]:<{_CHANGE}}" for found in windows)
    titles = f"  {'muscle group':<{name - 2}}{'missed':>{_COUNT - 2}}  {names}"
    head.append(fit(line(titles, "dim"), width))
    rows = [
        f"{_name(one, muscles, name - 3):<{name - 2}}{_numbers(one, angle, windows)}"
        for one in caseload.stations
    ]
    room = height - len(head)
    top = centred(at, room, len(rows))
    return [*head, *pointer_rows(rows[top : top + room], top, at, width)]


def _name(station: StationSummary, muscles: Mapping[str, Muscle], room: int) -> str:
    """Name a muscle group by its abbreviation where there is no room: the side is never cut."""
    title, muscle = station_title(station, muscles), muscles.get(station.muscle)
    if len(title) <= room or muscle is None:
        return title
    return title.replace(muscle.name, muscle.abbreviation, 1)


def _numbers(station: StationSummary, angle: str, windows: Sequence[str]) -> str:
    found = {one.window.name: one for one in station.windows}
    missed = sum(one.missed for one in station.windows if one.window.first > 0)
    changes = [change_words(found[name].changes[angle]) for name in windows]
    return f"{missed:>{_COUNT - 2}}  " + "".join(f"{text:<{_CHANGE}}" for text in changes)


def lines_of(caseload: Caseload, at: int, muscles: Mapping[str, Muscle]) -> list[str]:
    """Everything about one muscle group, as lines below its title; then the whole caseload's."""
    _, *lines = station_lines(caseload.stations[at], caseload, muscles)
    lines += ["", *notes(caseload), *composite_words(caseload), "", KEPT]
    return [*lines, *(f"  {recorder_words(one)}" for one in caseload.recorders)]
