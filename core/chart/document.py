"""The chart file as bytes: tables of documents, each with its checksum.

::

    {"chart": ID, "schema_version": 5, "sum": S, "patient": {"1": D}, "sessions": {"1": D}, ...}

Each D is ``{"body": {...}, "sum": SHA-256 of the body}``. The body is summed as the bytes that
lie in the file: it is written in one canonical form, and anything else is damage. S is the
SHA-256 over the form, the chart's id, the table names, the document numbers and their sums, so
that a document that was renumbered, moved or dropped is noticed too, and a file that was put in
the place of another chart's.

The forms before the fifth have no id; they are read as they are, and the next document added
makes form 5 of them. Form 1 is the same with amendments of version 1 and without links between
documents (links.py). Form 3 is form 2 with a table of changed details (details.py), form 4 is
form 3 with one of sessions withdrawn or moved (transfer.py).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, TypeGuard, cast

from ..text import visible
from .session import canonical
from .strict_json import Json, NotWhole, parse_at, parse_json
from .unread import AT_ONCE, Unread, split

SCHEMA_VERSION = 5

WITH_ID = 5
"""Form from which a chart file names its chart."""

Tables = dict[str, dict[str, Any]]
"""Table name -> document number as text -> document."""

# The field by which a document is recognised when the file around it cannot be read.
_MARKS = {
    "patient": "code",
    "details": "details",  # before amendments, as it has a reason too
    "transfers": "session",  # before amendments as well
    "sessions": "checklist",
    "amendments": "reason",
    "events": "kind",
}
TABLES = tuple(_MARKS)

_START = re.compile(r'"([0-9]{1,9})":(?=\{"body":)')


class OtherChart(NotWhole):
    """The bytes are the file of another chart.

    Attributes:
        chart: its id.
    """

    def __init__(self, chart: str) -> None:
        super().__init__(f"it is the file of another chart, {visible(chart)}")
        self.chart = chart


class TooNew(ValueError):  # noqa: N818
    """The file was written by a later version of the program."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What could be read from a chart file.

    Attributes:
        tables: the documents, sums not yet looked at.
        damage: why the file as a whole is not what was written, "" when it is.
        version: form in which it was written, 0 where that is not known.
        chart: id of the chart that it says it is, "" in a form without one or where it is
            not known; another one's is the damage.
    """

    tables: Tables
    damage: str = ""
    version: int = 0
    chart: str = ""


def is_object(value: object) -> TypeGuard[Json]:
    """Check whether a parsed value is a JSON object."""
    return isinstance(value, dict)


def digest(value: Any) -> str:
    """Compute the SHA-256 of the one byte string of a JSON value, hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()


def own_hash(doc: Json) -> str:
    """Compute the hash that a signed document carries: over all it says but the hash itself."""
    return digest({**doc, "hash": ""})


def wrap(body: Json) -> Json:
    """Wrap a body into a document: the body with its checksum."""
    return {"body": body, "sum": digest(body)}


def body_of(document: object) -> Json | None:
    """Unwrap the body of a document, None when it is not what was written.

    Raises:
        Damaged: when it was not read yet and cannot be understood.
    """
    if not is_object(document) or document.keys() != {"body", "sum"}:
        return None
    body: object = document["body"]
    if isinstance(body, Unread):
        return body.body()
    if not is_object(body) or document["sum"] != digest(body):
        return None
    return body


def unread_of(document: object) -> Unread | None:
    """Find the body of a document that was not read, None when it was."""
    body: object = document.get("body") if is_object(document) else None
    return body if isinstance(body, Unread) else None


def head_of(document: object) -> Json:
    """Find what names a document: its body as stated, of an unread one what was read of it."""
    if waiting := unread_of(document):
        return waiting.head
    body: object = document.get("body") if is_object(document) else None
    return body if is_object(body) else {}


def render(tables: Tables, chart: str, version: int = SCHEMA_VERSION) -> bytes:
    """Write the bytes of a chart file.

    Args:
        tables: the documents.
        chart: the chart's id; an earlier form has no place for it.
        version: the form.
    """
    pieces: list[bytes] = []
    _write({**tables, **_head(version, _manifest(version, chart, tables), chart)}, pieces)
    return b"".join((*pieces, b"\n"))


def _head(version: int, total: str, chart: str) -> Json:
    """What a chart file says beside its tables."""
    named = {"chart": chart} if version >= WITH_ID else {}
    return {"schema_version": version, "sum": total, **named}


def documents_as_bytes(tables: Tables) -> Iterator[tuple[str, str, bytes]]:
    """Write each document by itself: table, number and bytes."""
    for name, table in tables.items():
        for number, document in table.items():
            pieces: list[bytes] = []
            _write(document, pieces, depth=1)
            yield name, number, b"".join(pieces)


def file_of_bytes(
    tables: Mapping[str, Mapping[str, bytes]], total: str, chart: str, version: int
) -> bytes:
    """Write the bytes of a chart file of which each document is written already.

    Args:
        tables: the bytes of each document.
        total: the checksum over the documents, as it was written.
        chart: the chart's id.
        version: the form.
    """
    parts = {name: _joined(table) for name, table in tables.items()}
    parts |= {name: canonical(value) for name, value in _head(version, total, chart).items()}
    return _joined(parts) + b"\n"


