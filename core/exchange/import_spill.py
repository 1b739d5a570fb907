"""Rows put aside while a file is read, so that its length does not decide the memory used.

Small files stay in memory. Of a large one the rows go to a temporary file without a name,
which only this process can read and which is gone when it ends; what stays in memory is a
number a row. For an encrypted shelf each row is sealed there with a key that is kept nowhere
but in the memory of this process, so that nothing plain touches the disk.
"""

from __future__ import annotations

import base64
import json
import os
import tempfile
import weakref
from array import array
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar, cast, overload

from .csv_rows import CsvRow
from .import_row import Refused

_IN_MEMORY = 1 << 20
"""bytes; about 8,000 rows."""

T = TypeVar("T")

_Kept = tuple[int, list[str], int, list[str] | None, str]
"""Line, cells, which columns, cells of the original, reason."""


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

    def put(self, row: CsvRow, reason: str = "") -> int:
        """Keep a row, and why it was refused if it was."""
        if row.columns not in self._columns:
            self._columns.append(row.columns)
        kind = self._columns.index(row.columns)
        place = self._file.seek(0, 2)
        kept = [row.line, row.cells, kind, row.original, reason]
        self._file.write(self._closed(place, json.dumps(kept).encode("ascii")) + b"\n")
        return place

    def get(self, place: int) -> tuple[CsvRow, str]:
        """Read back a row and the reason kept with it."""
        self._file.seek(place)
        kept = cast("_Kept", json.loads(self._opened(place, self._file.readline())))
        line, cells, kind, original, reason = kept
        as_it_was = None if original is None else tuple(original)
        return CsvRow(line, tuple(cells), self._columns[kind], as_it_was), reason

    def _closed(self, place: int, line: bytes) -> bytes:
        """Write a line as it is put aside, without a line break in it."""
        if not self._secret:
            return line
        from ..shelf.encryption.cipher import seal

        return base64.b64encode(seal(self._secret, b"row %d" % place, line))

    def _opened(self, place: int, line: bytes) -> bytes:
        if not self._secret:
            return line
        from ..shelf.encryption.cipher import unseal

        return unseal(self._secret, b"row %d" % place, base64.b64decode(line))


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
