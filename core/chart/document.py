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
import json
import math
import re
from dataclasses import dataclass
from sys import intern
from typing import Any, TypeGuard, cast

from ..text import visible
from .session import canonical

SCHEMA_VERSION = 5

WITH_ID = 5
"""Form from which a chart file names its chart."""

Json = dict[str, Any]
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

_SHARED = 60
"""Characters of texts worth sharing: positions and ids, not comments and sums."""

_LONGEST_NUMBER = 20
"""Digits of a whole number: the time of a file in ns has 19, and nothing else comes near it."""

_START = re.compile(r'"([0-9]{1,9})":(?=\{"body":)')


class NotWhole(ValueError):  # noqa: N818 - says what the file is
    """The bytes are not a chart file as it was written; the text says why."""


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
        exact: it is known that every document is Sound and every byte as it would be written.
    """

    tables: Tables
    damage: str = ""
    version: int = 0
    chart: str = ""
    exact: bool = False


class Sound(Json):
    """A document whose sum was looked at as it was read; see exact.py.

    Attributes:
        raw: the bytes of its body, as they lie in the file.
    """

    __slots__ = ("raw",)

    def __init__(self, document: Json, raw: bytes) -> None:
        super().__init__(document)
        self.raw = raw


def is_object(value: object) -> TypeGuard[Json]:
    """Check whether a parsed value is a JSON object."""
    return isinstance(value, dict)


def digest(value: Any) -> str:
    """Compute the SHA-256 of the one byte string of a JSON value, hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()


def own_hash(doc: Json) -> str:
    """Compute the hash that a signed document carries: over all it says but the hash itself."""
    return digest({**doc, "hash": ""})


def parse_json(data: bytes) -> Any:
    """Parse strict JSON: no NaN or infinity, no repeated key, bounded depth.

    Raises:
        NotWhole: when it is anything else.
    """
    try:
        return _DECODER.decode(data.decode("ascii"))
    except (ValueError, RecursionError) as error:
        raise NotWhole(f"it is not valid JSON ({type(error).__name__})") from error


def wrap(body: Json) -> Json:
    """Wrap a body into a document: the body with its checksum."""
    return {"body": body, "sum": digest(body)}


def body_of(document: object) -> Json | None:
    """Unwrap the body of a document, None when it is not what was written."""
    if type(document) is Sound:
        return document["body"]
    if not is_object(document) or document.keys() != {"body", "sum"}:
        return None
    body: object = document["body"]
    if not is_object(body) or document["sum"] != digest(body):
        return None
    return body


def render(tables: Tables, chart: str, version: int = SCHEMA_VERSION) -> bytes:
    """Write the bytes of a chart file.

    Args:
        tables: the documents.
        chart: the chart's id; an earlier form has no place for it.
        version: the form.
    """
    head: Json = {"schema_version": version, "sum": _manifest(version, chart, tables)}
    named = {"chart": chart} if version >= WITH_ID else {}
    return canonical({**tables, **head, **named}) + b"\n"


def parse(data: bytes, chart: str) -> Tables:
    """Read the tables of a chart file that is whole. Sums of documents are not checked.

    Args:
        data: the file.
        chart: id of the chart that it should be.

    Raises:
        NotWhole: when the file is not what was written, or that of another chart.
        TooNew: when it was written by a later version.
    """
    return _parsed(data, chart).tables


def _parsed(data: bytes, chart: str) -> Contents:
    """Read a chart file that is whole; raises like parse()."""
    return contents_of(parse_json(data), chart)


def contents_of(value: object, chart: str) -> Contents:
    """Take the tables out of a parsed chart file that is whole; raises like parse()."""
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


def read_contents(data: bytes, chart: str) -> Contents:
    """Read the tables of a chart file, or of what is left of it; none of another chart's.

    Args:
        data: the file.
        chart: id of the chart that it should be, "" where that is not known.

    Raises:
        TooNew: when it was written by a later version.
    """
    try:
        return _parsed(data, chart)
    except OtherChart as error:  # what it holds is sound, and of somebody else
        return Contents({}, str(error), chart=error.chart)
    except NotWhole as error:
        return Contents(_salvage(data), str(error))


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
            document, _ = _DECODER.raw_decode(text, match.end())
        except (ValueError, RecursionError):
            continue
        body = body_of(document)
        name = next((name for name, mark in _MARKS.items() if mark in (body or {})), "")
        if name:
            tables[name].setdefault(match.group(1), document)
    return tables


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a JSON number")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError(f"{text} is too large")
    return value


_KINDS = bytes.maketrans(b"0123456789,[-", b"0000000000:::")
_ENDLESS = b":" + b"0" * (_LONGEST_NUMBER + 1)


def may_be_endless(data: bytes) -> bool:
    """Whether a whole number in JSON may be too long; now and then a text looks like one."""
    return _ENDLESS in data.translate(_KINDS)


def _no_endless_number(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        raise ValueError("a whole number is too long")
    return int(text)


def _no_repeated_key(pairs: list[tuple[str, Any]]) -> Json:
    # The same few words are in every reading: kept once, a large chart takes a third less.
    found = {
        key: intern(value) if type(value) is str and len(value) <= _SHARED else value
        for key, value in pairs
    }
    if len(found) != len(pairs):
        raise ValueError("a key appears twice")
    return found


_DECODER = json.JSONDecoder(
    object_pairs_hook=_no_repeated_key,
    parse_constant=_no_constant,
    parse_float=_finite,
    parse_int=_no_endless_number,
)


def in_order(tables: Tables, name: str) -> list[tuple[str, object]]:
    """Order the documents of one table by number, i.e. as they were written."""
    documents = cast("dict[str, object]", tables.get(name, {}))
    return sorted(documents.items(), key=lambda item: place_of(item[0]))


def place_of(number: str) -> int:
    """Read the number of a document; 0 for a name that was never one."""
    return int(number) if number.isdecimal() else 0
