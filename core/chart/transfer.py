"""Closed sessions that left a chart or came into it: signed documents beside the session.

A session taken on the wrong patient is withdrawn, or moved to the right chart: a copy signed
anew is written there first, with a document that says where it came from, then the session here
is withdrawn. Both documents name the other chart by its random id and never by the code of its
patient, so that erasing one patient leaves nothing of them in the other's chart. The session
itself stays in the file as it was signed; it only counts no longer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, get_args

from ..typed import as_doc, checked, names_of
from .document import Json, own_hash
from .session import Session

VERSION = 1

Kind = Literal["withdrawn", "received"]


@dataclass(frozen=True, slots=True)
class Transfer:
    """One session withdrawn from a chart, or received from another one.

    Attributes:
        id: random id.
        kind: "withdrawn": the session no longer counts here; "received": it is a copy.
        session: id of the session in this chart.
        chart: id of the chart where the copy went or came from, "" for none.
        other: id of the session there, "" for none.
        author: who withdraws or moves it.
        reason: why, as typed.
        at: ISO 8601 local time with its UTC offset.
        hash: SHA-256 of all the above, hexadecimal.
    """

    id: str
    kind: Kind
    session: str
    chart: str
    other: str
    author: str
    reason: str
    at: str
    hash: str = ""

    @property
    def words(self) -> str:
        """Say what was done, without the chart."""
        if self.kind == "received":
            return "moved here from another chart"
        return "moved to another chart" if self.chart else "withdrawn"


def transfer_to_doc(transfer: Transfer) -> Json:
    """Write the transfer as a JSON document."""
    return {**as_doc(transfer), "version": VERSION}


def transfer_from_doc(doc: Json) -> Transfer:
    """Read the transfer in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when the document is not one.
    """
    if doc["version"] != VERSION or doc["kind"] not in get_args(Kind):
        raise ValueError(f"a transfer of version {doc['version']}, kind {doc['kind']}")
    return checked(Transfer(**{name: doc[name] for name in names_of(Transfer)}))


def signed(transfer: Transfer) -> Transfer:
    """Sign a transfer: add the hash of what it says."""
    return replace(transfer, hash=own_hash(transfer_to_doc(transfer)))


def signature_holds(transfer: Transfer) -> bool:
    """Check whether a transfer still is what was signed."""
    return transfer.hash == own_hash(transfer_to_doc(transfer))


def withdrawal_words(session: Session, to: str) -> str:
    """Say what was done with a session; ``to`` is the code of the other patient, "" for none."""
    done = f"was moved to {to}, and no longer counts here" if to else "no longer counts here"
    return f"the session of {session.date_words} {done}; it stays in limbscribe history"


def withdrawn_words(
    sessions: Iterable[Session], transfers: Mapping[str, Transfer]
) -> tuple[str, ...]:
    """Say of each withdrawn session who withdrew it and why, in the order of closing."""
    return tuple(
        f"{session.date_words} {left.words} by {left.author}: {left.reason}"
        for session in sessions
        if (left := transfers.get(session.id))
    )


def copy_id(chart: str, session: str, to: str) -> str:
    """Make the id of a session's copy in another chart: the same for every try of one move."""
    return hashlib.sha256(f"{chart}/{session}/{to}".encode()).hexdigest()[:32]


def withdrawn(transfers: Iterable[Transfer]) -> dict[str, Transfer]:
    """List the sessions that no longer count, each with the first transfer that says so."""
    found: dict[str, Transfer] = {}
    for transfer in transfers:
        if transfer.kind == "withdrawn":
            found.setdefault(transfer.session, transfer)
    return found


def received(transfers: Iterable[Transfer]) -> dict[str, Transfer]:
    """List the sessions that came from another chart, each with its transfer."""
    return {each.session: each for each in transfers if each.kind == "received"}


def findings(sessions: Iterable[str], transfers: Sequence[Transfer]) -> list[str]:
    """List what is wrong with transfers: each altered one, and each of a session that is missing.

    Args:
        sessions: ids of the closed sessions of the chart.
        transfers: as they were written.
    """
    there = set(sessions)
    found: list[str] = []
    for transfer in transfers:
        name = f"the note by {transfer.author} on {transfer.at} of a session {transfer.words}"
        if not signature_holds(transfer):
            found.append(f"{name} is not what was signed")
        if transfer.session not in there:
            found.append(f"{name} is of a session that is missing")
    return found
