"""Closed sessions of a chart file that are read when they are needed.

A session is written once and read at every visit after it, mostly for a station or two. Here
its checksum and its signature are checked over its bytes as they lie in the file, and only what
names it is parsed; the rest is parsed when it is asked for. Whatever is not exactly as this
program writes it is left to the full reading in document.py, which says what is wrong with it.

The bytes are in canonical form: keys sorted, no blanks, and a quote inside a text has a backslash
before it, so ``"key":`` is never part of a text. The keys of a session's body are checklist,
conditions, examiner, follows, id, readings, recorder, rules, seal, source, started.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TypeVar

from ..errors import NotUnderstood
from ..tardieu.reading import Reading, reading_from_doc
from ..typed import checked
from .session import (
    LATE,
    Seal,
    Session,
    canonical,
    seal_to_doc,
    session_from_doc,
    session_to_doc,
    stored_session,
)
from .strict_json import Json, NotWhole, parse_at, parse_json

T = TypeVar("T")

_TABLE = b'"sessions":{'
_DOCUMENT = re.compile(rb'"([0-9]{1,9})":\{"body":(?=\{"checklist":)')
_END = re.compile(rb'\},"sum":"([0-9a-f]{64})"\}')
_SUM = b',"sum":"%b"}'
_SUM_SIZE = len(_SUM % bytes(64))
_FIRST_OF_READING = '{"clonus_s":'


@dataclass(frozen=True, slots=True)
class Unread:
    """The body of a closed session, its checksum and signature found right.

    Attributes:
        raw: the body as it lies in the file.
        head: the body parsed, without the fields of session.LATE.
        sum: its checksum, hexadecimal.
    """

    raw: bytes
    head: Json
    sum: bytes

    def lies_in(self, data: bytes, begin: int) -> bool:
        """Whether a file has this very body and its sum at a place."""
        end = begin + len(self.raw)
        return data.startswith(self.raw, begin) and data.startswith(_SUM % self.sum, end)

    def body(self) -> Json:
        """Parse all of it.

        Raises:
            NotUnderstood: when it is not what it seemed; somebody wrote sums and signature anew.
        """
        try:
            body = parse_json(self.raw)
        except NotWhole as error:
            raise self._damaged(error) from error
        if {name: value for name, value in body.items() if name not in LATE} != self.head:
            raise self._damaged(ValueError("its parts disagree"))
        return body

    def whole(self) -> Session:
        """Read all of it; raises like body()."""
        body = self.body()
        return self._understood(lambda: session_from_doc(body))

    def readings_of(self, muscle: str, side: str) -> tuple[Reading, ...]:
        """Read the readings of one muscle group and side; raises like body()."""
        return self._understood(lambda: tuple(self._found(muscle, side)))

    def session(self) -> Session:
        """Make the session, to be read on demand."""
        early = {name: value for name, value in self.head.items() if name != "follows"}
        return stored_session(self, {**early, "seal": Seal(**self.head["seal"])})

    def _found(self, muscle: str, side: str) -> Iterator[Reading]:
        text = self.raw.decode()
        first = text.index('"readings":[')
        named = f'"muscle":{canonical(muscle).decode()}'
        at = text.find(named, first)
        while at >= 0:
            # No value inside a reading begins like a reading.
            document, end = parse_at(text, text.rindex(_FIRST_OF_READING, first, at))
            if (document["muscle"], document["side"]) == (muscle, str(side)):
                yield checked(reading_from_doc(document))
            at = text.find(named, max(end, at + 1))

    def _understood(self, read: Callable[[], T]) -> T:
        try:
            return read()
        except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
            raise self._damaged(error) from error

    def _damaged(self, error: Exception) -> NotUnderstood:
        return NotUnderstood(
            f"The session that began {self.head['started']} cannot be understood "
            f"({type(error).__name__}): nothing was changed, restore the chart from a backup "
            "or look at it with verify"
        )


@dataclass(frozen=True, slots=True)
class Signed:
    """A session signed just now, on its way into a chart file.

    Attributes:
        raw: its body as it will lie in the file, but for what it follows.
        session: what it says.
    """

    raw: bytes
    session: Session

    def document(self, follows: Sequence[str]) -> Json:
        """Make its document: its body with the sums of those it follows, and its own sum."""
        at = self.raw.find(b',"id":', self.raw.find(b'"examiner":'))
        raw = b"".join((self.raw[:at], b',"follows":', canonical(follows), self.raw[at:]))
        total = hashlib.sha256(raw).hexdigest()
        head = {name: getattr(self.session, name) for name in _EARLY}
        head |= {"seal": seal_to_doc(self.session.seal), "follows": [*follows]}
        return {"body": Unread(raw, head, total.encode()), "sum": total}


def signed(session: Session, author: str, at: str, parent: str) -> Signed:
    """Sign a session as sealed() does, put it into words once, and read these back.

    Raises:
        KeyError, TypeError, ValueError: when it could not be read again.
    """
    doc = session_to_doc(session) | {"seal": None}
    bare = canonical(doc)
    total = hashlib.sha256(b"[" + bare + b"," + canonical([author, at, parent])[1:])
    seal = Seal(author, at, parent, total.hexdigest())
    doc["seal"] = seal_to_doc(seal)
    before, _, after = bare.rpartition(_NO_SEAL)
    raw = b"".join((before, b'"seal":', canonical(doc["seal"]), after))
    back = json.loads(raw)
    if back != doc and back != json.loads(json.dumps(doc)):  # halves of a character become one
        raise ValueError("it reads back as something else")
    return Signed(raw, checked(replace(session, seal=seal)))


_NO_SEAL = b'"seal":null'

AT_ONCE: ContextVar[bool] = ContextVar("AT_ONCE", default=False)
"""Whether no session is left waiting, see everything_at_once()."""


@contextmanager
def everything_at_once() -> Generator[None]:
    """Read every session at once: one that is none is then a problem of its chart.

    For what reads all of them anyhow, and after one raised NotUnderstood.
    """
    before = AT_ONCE.set(True)
    try:
        yield
    finally:
        AT_ONCE.reset(before)


_latest: dict[bytes, Unread] = {}
"""By their numbers the bodies of the file split last: mostly it is the same chart again."""


def split(data: bytes) -> tuple[bytes, dict[str, Unread]]:
    """Split a chart file into what is parsed at once, and the sessions that can wait.

    Returns:
        The file with an empty object in place of each body that can wait, and these by their
        document numbers.
    """
    parts: list[bytes] = []
    waiting: dict[str, Unread] = {}
    seen = dict(_latest)
    _latest.clear()
    done = 0
    at = data.find(_TABLE) + len(_TABLE) if _TABLE in data else len(data)
    while found := _DOCUMENT.match(data, at):
        number, begin = found[1], found.end()
        unread = seen.get(number)
        if unread and unread.lies_in(data, begin):
            end = begin + len(unread.raw)
        elif stated := _END.search(data, begin):
            end = stated.start() + 1
            unread = _sound(data[begin:end], stated[1])
        else:
            break
        if unread:
            waiting[number.decode()] = _latest[number] = unread
            parts += (data[done:begin], b"{}")
            done = end
        at = end + _SUM_SIZE
        if data[at : at + 1] != b",":
            break
        at += 1
    return b"".join((*parts, data[done:])), waiting


def _sound(body: bytes, total: bytes) -> Unread | None:
    """Make what can wait of a body; None where its sum or anything else of it is not right."""
    head = _head_of(body) if _sum_holds(body, total) else None
    return Unread(body, head, total) if head else None


def _sum_holds(body: bytes, total: bytes) -> bool:
    return hashlib.sha256(body).hexdigest().encode() == total


def _head_of(body: bytes) -> Json | None:
    """Parse what is read at once of a body; None where it is not just as sealed() makes it."""
    examiner, recorder = body.find(b'"examiner":'), body.rfind(b'],"recorder":') + 2
    readings = body.find(b'"readings":[', examiner)
    if not (body.isascii() and 0 < examiner < readings < recorder):
        return None
    try:
        head = parse_json(b"{" + body[examiner:readings] + body[recorder:])
        early = head.keys() - {"follows"} == _EARLY
        return head if early and _is_signed(body, head, examiner) else None
    except (NotWhole, KeyError, TypeError, ValueError, AttributeError):
        return None


_EARLY = {"examiner", "id", "recorder", "rules", "seal", "source", "started"}


def _is_signed(body: bytes, head: Json, examiner: int) -> bool:
    """Whether the signature is that of the body, as session.sealed() makes it."""
    seal = Seal(**head["seal"])
    texts = [head[name] for name in ("examiner", "id", "recorder", "source", "started")]
    texts += [seal.author, seal.at, seal.parent, seal.hash]
    if {*map(type, texts)} != {str} or type(head["rules"]) is not int:
        return False
    if datetime.fromisoformat(head["started"]).utcoffset() is None:
        return False
    begin, end = body.rfind(b'"seal":{'), body.rfind(b',"source":')
    left = right = 0
    if "follows" in head:  # says what was there before it: not part of what was signed
        left = body.find(b'"follows":[', examiner)
        right = body.find(b'],"id":', left) + 2
    if not left <= right <= begin < end:
        return False
    by_whom = canonical([seal.author, seal.at, seal.parent])[1:]
    pieces = (b"[", body[:left], body[right:begin], _NO_SEAL, body[end:], b",", by_whom)
    return hashlib.sha256(b"".join(pieces)).hexdigest() == seal.hash
