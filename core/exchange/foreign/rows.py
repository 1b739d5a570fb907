"""Rows of somebody else's table, brought into the form of the readings CSV by a mapping.

Each row is translated cell by cell and then judged by the same rules as a row of ours. What
cannot be translated is refused with its reason; the refused rows go to a file in the form of
the table they came from, so that it can be corrected and imported with the same mapping.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from typing import BinaryIO

from ...problem import Problem
from ...tardieu.angles import parse_angle
from ...tardieu.muscles import Muscle
from ...text import visible
from ..csv_rows import COLUMNS, OVERRIDE, REASON, UNSAID, CsvRow, stream_cells, written_rows
from ..import_row import Refused
from .mapping import WORDS, ForeignMap
from .wide import Key, by_station, station_cells
from .words import plain

_ANGLES = ("r1", "r2", "gap")
_NUMBERS = (*_ANGLES, "clonus_s", "pain")
_OURS = (*COLUMNS, OVERRIDE)


@dataclass(frozen=True, slots=True)
class ForeignTable:
    """Somebody else's table, opened; its rows are read once.

    Attributes:
        header: its columns, without a reason of our own at the end.
        map: how it is understood.
        unused: columns that the mapping leaves out.
    """

    header: tuple[str, ...]
    map: ForeignMap
    unused: tuple[str, ...]
    _muscles: Mapping[str, Muscle]
    _rows: Iterator[CsvRow | Problem]
    _places: Mapping[str, int]
    _wide: Mapping[Key, Mapping[str, int]]

    def rows(self) -> Iterator[CsvRow | Refused | Problem]:
        """Read the rows in our form; a Problem, always the last, says why it ends there."""
        width = len(self.header)
        for row in self._rows:
            if isinstance(row, Problem):
                yield row
                return
            cells = row.cells[:width] if len(row.cells) == width + 1 else row.cells
            there = CsvRow(row.line, cells, self.header, cells)
            if len(cells) != width:
                what = "too many" if len(cells) > width else "too few"
                yield Refused(there, f"{what} columns: {len(cells)}, wanted {width}")
                continue
            yield from self._stations(there) if self._wide else (self._translated(there),)

    def refused_lines(self, refused: Iterable[Refused]) -> Iterator[bytes]:
        """Write the file of refused rows: as they came, with the reason in a last column.

        A row of a wide table is there once, whatever of its stations was refused.
        """
        width = len(self.header)
        rows = (
            (*cells, *[""] * (width - len(cells)), "; ".join(dict.fromkeys(map(self._why, group))))
            for _, of_line in groupby(refused, lambda each: each.row.line)
            for group in [list(of_line)]
            for cells in [group[0].row.original or group[0].row.cells]
        )
        form = self.map.separator, self.map.encoding
        return written_rows(rows, (*self.header, REASON), *form)

    def _why(self, refused: Refused) -> str:
        """Say the reason, and of which station where that is not clear from the row."""
        ours = dict(zip(refused.row.columns, refused.row.cells, strict=False))
        named = f"{ours.get('muscle', '')} {ours.get('side', '')}".strip()
        return f"{named}: {refused.reason}" if self._wide and named else refused.reason

    def _stations(self, row: CsvRow) -> Iterator[CsvRow | Refused]:
        """Make the rows of ours that one row of a wide table makes."""
        empty = True
        for key, places in self._wide.items():
            cells = {value: row.cells[place] for value, place in places.items()}
            if all(plain(cell) in self.map.blank for cell in cells.values()):
                continue
            empty = False
            names = {value: self.header[place] for value, place in places.items()}
            yield self._translated(row, station_cells(key, cells), names)
        if empty:
            yield Refused(row, "no station has a value in this row")

    def _translated(
        self,
        row: CsvRow,
        station: Mapping[str, str] | None = None,
        names: Mapping[str, str] | None = None,
    ) -> CsvRow | Refused:
        cells = {target: row.cells[place] for target, place in self._places.items()}
        names = {**self.map.columns, **(names or {})}
        work = _Translation(self.map, self._muscles, {**cells, **(station or {})}, names)
        ours = work.run()
        if work.faults:
            return Refused(row, "; ".join(work.faults))
        return CsvRow(row.line, tuple(ours.get(name, "") for name in _OURS), _OURS, row.cells)


def open_table(
    file: BinaryIO, name: str, map_: ForeignMap, muscles: Mapping[str, Muscle]
) -> ForeignTable | Problem:
    """Read the header, and check that the mapping fits it.

    Args:
        file: the file.
        name: its name, for messages.
        map_: the mapping.
        muscles: all muscle groups by id.
    """
    rows = stream_cells(file, name, map_.separator, map_.encoding)
    first = next(rows, Problem(f"{name} line 1", "the file is empty"))
    if isinstance(first, Problem):
        return first
    header = tuple(cell.strip() for cell in first.cells)
    if header[-1] == REASON and REASON not in map_.columns.values():
        header = header[:-1]
    where = f"{name} line {first.line}"
    found: dict[str, int] = {}
    wanted = list(map_.columns.items())
    wanted += [(spot.words, column) for column, spot in map_.wide.items()]
    for target, column in wanted:
        there = [place for place, text in enumerate(header) if text == column.strip()]
        if len(there) != 1:
            times = "twice" if there else "not there"
            mend = f"{map_.name} names it as {target}; here are: " + ", ".join(map(repr, header))
            return Problem(where, f"the column {column!r} is {times}", mend)
        found[column] = there[0]
    unused = tuple(t for place, t in enumerate(header) if place not in set(found.values()))
    places = {target: found[column] for target, column in map_.columns.items()}
    wide = {
        key: {value: found[column] for value, column in values.items()}
        for key, values in by_station(map_.wide).items()
    }
    return ForeignTable(header, map_, unused, muscles, rows, places, wide)


@dataclass(slots=True)
class _Translation:
    """One row being translated; what is wrong with it is added up."""

    map: ForeignMap
    muscles: Mapping[str, Muscle]
    cells: dict[str, str]
    names: Mapping[str, str]
    faults: list[str] = field(default_factory=list[str])

    def run(self) -> dict[str, str]:
        """Translate the cells; returns ours by column."""
        cells = {name: self._unblank(text) for name, text in self.cells.items()}
        cells = {**self.map.fixed, **cells}
        if self.map.order:
            cells |= self._parted(cells.pop("combined", ""))
        no_catch = plain(cells.get("r1", "")) in self.map.no_catch
        if no_catch:
            cells["r1"] = ""
        for name in self.map.words:
            if cells.get(name):
                cells[name] = self._word(name, cells[name])
        for name in _NUMBERS:
            if cells.get(name):
                cells[name] = self._number(name, cells[name])
        cells |= self._when(cells)
        if any(cells.get(name) for name in _ANGLES) and not cells.get("scale"):
            cells["scale"] = self._scale(cells.get("muscle", ""))
        if cells.get("gap") and not self.faults:
            cells["r1"] = self._catch(cells)
        if no_catch and not cells.get("quality"):
            cells[OVERRIDE] = f"grade-missing: {UNSAID['grade-missing']}"
        return cells

    def _complain(self, name: str, text: str, why: str) -> None:
        header = self.names.get(name, self.names.get("combined", name))
        self.faults.append(f"{header} {visible(repr(text))}: {why}")

    def _unblank(self, text: str) -> str:
        return "" if plain(text) in self.map.blank else text.strip()

    def _parted(self, text: str) -> dict[str, str]:
        """Part a cell like 3/-25 into grade and angle."""
        if not text:
            return {}
        parts = [part.strip() for part in text.split(self.map.joint)]
        if len(parts) != 2:
            self._complain("combined", text, f"two values with {self.map.joint!r} between them")
            return {}
        return dict(zip(self.map.order, map(self._unblank, parts), strict=True))

    def _word(self, name: str, text: str) -> str:
        found = self.map.words[name].get(plain(text))
        if found is not None:
            return found
        if name == "quality":
            return self._number(name, text)
        if name in ("side", "fast_velocity", "muscle"):
            own = ("left", "right", "V2", "V3", *self.muscles)
            if text in own:
                return text
            self._complain(name, text, f"no word for it under [{WORDS[name]}] in {self.map.name}")
        return text

    def _number(self, name: str, text: str) -> str:
        """Write a whole number as we have it: unit and empty decimals taken off."""
        number = text.removesuffix(self.map.unit).strip() if self.map.unit else text
        whole, sign, decimals = number.partition(self.map.decimal)
        if sign and decimals.strip("0") == "" and decimals:
            number = whole
        if isinstance(parse_angle(number), Problem):
            why = "a whole number, digits 0-9"
            self._complain(
                name, text, f"no grade, see [grades], or {why}" if name == "quality" else why
            )
        return number

    def _when(self, cells: Mapping[str, str]) -> dict[str, str]:
        """Read date, time and offset."""
        day = self.map.date.read(cells.get("date", ""))
        if day is None:
            self._complain("date", cells.get("date", ""), f"a date as {self.map.date.text}")
            return {}
        clock = self._clock(cells.get("time", ""), day)
        try:
            when = datetime(day["year"], day["month"], day["day"], *clock, tzinfo=self.map.zone)
        except ValueError:
            self._complain("date", cells["date"], "there is no such date or time")
            return {}
        found = {"date": when.date().isoformat(), "time": when.time().isoformat("seconds")}
        if self.map.zone is not None:
            found["utc_offset"] = when.isoformat(timespec="seconds")[19:25]
        return found

    def _clock(self, text: str, day: Mapping[str, int]) -> tuple[int, int, int]:
        found: Mapping[str, int] | None = day
        if text:
            found = self.map.time.read(text)
            if found is None:
                self._complain("time", text, f"a time as {self.map.time.text}")
                return (0, 0, 0)
        return (found.get("hour", 0), found.get("minute", 0), found.get("second", 0))

    def _scale(self, muscle: str) -> str:
        if muscle in self.map.scales:
            return self.map.scales[muscle]
        if muscle in self.muscles:
            self.faults.append(f"{self.map.name} does not say under [scales] how {muscle} is read")
        return ""

    def _catch(self, cells: Mapping[str, str]) -> str:
        """Work out R1 in the row's scale from R2 and the difference of the two."""
        muscle = self.muscles.get(cells.get("muscle", ""))
        if not cells.get("r2"):
            self._complain("gap", cells["gap"], "R1 cannot be worked out without R2")
            return ""
        try:
            scale = muscle.scale(cells["scale"]) if muscle else None
        except KeyError:
            scale = None  # the rules for our own rows will say so
        if scale is None:
            return ""
        return str(scale.typed(scale.stretch(int(cells["r2"])) - int(cells["gap"])))
