"""Amendments: corrections of a closed session, as signed documents in a chain.

A closed session is never changed. An amendment names what it was made on: the session (by
the hash of its signature), or the amendment before it, or, when it settles a
conflict, every document it settles. Its own hash is over all it says, so a document that was
altered, dropped or put elsewhere is noticed by those made on it. Order comes from these links
only; no clock ever orders, hides or prefers anything.

Version 1 had neither hashes nor links. Its amendments are read as a chain in the order in
which they were written, which is how they were shown then.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ..tardieu.reading import Reading, Side, StationKey, reading_from_doc, reading_to_doc
from ..typed import as_doc, checked
from .document import Json, digest, own_hash
from .session import Session


@dataclass(frozen=True, slots=True)
class Amendment:
    """Readings added to, or put in place of, those of a closed session.

    A document of its own: the session stays as it was signed, and both stay readable.

    Attributes:
        id: random id.
        parent: id of the session.
        author: who amends.
        reason: why, as typed.
        at: ISO 8601 local time with its UTC offset.
        readings: each takes the place of the session's reading of the same station.
        withdrawn: stations whose reading no longer holds and has no other in its place.
        made_on: hashes of the documents it was made on; the shelf fills in what is there.
        hash: SHA-256 of all the above, hexadecimal; the shelf signs what has none.
        version: form of the document.
    """

    id: str
    parent: str
    author: str
    reason: str
    at: str
    readings: tuple[Reading, ...]
    withdrawn: tuple[StationKey, ...] = ()
    made_on: tuple[str, ...] = ()
    hash: str = ""
    version: int = 2

    @property
    def settles(self) -> bool:
        """Whether it settles a conflict of amendments."""
        return len(self.made_on) > 1

    @property
    def stations(self) -> frozenset[StationKey]:
        """The stations it speaks about."""
        return frozenset(reading.station for reading in self.readings) | set(self.withdrawn)


def amendment_to_doc(amendment: Amendment) -> Json:
    """Write the amendment as a JSON document."""
    doc = as_doc(amendment)
    doc["readings"] = [reading_to_doc(reading) for reading in amendment.readings]
    if amendment.version == 1:
        return {name: doc[name] for name in _FIRST_FORM}
    doc["withdrawn"] = [[muscle, side.value, fast] for muscle, side, fast in amendment.withdrawn]
    doc["made_on"] = list(amendment.made_on)
    return doc


_FIRST_FORM = ("id", "parent", "author", "reason", "at", "readings")
"""What an amendment of version 1 says."""


def amendment_from_doc(doc: Json) -> Amendment:
    """Read the amendment in a JSON document of version 1 or 2.

    Raises:
        KeyError, TypeError, ValueError: when the document is not an amendment.
    """
    readings = tuple(reading_from_doc(reading) for reading in doc["readings"])
    stated: Json = {**doc, "readings": readings}
    first = Amendment(**{name: stated[name] for name in _FIRST_FORM})
    if "version" not in doc and "hash" not in doc:
        unlinked = checked(replace(first, version=1))
        return replace(unlinked, hash=digest(amendment_to_doc(unlinked)))
    if doc["version"] != 2:
        raise ValueError(f"an amendment of version {doc['version']}")
    made = replace(
        first,
        withdrawn=tuple(
            (muscle, Side(side), velocity) for muscle, side, velocity in doc["withdrawn"]
        ),
        made_on=tuple(doc["made_on"]),
        hash=doc["hash"],
    )
    return checked(made)


def signed(amendment: Amendment) -> Amendment:
    """Sign an amendment: add the hash of what it says."""
    return replace(amendment, hash=own_hash(amendment_to_doc(amendment)))


def signature_holds(amendment: Amendment) -> bool:
    """Check whether an amendment still is what was signed; version 1 had no signature."""
    return amendment.version == 1 or amendment.hash == own_hash(amendment_to_doc(amendment))


def hash_of(session: Session) -> str:
    """Find the hash by which a session is named; its id while it has no signature."""
    return session.seal.hash if session.seal else session.id


def linked(sessions: Iterable[Session], amendments: Sequence[Amendment]) -> tuple[Amendment, ...]:
    """Link the amendments of version 1 in the order in which they were written."""
    last = {session.id: hash_of(session) for session in sessions}
    found: list[Amendment] = []
    for amendment in amendments:
        if amendment.version == 1 and amendment.parent in last:
            amendment = replace(amendment, made_on=(last[amendment.parent],))
            last[amendment.parent] = amendment.hash
        found.append(amendment)
    return tuple(found)


def withdrawn_readings(
    signed: Session, amendments: Iterable[Amendment], now: Session
) -> tuple[Reading, ...]:
    """List the readings that were given once and that an amendment took away.

    Args:
        signed: the session as it was signed.
        amendments: all of them that were made on it.
        now: the session as they leave it.
    """
    there = {reading.station for reading in now.readings}
    given = [*signed.readings, *(reading for each in amendments for reading in each.readings)]
    return tuple({r.station: r for r in given if r.station not in there}.values())
