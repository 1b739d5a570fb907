"""A chart file read for whoever looks at all of them: sums and form in one pass.

A file is nearly always byte for byte what would be written of it again. Then it can be parsed
the quick way: no key appears in it twice, and the bytes of each body are those that lie in the
file. So one writing of the bodies shows that all is in form and gives every sum. Whatever is
not so is read the slow way, which says what is wrong.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from hashlib import sha256
from itertools import chain
from operator import itemgetter
from typing import Any

from .chart import closed_session_from_doc
from .document import (
    Contents,
    Json,
    NotWhole,
    Sound,
    contents_of,
    is_object,
    may_be_endless,
    read_contents,
)
from .links import FOLLOWS
from .session import Session

_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
)


def read_exactly(data: bytes, chart: str) -> Contents:
    """Read what read_contents() reads, with every sum looked at.

    The same few words in many readings are not kept once, so let go of it soon.

    Args:
        data: the file.
        chart: id of the chart that it should be.

    Raises:
        TooNew: when it was written by a later version.
    """
    try:
        value: object = None if may_be_endless(data) else json.loads(data.decode("ascii"))
        if is_object(value) and _written_with_sums(value) == data:
            return replace(contents_of(value, chart), exact=True)
    except (ValueError, TypeError, RecursionError, NotWhole):
        pass
    return read_contents(data, chart)


def _written(value: Any) -> bytes:
    """Write what session.canonical() writes, of a value that was parsed, so without circles."""
    return _ENCODER.encode(value).encode("ascii")


def _written_with_sums(value: Json) -> bytes:
    """Write a parsed chart file again; each document in it becomes a Sound one.

    Raises:
        ValueError: when a document is none, or does not match its sum.
    """
    parts: list[bytes] = []
    for name in sorted(value):
        table: object = value[name]
        written = _table(table) if is_object(table) else _written(table)
        parts.append(_written(name) + b":" + written)
    return b"{" + b",".join(parts) + b"}\n"


def _table(table: Json) -> bytes:
    rows: list[bytes] = []
    for number in sorted(table):
        document: object = table[number]
        if not is_object(document) or document.keys() != {"body", "sum"}:
            raise ValueError("no document")
        raw = _written(document["body"])
        total = sha256(raw).hexdigest()
        if document["sum"] != total or not is_object(document["body"]):
            raise ValueError("not what was written")
        table[number] = Sound(document, raw)
        rows.append(b'%b:{"body":%b,"sum":"%b"}' % (_written(number), raw, total.encode()))
    return b"{" + b",".join(rows) + b"}"


class Outlines:
    """Reads closed sessions for whoever does not need their readings.

    Whether a document can be understood depends on the keys and the types in it and on few
    words. Where all of these were in sessions that were read in full, nothing new is learnt by
    doing that once more.
    """

    def __init__(self) -> None:
        self._understood: set[tuple[object, ...]] = set()

    def session(self, body: Json) -> Session:
        """The session, without items and readings where it is known that they are sound.

        Raises:
            KeyError, TypeError, ValueError: when it is not a closed session.
        """
        forms = _forms(body)
        if not forms or not forms <= self._understood:
            made = closed_session_from_doc(body)
            self._understood |= forms
            return made
        empty: list[Json] = []
        checklist: Json = {**body["checklist"], "items": empty}
        return closed_session_from_doc({**body, "checklist": checklist, "readings": empty})


_INSIDE = tuple(map(itemgetter, ("scale", "flags", "overrides", "r1_tries", "r2_tries", "side")))


def _forms(body: Json) -> set[tuple[object, ...]]:
    """Keys and types of all that is in a session, and the words that must be the right ones.

    Nothing for what is no session at first glance.
    """
    try:
        checklist, readings = body["checklist"], body["readings"]
        scales, flags, overrides, r1, r2, sides = (list(map(of, readings)) for of in _INSIDE)
        parts: dict[str, Iterable[Json]] = {
            "session": [body],
            "checklist": [checklist],
            "conditions": [body["conditions"]],
            "seal": [body["seal"]],
            "items": checklist["items"],
            "readings": readings,
            "scales": scales,
            "flags": chain.from_iterable(flags),
            "overrides": chain.from_iterable(overrides),
        }
        forms: set[tuple[object, ...]] = {
            (name, *doc, *map(type, doc.values())) for name, docs in parts.items() for doc in docs
        }
        forms |= {("r1", each) for each in map(type, chain.from_iterable(r1))}
        forms |= {("r2", each) for each in map(type, chain.from_iterable(r2))}
        forms |= {("side", side) for side in (*sides, checklist["first_side"])}
        return forms | {("slope", scale["slope"]) for scale in scales}
    except (KeyError, TypeError, AttributeError):
        return set()


def signed_as_it_is(body: Json, raw: bytes) -> bool:
    """Check whether the body of a closed session is, byte for byte, what its seal signed.

    That it is not says little: session.seal_holds() looks at what it means.
    """
    seal = body["seal"]
    sealed = b'"seal":' + _written(seal)
    follows = b'"follows":' + _written(body[FOLLOWS]) + b"," if FOLLOWS in body else b""
    if raw.count(sealed) != 1 or (follows and raw.count(follows) != 1):
        return False
    bare = raw.replace(follows, b"").replace(sealed, b'"seal":null')
    rest = _written([seal["author"], seal["at"], seal["parent"]])
    return sha256(b"[" + bare + b"," + rest[1:]).hexdigest() == seal["hash"]
