"""The caseload as rows: an overview of the muscle groups."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

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
from ....core.text import counted, cut, padded, visible, width_of
from ...kit.form_paint import title_row
from ...kit.paint import Row, fit, line, wrap
from ...kit.scroll import centred, pointer_rows

ABOUT = (
    "Many patients at once: what changed since before their treatments, and who is missing. A "
    "treatment opens a cycle; the windows around it are in the settings. Of two sessions in one "
    "window, the one before the treatment too, the nearest to its middle counts.",
    "Changes are means in deg of stretch with their 95 % intervals, window minus before the "
    "treatment, and n, how many changes they are of: R1 and gap change only where there was a "
    "catch both times. Missed counts windows that are over without a session.",
    CAUTION,
)

NOTHING = (
    "No treated muscle group is among them. A treatment date in a patient's chart opens a cycle."
)

_NAME, _TITLE = 14, 16
"""Cells of an abbreviated name with its side, and of a window's name, at most."""


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
    columns = [_missed(caseload), *_changes(caseload, angle)]
    while len(columns) > 2 and _cells(columns) > width - 3 - _NAME:
        columns.pop()
    name = max(_NAME, width - 3 - _cells(columns))
    names = ["muscle group", *(_name(one, muscles, name) for one in caseload.stations)]
    titles, *rows = (
        f"{padded(text, name)} {''.join(cells)}"
        for text, *cells in zip(names, *columns, strict=True)
    )
    head.append(fit(line(f"  {titles}", "dim"), width))
    room = height - len(head)
    top = centred(at, room, len(rows))
    return [*head, *pointer_rows(rows[top : top + room], top, at, width)]


def _name(station: StationSummary, muscles: Mapping[str, Muscle], room: int) -> str:
    """Name a muscle group by its abbreviation where there is no room: the side is never cut."""
    title, muscle = station_title(station, muscles), muscles.get(station.muscle)
    if width_of(visible(title)) > room and muscle is not None:
        title = title.replace(muscle.name, muscle.abbreviation, 1)
    return visible(title)


def _cells(columns: Sequence[list[str]]) -> int:
    return sum(width_of(column[0]) for column in columns)


def _missed(caseload: Caseload) -> list[str]:
    """Make the column of the windows after a treatment that were missed, its title first."""
    counts = (
        sum(found.missed for found in one.windows if found.window.first > 0)
        for one in caseload.stations
    )
    return ["missed", *(f"{count:>6}" for count in counts)]


def _changes(caseload: Caseload, angle: str) -> Iterator[list[str]]:
    """Make a column for each window after a treatment: its name, then each change and its n."""
    for place, window in enumerate(caseload.terms.windows):
        if window.first > 0:
            found = [one.windows[place].changes[angle] for one in caseload.stations]
            texts = [cut(visible(window.name), _TITLE), *map(change_words, found)]
            counts = ["n", *(str(one.n) for one in found)]
            wide, most = (max(map(width_of, cells)) for cells in (texts, counts))
            pairs = zip(texts, counts, strict=True)
            yield [f"  {padded(text, wide)} {n:>{most}}" for text, n in pairs]


def lines_of(caseload: Caseload, at: int, muscles: Mapping[str, Muscle]) -> list[str]:
    """Everything about one muscle group, as lines below its title; then the whole caseload's."""
    _, *lines = station_lines(caseload.stations[at], caseload, muscles)
    lines += ["", *notes(caseload), *composite_words(caseload), "", KEPT]
    return [*lines, *(f"  {recorder_words(one)}" for one in caseload.recorders)]
