"""A session: one visit's readings, who took them and under which conditions."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Protocol

from ..language import day_words
from ..tardieu.reading import Reading, reading_from_doc, reading_to_doc
from ..typed import as_doc, checked
from .checklist import Checklist, checklist_from_doc, checklist_to_doc


@dataclass(frozen=True, slots=True)
class Conditions:
    """What must be alike for two sessions to be compared.

    Attributes:
        posture: the session's general posture in words, "" when it follows the muscles.
        minutes_since_dose: minutes since the last dose of tone-lowering medication,
            None when not stated.
        notes: orthosis, illness, sleep and the like, as typed.
        cautions_read: the cautions before fast stretch were confirmed on screen.
        reader: initials or staff code of who read the goniometer, "" for the examiner.
        instrument: one of measurement_error.INSTRUMENTS, "" for a goniometer.
        minutes_since_orthosis: minutes since an orthosis or cast came off, None when not
            stated or none is worn.
        illness: illness, fever, poor sleep and the like on the day, as typed.
        typed_later: ISO 8601 local time with offset at which a session taken on paper was
            begun to be typed in; "" when it was typed as it was measured.
        blind: last values and trends were hidden from the entry, for a second rater.
    """

    posture: str = ""
    minutes_since_dose: int | None = None
    notes: str = ""
    cautions_read: bool = False
    reader: str = ""
    instrument: str = ""
    minutes_since_orthosis: int | None = None
    illness: str = ""
    typed_later: str = ""
    blind: bool = False

    @property
    def typed_later_words(self) -> str:
        """Say that a session was typed in later, and when; "" when it was not."""
        if not self.typed_later:
            return ""
        try:
            at = datetime.fromisoformat(self.typed_later)
        except ValueError:  # stored so by another hand: shown as it is
            return f"typed later, on {self.typed_later}"
        return f"typed later, on {day_words(at)} {at:%H:%M}"


@dataclass(frozen=True, slots=True)
class Seal:
    """The signature of a closed session.

    Attributes:
        author: who closed it, as typed at set-up (the recorder).
        at: ISO 8601 local time with its UTC offset.
        parent: hash of the session closed before it in this chart, "" for the first.
        hash: SHA-256 of the content together with the parent, hexadecimal.
    """

    author: str
    at: str
    parent: str
    hash: str


class Stored(Protocol):
    """A stored session that was not read yet."""

    def whole(self) -> Session:
        """Read all of it."""
        ...

    def readings_of(self, muscle: str, side: str) -> tuple[Reading, ...]:
        """Read the readings of one muscle group and side, in their order."""
        ...


class _ReadOnDemand:
    """Fills the large fields of a session when one of them is first asked for.

    A chart of years is opened for its latest visits: what the others hold stays as it was
    stored until somebody looks.
    """

    __slots__ = ("_stored",)
    _stored: Stored

    @property
    def is_unread(self) -> bool:
        """Whether the fields of LATE were not asked for yet."""
        return hasattr(self, "_stored")

    def __getattr__(self, name: str) -> Any:  # called only for what is not there yet
        if name not in LATE:
            raise AttributeError(name)
        whole = self._stored.whole()
        for late in LATE:
            object.__setattr__(self, late, getattr(whole, late))
        object.__delattr__(self, "_stored")
        return getattr(self, name)


LATE = ("checklist", "conditions", "readings")
"""Fields of a session that may be read on demand."""


@dataclass(frozen=True, slots=True)
class Session(_ReadOnDemand):
    """One visit.

    Attributes:
        id: random id, never shown.
        started: ISO 8601 local time with its UTC offset.
        examiner: initials or staff code of the person handling the limb.
        recorder: initials or staff code of the person typing.
        checklist: the checklist as it was used, stations and all.
        conditions: see Conditions.
        readings: in the order of the checklist, only stations that have one.
        seal: None while the session is open.
        source: "entry" or "import".
        rules: version of the checks that the readings went through.
    """

    id: str
    started: str
    examiner: str
    recorder: str
    checklist: Checklist
    conditions: Conditions = Conditions()
    readings: tuple[Reading, ...] = ()
    seal: Seal | None = None
    source: str = "entry"
    rules: int = 1

    @property
    def when(self) -> datetime:
        """Start of the session, aware of its offset."""
        return datetime.fromisoformat(self.started)

    @property
    def time_stated(self) -> bool:
        """Whether its time is known: typed in later or imported without one it is 00:00."""
        later = self.source == "import" or bool(self.conditions.typed_later)
        return not (later and f"{self.when:%H:%M:%S}" == "00:00:00")

    @property
    def date_words(self) -> str:
        """The date as screens write it, e.g. 25 Nov 2026."""
        return day_words(self.when)

    def left_open(self, today: date) -> bool:
        """Check whether the session, still open, was begun on another day than it is typed.

        One that is typed in later on purpose was not.
        """
        return not self.conditions.typed_later and self.when.date() != today

    def readings_of(self, muscle: str, side: str) -> tuple[Reading, ...]:
        """Find the readings of one muscle group and side, in their order."""
        if self.is_unread:
            return self._stored.readings_of(muscle, side)
        wanted = (muscle, str(side))
        return tuple(one for one in self.readings if (one.muscle, one.side.value) == wanted)

    def reading_of(self, muscle: str, side: str, velocity: str | None = None) -> Reading | None:
        """Find the reading of one station; of either fast velocity when none is named."""
        found = self.readings_of(muscle, side)
        return next((one for one in found if velocity in (None, one.fast_velocity)), None)


def stored_session(stored: Stored, early: Mapping[str, object]) -> Session:
    """Make a session of which the fields of LATE are read when one is asked for.

    Args:
        stored: reads them.
        early: all the other fields.
    """
    session = Session.__new__(Session)
    for name, value in early.items():
        object.__setattr__(session, name, value)
    object.__setattr__(session, "_stored", stored)
    return session


def sealed(session: Session, author: str, at: str, parent: str) -> Session:
    """Close and sign a session: its content hash is chained to the one before it."""
    bare = replace(session, seal=None)
    return replace(bare, seal=Seal(author, at, parent, _digest(bare, author, at, parent)))


def seal_holds(session: Session) -> bool:
    """Check whether a closed session still is what was signed."""
    seal = session.seal
    if seal is None:
        return False
    return seal.hash == _digest(replace(session, seal=None), seal.author, seal.at, seal.parent)


def canonical(doc: Any) -> bytes:
    """Write a JSON value as its one byte string: sorted keys, no spaces, UTF-8."""
    return _ENCODER.encode(doc).encode("ascii")


_ENCODER = json.JSONEncoder(
    sort_keys=True,
    separators=(",", ":"),
    ensure_ascii=True,
    allow_nan=False,
    check_circular=False,  # what is written is a tree
)
"""Made once: many of the values that are written are a word or a sum."""


def _digest(session: Session, author: str, at: str, parent: str) -> str:
    content = [session_to_doc(session), author, at, parent]
    return hashlib.sha256(canonical(content)).hexdigest()


def sorted_by_start(sessions: Iterable[Session]) -> tuple[Session, ...]:
    """Sort sessions from the earliest start to the latest; equal starts keep their order."""
    return tuple(sorted(sessions, key=lambda session: session.when))


def session_to_doc(session: Session) -> dict[str, Any]:
    """Write the session as a JSON document."""
    return as_doc(session) | {
        "checklist": checklist_to_doc(session.checklist),
        "conditions": conditions_to_doc(session.conditions),
        "readings": [reading_to_doc(reading) for reading in session.readings],
        "seal": seal_to_doc(session.seal),
    }


def seal_to_doc(seal: Seal | None) -> dict[str, str] | None:
    """Write a signature as a JSON document."""
    return None if seal is None else as_doc(seal)


def conditions_to_doc(conditions: Conditions) -> dict[str, Any]:
    """Write the conditions as a JSON document.

    What was added after the first version is written only when it was filled in: sessions
    signed before must keep the very bytes that they were signed with.
    """
    doc = as_doc(conditions) | {"blind": conditions.blind or ""}
    return {n: value for n, value in doc.items() if n in _ALWAYS or value not in (None, "")}


_ALWAYS = ("posture", "minutes_since_dose", "notes", "cautions_read")
"""The conditions of the first version."""


def session_from_doc(doc: dict[str, Any]) -> Session:
    """Read the session in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when the document is not a session.
    """
    made = Session(
        id=doc["id"],
        started=doc["started"],
        examiner=doc["examiner"],
        recorder=doc["recorder"],
        checklist=checklist_from_doc(doc["checklist"]),
        conditions=Conditions(**doc["conditions"]),
        readings=tuple(reading_from_doc(reading) for reading in doc["readings"]),
        seal=None if doc["seal"] is None else Seal(**doc["seal"]),
        source=doc["source"],
        rules=doc["rules"],
    )
    return checked(made)
