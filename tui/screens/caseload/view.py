"""The caseload as rows: an overview of the muscle groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ....core.caseload.caseload import CAUTION, Caseload
from ....core.caseload.summary import StationSummary
from ....core.caseload.text import caseload_lines, station_lines
from ....core.caseload.words import change_words, choice_words, station_title, title_words
from ....core.tardieu.muscles import Muscle
from ...kit.form_paint import title_row
from ...kit.paint import Row, counted, fit, line, wrap
from ...kit.scroll import centred, pointer_row

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

ANGLE_NAMES = {"r1": "R1", "r2": "R2", "gap": "gap"}

_NAME, _COUNT, _CHANGE = 26, 8, 17


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
    named = f"{ANGLE_NAMES[angle]}, {counted(len(caseload.stations), 'muscle group')}"
    head = [title_row("caseload", named, width), *wrap(title_words(caseload), width)]
    head += wrap(choice_words(caseload, muscles), width)
    if not caseload.stations:
        return [*head, (), *wrap(NOTHING, width)]
    windows = _windows_for(caseload, width)
    names = "".join(f"{found[: _CHANGE - 1]:<{_CHANGE}}" for found in windows)
    titles = f"  {'muscle group':<{_NAME}}{'missed':>{_COUNT}}  {names}"
    head.append(fit(line(titles, "dim"), width))
    rows = [_row(station, angle, muscles, windows) for station in caseload.stations]
    room = height - len(head)
    top = centred(at, room, len(rows))
    seen = enumerate(rows[top : top + room], top)
    return [*head, *(pointer_row(text, place == at, width) for place, text in seen)]


def _windows_for(caseload: Caseload, width: int) -> list[str]:
    """Names of the windows after the treatment that fit."""
    after = [window.name for window in caseload.terms.windows if window.first > 0]
    return after[: max(1, (width - _NAME - _COUNT - 4) // _CHANGE + 1)]


def _row(
    station: StationSummary, angle: str, muscles: Mapping[str, Muscle], windows: Sequence[str]
) -> str:
    found = {one.window.name: one for one in station.windows}
    missed = sum(one.missed for one in station.windows if one.window.first > 0)
    changes = [change_words(found[name].changes[angle]) for name in windows]
    cells = "".join(f"{text:<{_CHANGE}}" for text in changes)
    return f"{station_title(station, muscles)[: _NAME - 1]:<{_NAME}}{missed:>{_COUNT}}  {cells}"


def lines_of(caseload: Caseload, at: int, muscles: Mapping[str, Muscle]) -> list[str]:
    """Everything about one muscle group, as lines."""
    return list(station_lines(caseload.stations[at], caseload, muscles))


def whole(caseload: Caseload, muscles: Mapping[str, Muscle]) -> list[str]:
    """The whole caseload, as lines."""
    return list(caseload_lines(caseload, muscles))
