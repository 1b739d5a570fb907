"""Rows put aside while a file is read, so that its length does not decide the memory used.

Small files stay in memory. Of a large one the rows go to a temporary file without a name,
which only this process can read and which is gone when it ends; what stays in memory is a
number a row. For an encrypted shelf each row is sealed there with a key that is kept nowhere
but in the memory of this process, so that nothing plain touches the disk.
"""

from __future__ import annotations

import marshal
import os
import tempfile
import weakref
from array import array
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from operator import attrgetter
from typing import Any, TypeVar, overload

from ..tardieu.muscles import Muscle
from ..tardieu.reading import Override, Reading, Side
from .csv_rows import CsvRow
from .import_row import ParsedRow, Refused, Visit

_IN_MEMORY = 1 << 20
"""bytes; about 8,000 rows."""

T = TypeVar("T")

_SIZE = 4
"""Bytes that say how long what follows is."""

_Cells = tuple[str, ...]


class Spill:
    """Rows, each found again by the number that put() gave it.

    Args:
        sealed: encrypt what is put aside.
    """

    def __init__(self, sealed: bool = False) -> None:
        self._secret = os.urandom(32) if sealed else b""
        self._file = tempfile.SpooledTemporaryFile(_IN_MEMORY)  # noqa: SIM115 - see finalize
        weakref.finalize(self, self._file.close)
        self._columns: list[tuple[str, ...]] = []

    def put(self, row: CsvRow, reason: str = "", parsed: ParsedRow | None = None) -> int:
        """Keep a row, with why it was refused if it was, or what was read of it."""
        if row.columns not in self._columns:
            self._columns.append(row.columns)
        kind = self._columns.index(row.columns)
        place = self._file.seek(0, 2)
        visit = parsed.visit if parsed else None
        first = visit and (visit.started, visit.examiner, visit.recorder)
        read = _as_kept(parsed) if parsed else None
        rest = (row.line, row.cells, kind, row.original, reason, read)
        front = marshal.dumps(first)
        data = self._closed(place, _size(front) + front + marshal.dumps(rest))
        self._file.write(_size(data) + data)
        return place

    def get(self, place: int) -> tuple[CsvRow, str]:
        """Read back a row and the reason kept with it."""
        line, cells, kind, original, reason, _ = self._rest(place)
        return CsvRow(line, cells, self._columns[kind], original), reason

    def visit(self, place: int) -> Visit:
        """Read back the visit of a row that was kept with what was read of it."""
        data = self._data(place)
        return Visit(*marshal.loads(data[_SIZE:]))  # noqa: S302 - written by this process

    def parsed(self, place: int, visit: Visit, muscles: Mapping[str, Muscle]) -> ParsedRow:
        """Read back what was read of a row of this visit."""
        line, cells, kind, original, _, read = self._rest(place)
        row = CsvRow(line, cells, self._columns[kind], original)
        code, details, (muscle, side, posture, scale), rest, overrides = read
        let_stand = tuple(Override(*each) for each in overrides)
        where = (muscle, Side(side), posture, muscles[muscle].scale(scale))
        reading = Reading(*where, *rest, flags=(), overrides=let_stand)
        return ParsedRow(row, code, visit, reading, details)

    def _rest(self, place: int) -> tuple[int, _Cells, int, _Cells | None, str, Any]:
        """What put() keeps of a row behind its visit."""
        data = self._data(place)
        front = int.from_bytes(data[:_SIZE], "big")
        return marshal.loads(data[_SIZE + front :])  # noqa: S302 - as in visit()

    def _data(self, place: int) -> bytes:
        self._file.seek(place)
        length = int.from_bytes(self._file.read(_SIZE), "big")
        return self._opened(place, self._file.read(length))

    def _closed(self, place: int, data: bytes) -> bytes:
        """What is put aside of a row."""
        if not self._secret:
            return data
        from ..shelf.encryption.cipher import seal

        return seal(self._secret, b"row %d" % place, data)

    def _opened(self, place: int, data: bytes) -> bytes:
        if not self._secret:
            return data
        from ..shelf.encryption.cipher import unseal

        return unseal(self._secret, b"row %d" % place, data)


def _size(data: bytes) -> bytes:
    return len(data).to_bytes(_SIZE, "big")


_BEFORE_FLAGS = attrgetter(*[one.name for one in fields(Reading)][4:15])


def _as_kept(parsed: ParsedRow) -> tuple[Any, ...]:
    """What was read of a row, in plain values; the checks have not flagged it yet."""
    reading = parsed.reading
    station = (reading.muscle, reading.side.value, reading.posture, reading.scale.id)
    overrides = tuple((each.rule, each.reason) for each in reading.overrides)
    return (parsed.code, parsed.details, station, _BEFORE_FLAGS(reading), overrides)


class PutAside(Sequence[T]):
    """What was put aside, read back piece by piece when somebody asks for it.

    Args:
        places: where each piece is.
        read: gets the piece from its place.
    """

    def __init__(self, places: Sequence[int], read: Callable[[int], T]) -> None:
        self._places, self._read = places, read

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        if isinstance(index, slice):
            return tuple(map(self._read, self._places[index]))
        return self._read(self._places[index])


class RefusedRows:
    """Refused rows put aside one by one, to be read back in the order of the file."""

    def __init__(self, spill: Spill) -> None:
        self._spill = spill
        self._places: list[tuple[int, int]] = []

    def add(self, refused: Iterable[Refused]) -> None:
        """Put some more aside."""
        for each in refused:
            self._places.append((each.row.line, self._spill.put(each.row, each.reason)))

    def __len__(self) -> int:
        return len(self._places)

    def in_order(self) -> Sequence[Refused]:
        """Give all of them in the order of the file."""
        places = array("Q", (place for _, place in sorted(self._places)))
        return PutAside(places, lambda place: Refused(*self._spill.get(place)))
