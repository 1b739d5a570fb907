"""What stays of an erased chart: a record without content, so that it is not brought back.

``erased.json`` holds one row for each erased chart. The patient code is not in it, only its
scrypt hash under the shelf's own salt: whoever has the code can ask whether it was erased,
and who has not must pay scrypt for every guess. Codes are short, so this slows a search
down and cannot prevent one; the file stays as private as the charts.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any

from ..chart.document import Json, NotWhole, digest, is_object, parse_json
from ..chart.ids import chart_id_of
from ..chart.session import canonical
from ..errors import Damaged
from ..typed import checked
from . import files
from .files import Folder

ERASED = "erased.json"
SCHEMA_VERSION = 1

COST = (1 << 15, 8, 1)
"""scrypt n, r and p: 32 MiB and some tens of milliseconds for each code asked about."""

_MOST_COST = (1 << 17, 8, 4)
_MAX_MEMORY = 256 << 20


@dataclass(frozen=True, slots=True)
class Tombstone:
    """One erased chart.

    Attributes:
        chart: the chart's random id.
        salt: hexadecimal, one for all charts erased on one shelf.
        cost: scrypt n, r, p.
        hash: scrypt of the patient code, hexadecimal.
        at: ISO 8601 local time with its UTC offset.
        who: who erased it.
        lifted: "" while it holds, else time and name of who allowed the code again.
        files: what is still to be removed, (folder parts ..., name); () when all is done.
    """

    chart: str
    salt: str
    cost: tuple[int, int, int]
    hash: str
    at: str
    who: str
    lifted: str = ""
    files: tuple[tuple[str, ...], ...] = ()

    @property
    def holds(self) -> bool:
        """Whether the patient is not to come back unasked."""
        return not self.lifted


def read_tombstones(shelf: Folder) -> tuple[Tombstone, ...]:
    """The tombstones of a shelf, none when nothing was ever erased.

    Raises:
        Damaged: when the file is not what was written.
        OSError: when it cannot be read.
    """
    if not files.exists(shelf, ERASED):
        return ()
    try:
        return parse_tombstones(files.read(shelf, ERASED))
    except NotWhole as error:
        raise Damaged(
            f"The record of erased patients, {ERASED}, is damaged ({error}): nothing was "
            "changed, move it elsewhere and restore a backup, which brings its record along"
        ) from error


def write_tombstones(shelf: Folder, tombstones: Iterable[Tombstone]) -> None:
    """Replace the tombstones of a shelf."""
    files.replace(shelf, ERASED, render_tombstones(tombstones))


def render_tombstones(tombstones: Iterable[Tombstone]) -> bytes:
    """The bytes of the file."""
    rows = [asdict(tombstone) for tombstone in tombstones]
    doc: Json = {"schema_version": SCHEMA_VERSION, "erased": rows}
    return canonical({**doc, "sum": digest(doc)}) + b"\n"


def parse_tombstones(data: bytes) -> tuple[Tombstone, ...]:
    """The tombstones in the bytes of the file.

    Raises:
        NotWhole: when they are not what was written.
    """
    doc = parse_json(data)
    if not is_object(doc):
        raise NotWhole("it is no list of erased charts")
    total = doc.pop("sum", None)
    if total != digest(doc) or doc.get("schema_version") != SCHEMA_VERSION:
        raise NotWhole("it does not match its checksum")
    try:
        found = tuple(_tombstone(row) for row in doc["erased"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotWhole(f"it cannot be understood ({type(error).__name__})") from error
    if render_tombstones(found) != data:
        raise NotWhole("it is not in the form in which it was written")
    return found


def _tombstone(row: Json) -> Tombstone:
    places = tuple(tuple(place) for place in row["files"])
    said: Json = {**row, "cost": tuple(row["cost"]), "files": places}
    found = checked(Tombstone(**said))
    if not all(0 < x <= most for x, most in zip(found.cost, _MOST_COST, strict=True)):
        raise ValueError("not a cost")
    if chart_id_of(found.chart, "") is None or not all(map(_is_place, found.files)):
        raise ValueError("not a chart")
    bytes.fromhex(found.salt)
    return found


def _is_place(place: tuple[str, ...]) -> bool:
    """Whether a path stays below the shelf's folder."""
    return bool(place) and all(part and "/" not in part and part != ".." for part in place)


def salt_of(tombstones: Iterable[Tombstone]) -> str:
    """The shelf's salt: that of its first tombstone, else a new one."""
    return next((tombstone.salt for tombstone in tombstones), os.urandom(16).hex())


def hash_code(code: str, salt: str, cost: tuple[int, int, int]) -> str:
    """Scrypt of a patient code, hexadecimal."""
    n, r, p = cost
    made = hashlib.scrypt(
        code.encode(), salt=bytes.fromhex(salt), n=n, r=r, p=p, maxmem=_MAX_MEMORY, dklen=32
    )
    return made.hex()


class Graveyard:
    """Tombstones, asked by chart or by code; each code is hashed once.

    Attributes:
        tombstones: all of them, lifted ones too.
    """

    def __init__(self, tombstones: Iterable[Tombstone]) -> None:
        self.tombstones = tuple(tombstones)
        self._hashes: dict[tuple[Any, ...], str] = {}

    def of_chart(self, chart_id: str) -> Tombstone | None:
        """The tombstone of a chart, when it holds."""
        return next((t for t in self.tombstones if t.holds and t.chart == chart_id), None)

    def of_code(self, code: str) -> tuple[Tombstone, ...]:
        """The tombstones of a patient code that hold."""
        return tuple(t for t in self.tombstones if t.holds and self._is(t, code))

    def lift(self, code: str, words: str) -> Graveyard:
        """The same with those of one patient code lifted."""
        lifted = self.of_code(code)
        return Graveyard(replace(t, lifted=words) if t in lifted else t for t in self.tombstones)

    def _is(self, tombstone: Tombstone, code: str) -> bool:
        key = (code, tombstone.salt, tombstone.cost)
        if key not in self._hashes:
            self._hashes[key] = hash_code(*key)
        return self._hashes[key] == tombstone.hash
