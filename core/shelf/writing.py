"""What is added to a chart file, each in one write. The caller holds the chart's lock.

Imported late: this is what brings TinyDB in.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from ..chart import details
from ..chart.amendment import (
    Amendment,
    amendment_from_doc,
    amendment_to_doc,
    signature_holds,
    signed,
)
from ..chart.chain import Chain, chain_of, chains_of
from ..chart.chart import closed_session_from_doc, patient_sum, readable
from ..chart.chart import signed as signed_session
from ..chart.details import DetailsChange, details_from_doc, details_to_doc
from ..chart.document import Contents, Json, body_of, head_of, is_object, unread_of
from ..chart.event import Event, event_to_doc
from ..chart.ids import CHART_SUFFIX, new_id
from ..chart.links import RECORDED, linked_documents
from ..chart.patient import Patient, patient_to_doc
from ..chart.session import Session, session_from_doc
from ..chart.transfer import Transfer, transfer_from_doc, transfer_to_doc, withdrawn
from ..chart.transfer import signed as signed_transfer
from ..chart.unread import Signed, Unread
from ..disk import Found
from ..errors import ShelfError
from .files import Folder
from .storage import ChartFile, ChartStorage

WITHDRAWN = "The session was withdrawn from this chart: nothing was changed"
NO_SESSION = "The session to be amended is damaged or not in this chart: nothing was changed"

_HASH = re.compile(r"[0-9a-f]{64}", re.ASCII)


def create_chart(
    charts: Folder, patient: Patient, author: str, at: str, sessions: Iterable[Session] = ()
) -> tuple[str, Contents, Found | None]:
    """Write a new chart file with these sessions signed in it, in one write.

    Returns:
        Its id, what is in it, and the file; no file on a server.
    """
    chart_id = new_id()
    recorded = {"author": author, "at": at}
    made = {**patient_to_doc(patient), RECORDED: recorded}
    first, *others = linked_documents({}, (made, *_signed(sessions, author, at, "")))
    tables = {"patient": {"1": first}}
    if others:
        tables["sessions"] = {str(place): each for place, each in enumerate(others, 1)}
    storage = ChartStorage(charts, chart_id + CHART_SUFFIX)
    storage.write(tables)
    return chart_id, Contents(tables), storage.written


def add_sessions(
    charts: Folder, chart_id: str, sessions: Sequence[Session], author: str, at: str
) -> tuple[Session, ...]:
    """Sign sessions, each chained to the one before, and add them."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    taken = _ids(file, "sessions")
    for session in sessions:
        if session.id in taken:
            file.write_again()  # it may be there unconfirmed
            raise ShelfError(
                f"The session of {session.date_words} is in this chart already: "
                "nothing was changed, leave it out"
            )
        taken.add(session.id)
    return _add_signed(file, sessions, author, at)


def keep_session(charts: Folder, chart_id: str, session: Session, author: str, at: str) -> Session:
    """Sign and add one session, or write once more the one that is there unconfirmed."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    there = _stored(file, "sessions", session.id)
    if there is None:
        return _add_signed(file, [session], author, at)[0]
    stored = session_from_doc(there)
    if replace(stored, seal=None) != replace(session, seal=None):
        raise ShelfError(
            "This session was closed with other readings: nothing was changed, "
            "amend the closed session"
        )
    file.write_again()
    return stored


def add_amendments(
    charts: Folder, chart_id: str, amendments: Sequence[Amendment]
) -> list[Amendment]:
    """Link, sign and add amendments of different sessions in one write; all or none.

    Returns them as stored.
    """
    for amendment in amendments:
        _check_words(amendment)
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    chains, gone = _chains(file, {each.parent for each in amendments}), _gone(file)
    ready: list[Amendment] = []
    for amendment in amendments:
        # Taken out, as a second one of the same session would not be made on the first.
        chain = chains.pop(amendment.parent, None)
        if chain is None:
            raise ShelfError(NO_SESSION)
        if amendment.parent in gone:
            raise ShelfError(WITHDRAWN)
        ready.append(_ready(amendment, chain))
    _add_new(file, "amendments", [amendment_to_doc(each) for each in ready])
    return ready


def keep_amendment(charts: Folder, chart_id: str, amendment: Amendment) -> Amendment:
    """Add an amendment, or write once more the one that is there unconfirmed."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    there = _stored(file, "amendments", amendment.id)
    if there is None:
        return add_amendments(charts, chart_id, [amendment])[0]
    stored = amendment_from_doc(there)
    if (stored.readings, stored.withdrawn) != (amendment.readings, amendment.withdrawn):
        raise ShelfError(
            "This amendment is in the chart with other readings: nothing was changed, "
            "amend once more"
        )
    file.write_again()
    return stored


def add_details(charts: Folder, chart_id: str, change: DetailsChange) -> DetailsChange:
    """Link, sign and add a change of the patient's details; returns it as stored."""
    if not change.author.strip():
        raise ShelfError("A change of details needs an author: nothing was changed")
    if not _has_offset(change.at):
        raise ShelfError("The time of the change has no UTC offset: nothing was changed")
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    contents = Contents(file.tables())
    found, damaged = readable(contents, "details", details_from_doc)
    for stored in found:
        if stored.id == change.id:
            file.write_again()  # it may be there unconfirmed
            return stored
    latest = found[-1].hash if found else patient_sum(contents)
    if damaged or not latest:
        raise ShelfError("The details in this chart are damaged: nothing was changed, restore it")
    if change.made_on not in ("", latest):
        raise ShelfError(
            "The details were changed meanwhile: nothing was changed, look at them and try again"
        )
    ready = details.signed(replace(change, made_on=latest, hash=""))
    file.insert("details", [details_to_doc(ready)])
    return ready