def _joined(parts: Mapping[str, bytes]) -> bytes:
    rows = (canonical(name) + b":" + parts[name] for name in sorted(parts))
    return b"{" + b",".join(rows) + b"}"


def sum_of(contents: Contents) -> str:
    """Compute the checksum over the documents of a chart file that is whole."""
    return _manifest(contents.version, contents.chart, contents.tables)


def _write(value: object, pieces: list[bytes], depth: int = 3) -> None:
    """Write the canonical form of a file, table, document or body; an unread one as it lies.

    In pieces that are put together once: a chart of years is megabytes of unread bodies.
    """
    if isinstance(value, Unread):
        pieces.append(value.raw)
    elif depth and is_object(value):
        before = b"{"
        for name in sorted(value):
            pieces += (before, canonical(name), b":")
            _write(value[name], pieces, depth - 1)
            before = b","
        pieces.append(b"}" if value else b"{}")
    else:
        pieces.append(canonical(value))


def parse(data: bytes, chart: str, on_demand: bool = False) -> Tables:
    """Read the tables of a chart file that is whole. Sums of documents are not checked.

    Args:
        data: the file.
        chart: id of the chart that it should be.
        on_demand: bodies of sessions that are found sound may stay unread.

    Raises:
        NotWhole: when the file is not what was written, or that of another chart.
        TooNew: when it was written by a later version.
    """
    return _read(data, chart, on_demand).tables


def read_contents(data: bytes, chart: str, on_demand: bool = False) -> Contents:
    """Read the tables of a chart file, or of what is left of it; none of another chart's.

    Args:
        data: the file.
        chart: id of the chart that it should be, "" where that is not known.
        on_demand: as for parse().

    Raises:
        TooNew: when it was written by a later version.
    """
    try:
        return _read(data, chart, on_demand)
    except OtherChart as error:  # what it holds is sound, and of somebody else
        return Contents({}, str(error), chart=error.chart)
    except NotWhole as error:
        return Contents(_salvage(data), str(error))


def _read(data: bytes, chart: str, on_demand: bool) -> Contents:
    """Read a chart file that is whole; raises like parse()."""
    if on_demand and not AT_ONCE.get():
        rest, waiting = split(data)
        with suppress(NotWhole):  # the full reading says what is wrong
            contents = _parsed(rest, chart)
            if _put_back(waiting, contents.tables.get("sessions", {})):
                return contents
    return _parsed(data, chart)


def _put_back(waiting: Mapping[str, Unread], documents: Json) -> bool:
    """Put unread bodies where they were taken out; False where one was taken from elsewhere."""
    for number, unread in waiting.items():
        document: object = documents.get(number)
        if not is_object(document) or document.get("body") != {}:
            return False
        document["body"] = unread
    return True


def _parsed(data: bytes, chart: str) -> Contents:
    """Parse a chart file that is whole; raises like parse()."""
    value = parse_json(data)
    if not is_object(value):
        raise NotWhole("it is not a chart")
    version, total = value.pop("schema_version", None), value.pop("sum", None)
    named: object = value.pop("chart", "") if type(version) is int and version >= WITH_ID else ""
    if not all(is_object(table) for table in value.values()):
        raise NotWhole("it is not made of tables")
    if not isinstance(named, str) or total != _manifest(version, named, value):
        raise NotWhole("a document is missing, added, renumbered or has another checksum")
    if type(version) is not int or not 1 <= version <= SCHEMA_VERSION:
        raise TooNew(f"it was written in form {version}, this program knows form {SCHEMA_VERSION}")
    if version >= WITH_ID and chart and named != chart:
        raise OtherChart(named)
    return Contents(value, version=version, chart=named)


def _manifest(version: object, chart: str, tables: Tables) -> str:
    sums = {
        name: {
            number: document.get("sum") if is_object(document) else None
            for number, document in table.items()
        }
        for name, table in tables.items()
    }
    return digest([version, chart, sums] if chart else [version, sums])


def _salvage(data: bytes) -> Tables:
    """Find documents one by one, wherever they are; those with a wrong sum are left out.

    A quote inside a text is always written with a backslash, so a match is never one.
    """
    text = data.decode("ascii", errors="replace")
    tables: Tables = {name: {} for name in TABLES}
    for match in _START.finditer(text):
        try:
            document, _ = parse_at(text, match.end())
        except (ValueError, RecursionError):
            continue
        body = body_of(document)
        name = next((name for name, mark in _MARKS.items() if mark in (body or {})), "")
        if name:
            tables[name].setdefault(match.group(1), document)
    return tables


def in_order(tables: Tables, name: str) -> list[tuple[str, object]]:
    """Order the documents of one table by number, i.e. as they were written."""
    documents = cast("dict[str, object]", tables.get(name, {}))
    return sorted(documents.items(), key=lambda item: place_of(item[0]))


def place_of(number: str) -> int:
    """Read the number of a document; 0 for a name that was never one."""
    return int(number) if number.isdecimal() else 0
