"""The readings of a shelf as tables for statistics: pandas or polars, whichever is installed.

Neither comes with the program. A table has the columns that ``limbscribe export`` writes, with
numbers as numbers, and a missing value where nothing was measured::

    from limbscribe.core.exchange.frames import read_shelf

    frames = read_shelf("shelf")
    frames.readings.groupby("muscle")["gap"].median()
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

from ..chart.chart import Chart
from ..chart.events import in_date_order, standing
from ..chart.unread import everything_at_once
from ..config.catalogue import load_catalogue
from ..errors import ShelfError
from ..shelf import Shelf
from ..shelf.encryption.key import ShelfKey
from ..shelf.places import where_is
from ..tardieu.muscles import Muscle
from .csv_rows import COLUMNS, OVERRIDE
from .derived import OF_READING, OF_SESSION, derived_rows, session_cells_derived
from .events_csv import COLUMNS as EVENT_COLUMNS
from .events_csv import event_row

LIBRARIES = ("pandas", "polars")
"""Looked for in this order."""

_NUMBERS = {
    *("r1", "r2", "quality", "clonus_s", "pain", "r1_stretch", "r2_stretch", "gap", "shortfall"),
    *("speed_deg_s", "age", "treatment_days"),
}


class Frames(NamedTuple):
    """Tables of a library, DataFrames of it.

    Attributes:
        readings: a row for each reading of a closed session as amendments leave it: the columns
            of the readings CSV, ``override``, those of derived.OF_READING (angles in deg, speed
            in deg/s, clonus in s), and those of derived.OF_SESSION (age in completed years).
        events: a row for each treatment date, the columns of the events CSV.
        unread: codes of charts that could not be read whole, with what is wrong with them.
    """

    readings: Any
    events: Any
    unread: dict[str, str]


def read_shelf(path: str | Path, library: str = "", key: ShelfKey | None = None) -> Frames:
    """Read the closed sessions and the events of a shelf.

    Args:
        path: folder of the shelf, or the address of one on a server.
        library: "pandas" or "polars"; "" takes the first that is installed.
        key: of an encrypted shelf, see shelf.encryption.

    Raises:
        FileNotFoundError: when there is no such folder.
        ImportError: when no library is installed, or not the one named.
        ShelfError: when the shelf is encrypted and no key is given, or cannot be read.
    """
    make = _maker(library)
    place = where_is(str(path))
    if isinstance(place, Path) and not place.is_dir():
        raise FileNotFoundError(f"there is no shelf at {place}")
    shelf, muscles = Shelf(place, key), load_catalogue().muscles
    readings: list[Sequence[str]] = []
    events: list[Sequence[str]] = []
    unread: dict[str, str] = {}
    for entry in sorted(shelf.charts(), key=lambda entry: (entry.code, entry.id)):
        try:
            with everything_at_once():
                chart = shelf.load(entry.id)
        except ShelfError as error:
            unread[entry.code] = str(error)
            continue
        if chart.problems:
            unread[entry.code] = "; ".join(map(str, chart.problems))
        readings += _readings(chart, muscles)
        code = chart.patient.code
        done = ((event, None) for event in in_date_order(standing(chart.events)))
        events += [event_row(code, row, EVENT_COLUMNS).cells for row in done]
    columns = (*COLUMNS, OVERRIDE, *OF_READING, *OF_SESSION)
    return Frames(make(columns, readings), make(EVENT_COLUMNS, events), unread)


def _readings(chart: Chart, muscles: Mapping[str, Muscle]) -> Iterable[Sequence[str]]:
    for session in chart.by_date:
        of_session = session_cells_derived(chart, session)
        for row in derived_rows(chart, session, (*COLUMNS, OVERRIDE), muscles):
            yield (*row, *of_session)


_Make = Callable[[Sequence[str], Sequence[Sequence[str]]], Any]


def _maker(library: str) -> _Make:
    """Find what makes a DataFrame of columns and rows of cells."""
    if library not in ("", *LIBRARIES):
        raise ImportError(f"{library!r} is not one of {', '.join(LIBRARIES)}")
    found = library or next((name for name in LIBRARIES if find_spec(name)), "")
    if not found:
        raise ImportError("pandas or polars is needed: pip install pandas")
    # Neither is a dependency, so neither has types here.
    module: Any = import_module(found)

    def make(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Any:
        cells = {
            name: [_value(name, row[place]) for row in rows] for place, name in enumerate(columns)
        }
        if found == "polars":
            types = {name: module.Int64 if name in _NUMBERS else module.String for name in columns}
            return module.DataFrame(cells, schema=types)
        types = {name: "Int64" if name in _NUMBERS else "string" for name in columns}
        return module.DataFrame(cells).astype(types)

    return make


def _value(name: str, cell: str) -> int | str | None:
    if name in _NUMBERS:
        return int(cell) if cell else None
    return cell or None