def add_transfer(charts: Folder, chart_id: str, transfer: Transfer) -> Transfer:
    """Sign and add the document that withdraws a session; returns it as stored."""
    _check_words(transfer)
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    ready = signed_transfer(transfer)
    _add_new(file, "transfers", [transfer_to_doc(ready)])
    return ready


def receive(charts: Folder, chart_id: str, session: Session, note: Transfer) -> Session:
    """Sign and add a session with the document that says where it came from, in one write."""
    _check_words(note)
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    if there := _stored(file, "sessions", session.id):
        file.write_again()  # it may be there unconfirmed
        return session_from_doc(there)
    copy = next(_signed([session], note.author, note.at, _last_hash(file)))
    both = ("sessions", copy), ("transfers", transfer_to_doc(signed_transfer(note)))
    file.insert_both(*both)
    return copy.session


def _gone(file: ChartFile) -> set[str]:
    """Ids of the sessions that were withdrawn."""
    transfers, _ = readable(Contents(file.tables()), "transfers", transfer_from_doc)
    return set(withdrawn(transfers))


def _check_words(signed: Amendment | Transfer) -> None:
    a, what = ("An", "amendment") if isinstance(signed, Amendment) else ("A", "withdrawal")
    if not signed.author.strip() or not signed.reason.strip():
        raise ShelfError(f"{a} {what} needs an author and a reason: nothing was changed")
    if not _has_offset(signed.at):
        raise ShelfError(f"The time of the {what} has no UTC offset: nothing was changed")


def _ready(amendment: Amendment, chain: Chain) -> Amendment:
    """The amendment as it is stored: made on what is there, and signed.

    Raises:
        ShelfError: when it does not fit what is there.
    """
    made_on = amendment.made_on or chain.tips
    if not amendment.made_on and len(made_on) > 1:
        raise ShelfError(
            "Amendments of this session disagree: nothing was changed, settle that first"
        )
    if not chain.states.keys() >= set(made_on) or len(set(made_on)) < len(made_on):
        raise ShelfError(
            "What this amendment was made on is damaged or not in this chart: "
            "nothing was changed, open the session anew"
        )
    if len(made_on) > 1 and set(chain.disputed(made_on)) - amendment.stations:
        raise ShelfError(
            "Amendments disagree about a station that this one leaves out: nothing was "
            "changed, say for each of them what holds"
        )
    if amendment.hash:
        if not signature_holds(amendment):
            raise ShelfError("The amendment is not what was signed: nothing was changed")
        return amendment
    try:
        return signed(replace(amendment, made_on=made_on))
    except (TypeError, ValueError) as error:
        raise ShelfError(
            f"The amendment has no written form ({error}): nothing was changed"
        ) from error


def _chains(file: ChartFile, wanted: Container[str]) -> dict[str, Chain]:
    """The sound documents of closed sessions, by session id; of those that are there."""
    contents = Contents(file.tables())
    sessions, _ = readable(contents, "sessions", closed_session_from_doc, Unread.session)
    amendments, _ = readable(contents, "amendments", amendment_from_doc)
    chains = chains_of([each for each in sessions if each.id in wanted], amendments)
    return {
        each.id: chains.get(each.id) or chain_of(each, ()) for each in sessions if each.id in wanted
    }


def _has_offset(at: str) -> bool:
    try:
        return datetime.fromisoformat(at).utcoffset() is not None
    except ValueError:
        return False


def add_events(
    charts: Folder, chart_id: str, events: Sequence[Event], author: str, at: str
) -> None:
    """Add events in this order."""
    file = ChartFile(charts, chart_id + CHART_SUFFIX)
    recorded = {"author": author, "at": at}
    _add_new(file, "events", [{**event_to_doc(event), RECORDED: recorded} for event in events])


def _add_signed(
    file: ChartFile, sessions: Sequence[Session], author: str, at: str
) -> tuple[Session, ...]:
    done = tuple(_signed(sessions, author, at, _last_hash(file)))
    if done:
        file.insert("sessions", done)
    return tuple(each.session for each in done)


def _signed(sessions: Iterable[Session], author: str, at: str, parent: str) -> Iterator[Signed]:
    """Sessions signed in this order, each chained to the one before."""
    for session in sessions:
        ready = signed_session(session, author, at, parent)
        parent = ready.session.seal.hash if ready.session.seal else ""
        yield ready


def _add_new(file: ChartFile, table: str, bodies: list[Json]) -> None:
    """Add documents in one write; refused where one of them is there."""
    taken = _ids(file, table)
    for body in bodies:
        if body["id"] in taken:
            file.write_again()  # it may be there unconfirmed
            raise ShelfError("This is in the chart already: nothing was changed")
        taken.add(body["id"])
    file.insert(table, bodies)


def _stored(file: ChartFile, table: str, id_: str) -> Json | None:
    """The sound document of an id, None when there is none."""
    named = (each for each in file.documents(table) if head_of(each).get("id") == id_)
    return next((body for each in named if (body := body_of(each)) is not None), None)


def _ids(file: ChartFile, table: str) -> set[str]:
    """Ids of the sound documents of a table."""
    return {
        head_of(each)["id"] for each in file.documents(table) if unread_of(each) or body_of(each)
    }


def _last_hash(file: ChartFile) -> str:
    """Hash of the session closed last, "" when there is none.

    Taken as stated also from a damaged document: once that is restored from a backup, the
    chain is whole again.
    """
    for document in reversed(file.documents("sessions")):
        seal: object = head_of(document).get("seal")
        stated = str(seal.get("hash")) if is_object(seal) else ""
        if _HASH.fullmatch(stated):
            return stated
    return ""
