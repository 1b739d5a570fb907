"""What is added to a chart file, each in one write. The caller holds the chart's lock.

Imported late: this is what brings TinyDB in.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from ..patient import Patient, patient_to_doc
from ..session import Session, sealed, session_from_doc, session_to_doc
from .chart import Amendment, Event, amendment_to_doc, event_to_doc
from .document import Json, body_of, is_object
from .errors import ShelfError
from .files import Folder
from .ids import CHART_SUFFIX, new_id
from .storage import ChartFile

_HASH = re.compile(r"[0-9a-f]{64}", re.ASCII)


def create_chart(charts: Folder, patient: Patient) -> str:
    """Write a new chart file; returns the chart's id."""
    chart_id = new_id()
    file = ChartFile(charts, chart_id + CHART_SUFFIX, new=True)
    file.insert("patient", [patient_to_doc(patient)])
    return chart_id


def add_sessions(
    charts: Folder, chart_id: str, sessions: Sequence[Session], author: str, at: str
) -> tuple[Session, ...]:
    """Sign sessions, each chained to the one before, and add them."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    taken = _ids(file, "sessions")
    for session in sessions:
        if session.id in taken:
            raise ShelfError(
                f"The session of {session.date_words} is in this chart already: "
                "nothing was changed, leave it out"
            )
        taken.add(session.id)
    return _add_signed(file, sessions, author, at)


def keep_session(charts: Folder, chart_id: str, session: Session, author: str, at: str) -> Session:
    """Sign and add one session, or write once more the one that is there unconfirmed."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    there = [body for body in _bodies(file, "sessions") if body["id"] == session.id]
    if not there:
        return _add_signed(file, [session], author, at)[0]
    stored = session_from_doc(there[0])
    if replace(stored, seal=None) != replace(session, seal=None):
        raise ShelfError(
            "This session was closed with other readings: nothing was changed, "
            "amend the closed session"
        )
    file.write_again()
    return stored


def add_amendment(charts: Folder, chart_id: str, amendment: Amendment) -> None:
    """Add an amendment of a session in the chart."""
    if not amendment.author.strip() or not amendment.reason.strip():
        raise ShelfError("An amendment needs an author and a reason: nothing was changed")
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    if amendment.parent not in _ids(file, "sessions"):
        raise ShelfError(
            "The session to be amended is damaged or not in this chart: nothing was changed"
        )
    _add_one(file, "amendments", amendment_to_doc(amendment))


def add_event(charts: Folder, chart_id: str, event: Event) -> None:
    """Add an event."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    _add_one(file, "events", event_to_doc(event))


def _add_signed(
    file: ChartFile, sessions: Sequence[Session], author: str, at: str
) -> tuple[Session, ...]:
    parent = _last_hash(file)
    done: list[Session] = []
    for session in sessions:
        signed = sealed(session, author, at, parent)
        parent = signed.seal.hash if signed.seal else ""
        done.append(signed)
    if done:
        file.insert("sessions", [session_to_doc(session) for session in done])
    return tuple(done)


def _add_one(file: ChartFile, table: str, body: Json) -> None:
    if body["id"] in _ids(file, table):
        raise ShelfError("This is in the chart already: nothing was changed")
    file.insert(table, [body])


def _bodies(file: ChartFile, table: str) -> list[Json]:
    bodies = (body_of(document) for document in file.documents(table))
    return [body for body in bodies if body is not None]


def _ids(file: ChartFile, table: str) -> set[str]:
    return {body["id"] for body in _bodies(file, table)}


def _last_hash(file: ChartFile) -> str:
    """Hash of the session closed last, "" when there is none.

    Taken as stated also from a damaged document: once that is restored from a backup, the
    chain is whole again.
    """
    for document in reversed(file.documents("sessions")):
        body: object = document.get("body")
        seal: object = body.get("seal") if is_object(body) else None
        stated = str(seal.get("hash")) if is_object(seal) else ""
        if _HASH.fullmatch(stated):
            return stated
    return ""
