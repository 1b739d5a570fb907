"""Rows put aside while a file is read, so that its length does not decide the memory used.

Small files stay in memory. Of a large one the rows go to a temporary file without a name,
which only this process can read and which is gone when it ends; what stays in memory is at
most a number a row. For an encrypted shelf the rows are sealed there with a key that is kept
nowhere but in the memory of this process, so that nothing plain touches the disk.
"""

from __future__ import annotations

import marshal
import os
import tempfile
import weakref
from array import array
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar, overload

from .csv_rows import CsvRow
from .import_row import Refused

LONGEST_RUN = 256
"""Rows that are put aside together at most."""

_IN_MEMORY = 1 << 20
"""bytes; about 8,000 rows."""

_SIZE = 4
"""Bytes that say how long what follows is."""

T = TypeVar("T")


class Spill:
    """Runs of rows; each row, and by its last one each run, is found again by a number.

    Args:
        sealed: encrypt what is put aside.
    """

    def __init__(self, sealed: bool = False) -> None:
        self._secret = os.urandom(32) if sealed else b""
        self._file = tempfile.SpooledTemporaryFile(_IN_MEMORY)  # noqa: SIM115 - see finalize
        weakref.finalize(self, self._file.close)
        self._columns: list[tuple[str, ...]] = []

    def put(self, rows: Sequence[CsvRow], said: Any) -> int:
        """Keep some rows of the same columns, with what is said of all of them in plain values."""
        columns = rows[0].columns
        if columns not in self._columns:
            self._columns.append(columns)
        kept = [(row.line, row.cells, row.original) for row in rows]
        front = marshal.dumps(said)
        back = marshal.dumps((self._columns.index(columns), kept))
        place = self._file.seek(0, 2)
        data = self._closed(place, _size(front) + front + back)
        self._file.write(_size(data) + data)
        return place * LONGEST_RUN + len(rows) - 1

    def said(self, run: int) -> Any:
        """Read back what was said of a run."""
        data = self._data(run)
        return marshal.loads(data[_SIZE:])  # noqa: S302 - written by this process

    def get(self, run: int) -> tuple[list[CsvRow], Any]:
        """Read back the rows of a run, and what was said of them."""
        data = self._data(run)
        front = _SIZE + int.from_bytes(data[:_SIZE], "big")
        said = marshal.loads(data[_SIZE:front])  # noqa: S302 - as in said()
        kind: int
        kind, kept = marshal.loads(data[front:])  # noqa: S302 - as in said()
        columns = self._columns[kind]
        return [CsvRow(line, cells, columns, original) for line, cells, original in kept], said

    def row(self, number: int) -> CsvRow:
        """Read back one row."""
        return self.get(number)[0][number % LONGEST_RUN]

    def _data(self, number: int) -> bytes:
        place = number // LONGEST_RUN
        self._file.seek(place)
        length = int.from_bytes(self._file.read(_SIZE), "big")
        return self._opened(place, self._file.read(length))

    def _closed(self, place: int, data: bytes) -> bytes:
        """What is put aside of a run."""
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


def numbers_of(run: int) -> range:
    """List the numbers of the rows of a run."""
    return range(run - run % LONGEST_RUN, run + 1)


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
            self._places.append((each.row.line, self._spill.put([each.row], each.reason)))

    def __len__(self) -> int:
        return len(self._places)

    def in_order(self) -> Sequence[Refused]:
        """Give all of them in the order of the file."""
        places = array("Q", (place for _, place in sorted(self._places)))
        return PutAside(places, self._refused)

    def _refused(self, place: int) -> Refused:
        (row,), reason = self._spill.get(place)
        return Refused(row, reason)
