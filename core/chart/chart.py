"""One patient's chart: sessions as signed, amendments beside them, events, and damage."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from heapq import heappop, heappush
from typing import TypeVar

from ..errors import Damaged, ShelfError
from ..problem import Problem
from . import unread
from .amendment import Amendment, amendment_from_doc, hash_of, linked, signature_holds
from .chain import Chain, chain_of, chains_of
from .details import DetailsChange, applied, details_from_doc, difference
from .details import findings as details_findings
from .document import Contents, Json, body_of, in_order, is_object, parse_json, unread_of
from .event import Event, event_from_doc
from .links import Branches, Written, branches, in_written_order, link_findings
from .patient import Patient, patient_from_doc
from .session import (
    Session,
    canonical,
    seal_holds,
    session_from_doc,
    session_to_doc,
    sorted_by_start,
)
from .transfer import Transfer, received, transfer_from_doc, withdrawn
from .transfer import findings as transfer_findings
from .unread import Signed, Unread

T = TypeVar("T")

UNREADABLE = Patient("UNREADABLE")
"""Stands for a patient document that is damaged: a guessed code could be another patient's."""

RESTORE = "restore the file from a backup; what is shown here is sound"


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything one chart file holds.

    Attributes:
        id: the chart's random id.
        patient: the patient, changed details applied; UNREADABLE when the first document of
            the chart is damaged.
        sessions: closed sessions exactly as they were signed, in the order of closing, which
            is the order of their signatures' parents and never that of a clock; of those closed
            at different sites, in the order of links.in_written_order().
        amendments: in the order in which they were written; chain() has them by their links.
        events: in the order in which they were written.
        problems: damaged documents, left out above, and gaps in the chains.
        written: every document in the order in which they were written, see links.py.
        created: the patient as the chart was made, None where no details changed since.
        details: changes of the details, in the order in which they were written.
        transfers: sessions withdrawn from this chart or moved into it, in the same order.
    """

    id: str
    patient: Patient
    sessions: tuple[Session, ...]
    amendments: tuple[Amendment, ...]
    events: tuple[Event, ...]
    problems: tuple[Problem, ...]
    written: tuple[Written, ...] = ()
    created: Patient | None = None
    details: tuple[DetailsChange, ...] = ()
    transfers: tuple[Transfer, ...] = ()

    @property
    def withdrawn(self) -> dict[str, Transfer]:
        """Ids of the sessions that no longer count, with the document that says why."""
        return withdrawn(self.transfers)

    @property
    def received(self) -> dict[str, Transfer]:
        """Ids of the sessions that came from another chart, with the document that says so."""
        return received(self.transfers)

    @property
    def current(self) -> tuple[Session, ...]:
        """The sessions that count with amendments applied, in the order of closing.

        Where amendments of one document disagree and nobody has settled it, neither is
        applied: every station in dispute has the reading from before they parted, or one
        without values if it had none, with a flag of the rule chain.CONFLICT that says what
        each says. An amended session keeps its signature, which no longer fits its readings.
        """
        gone, chains = self.withdrawn, self.amended
        return tuple(
            chains[session.id].current() if session.id in chains else session
            for session in self.sessions
            if session.id not in gone
        )

    @property
    def amended(self) -> dict[str, Chain]:
        """By id, each session with amendments and these in the order of their links."""
        return chains_of(self.sessions, self.amendments)

    @property
    def chains(self) -> tuple[Chain, ...]:
        """Each session that counts with its amendments."""
        gone = self.withdrawn
        return tuple(chain for chain in self.every_chain if chain.session.id not in gone)

    @property
    def every_chain(self) -> tuple[Chain, ...]:
        """The same with the sessions that were withdrawn."""
        chains = self.amended
        return tuple(chains.get(one.id) or chain_of(one, ()) for one in self.sessions)

    def chain(self, session_id: str) -> Chain | None:
        """Find one session that counts, with its amendments."""
        session = next((one for one in self.sessions if one.id == session_id), None)
        if session and session_id not in self.withdrawn:
            return self.amended.get(session_id) or chain_of(session, ())
        return None

    @property
    def conflicts(self) -> tuple[Chain, ...]:
        """The chains in which amendments disagree and nobody has settled it."""
        gone, amended = self.withdrawn, self.amended.items()
        return tuple(each for id_, each in amended if id_ not in gone and each.conflict)

    @property
    def next_number(self) -> int:
        """Number of the session to be closed next; one that was withdrawn has none."""
        return len(self.sessions) - len(self.withdrawn) + 1

    @property
    def details_as_of(self) -> str:
        """Hash of the document on which a change of details is made; "" when it is missing."""
        if self.details:
            return self.details[-1].hash
        return next((each.sum for each in self.written if each.table == "patient"), "")

    def change_of_details(
        self, id: str, new: Patient, author: str, reason: str, at: str
    ) -> DetailsChange | None:
        """Make the change that puts new details in place of those that hold; None for none.

        Args:
            id: random id of the change.
            new: the patient with the new details.
            author: who changes them.
            reason: why, as typed.
            at: ISO 8601 local time with its UTC offset.
        """
        details = difference(self.patient, new)
        if not details:
            return None
        return DetailsChange(id, author, reason, at, details, self.details_as_of)

    @property
    def by_date(self) -> tuple[Session, ...]:
        """The sessions of current, from the earliest start to the latest."""
        return sorted_by_start(self.current)

    def before(self, session: Session) -> tuple[Session, ...]:
        """The sessions of by_date that started before this one: later ones are not its past."""
        return tuple(one for one in self.by_date if one.when < session.when)


def closed_session_from_doc(doc: Json) -> Session:
    """Read the closed session in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when it is not one, or not signed, or its start does
            not say its offset.
    """
    session = session_from_doc(doc)
    if session.seal is None or session.when.utcoffset() is None:
        raise ValueError("not a closed session")
    return session


def plain(session: Session) -> Session:
    """Make the session as it will be read back.

    Raises:
        ShelfError: when it has no written form, or its start does not say its offset.
    """
    with _in_written_form():
        return _with_offset(session_from_doc(parse_json(canonical(session_to_doc(session)))))


def signed(session: Session, author: str, at: str, parent: str) -> Signed:
    """Close and sign a session; what will lie in the file is read back and compared.

    Raises:
        ShelfError: as plain() does.
    """
    with _in_written_form():
        return unread.signed(_with_offset(session), author, at, parent)


@contextmanager
def _in_written_form() -> Generator[None]:
    try:
        yield
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ShelfError(
            f"The session has no written form ({error}): nothing was changed"
        ) from error


def _with_offset(session: Session) -> Session:
    if session.when.utcoffset() is None:
        raise ShelfError("The start of the session has no UTC offset: nothing was changed")
    return session


def build_chart(chart_id: str, where: str, contents: Contents) -> Chart:
    """Read the chart in a chart file; whatever is damaged becomes a Problem.

    Args:
        chart_id: the chart's id.
        where: name of the file, for the problems.
        contents: what could be read of it.
    """
    problems: list[Problem] = []
    if contents.damage:
        problems.append(Problem(where, f"the file is damaged: {contents.damage}", RESTORE))

    def table(
        name: str, build: Callable[[Json], T], unread: Callable[[Unread], T] | None = None
    ) -> list[T]:
        found, damaged = readable(contents, name, build, unread)
        for number, what in damaged:
            problems.append(Problem(f"{where}, {name} {number}", what, RESTORE))
        return found

    patients = table("patient", patient_from_doc)
    if not patients and not problems:
        problems.append(Problem(where, "the patient's document is missing", RESTORE))
    sessions = in_chain_order(table("sessions", closed_session_from_doc, Unread.session))
    for session in sessions:
        if not session.is_unread and not seal_holds(session):
            what = f"the session of {session.date_words} is not what was signed"
            problems.append(Problem(where, what, RESTORE))
    amendments = linked(sessions, table("amendments", amendment_from_doc))
    events = tuple(table("events", event_from_doc))
    details = tuple(table("details", details_from_doc))
    transfers = tuple(table("transfers", transfer_from_doc))
    written = in_written_order(contents.tables, [session.id for session in sessions])
    between = findings_between(contents, sessions, amendments, details, transfers, written)
    for spot, what in between:
        problems.append(Problem(f"{where}{spot}", what, RESTORE))
    created = patients[0] if patients else UNREADABLE
    return Chart(
        chart_id,
        applied(created, details) if patients else UNREADABLE,
        sessions,
        amendments,
        events,
        tuple(problems),
        written,
        created if details else None,
        details,
        transfers,
    )


def patient_sum(contents: Contents) -> str:
    """Find the checksum of the patient's own document as stated, "" when there is none."""
    found = next(iter(in_order(contents.tables, "patient")), ("", None))[1]
    return str(found.get("sum", "")) if is_object(found) else ""


def patient_of(contents: Contents) -> Patient:
    """Read the patient with changed details applied, UNREADABLE when that is not possible."""
    patients, _ = readable(contents, "patient", patient_from_doc)
    changes, _ = readable(contents, "details", details_from_doc)
    return applied(patients[0], changes) if patients else UNREADABLE


def findings_between(
    contents: Contents,
    sessions: Sequence[Session],
    amendments: Sequence[Amendment],
    details: Sequence[DetailsChange],
    transfers: Sequence[Transfer],
    written: Sequence[Written],
) -> Iterator[tuple[str, str]]:
    """List what is wrong between the documents of a chart, beside each session's own signature.

    Returns:
        Where, "" or a comma with table and number, and what is wrong.
    """
    for what in amendment_findings(sessions, amendments):
        yield "", what
    parted = details_branches(contents, details, written)
    for what in details_findings(details, parted.lost):
        yield "", what
    for what in transfer_findings((session.id for session in sessions), transfers):
        yield "", what
    for spot, what in link_findings(written):
        yield f", {spot}", what


def details_branches(
    contents: Contents, details: Sequence[DetailsChange], written: Sequence[Written]
) -> Branches:
    """Find where changed details part, and which miss the one before them."""
    links = ((change.id, change.hash, change.made_on) for change in details)
    return branches(written, "details", links, patient_sum(contents))


def session_branches(sessions: Sequence[Session], written: Sequence[Written]) -> Branches:
    """Find where the chain of closed sessions parts, and which miss the one before them."""
    links = ((each.id, each.seal.hash, each.seal.parent) for each in sessions if each.seal)
    return branches(written, "sessions", links, "")


def amendment_findings(sessions: Iterable[Session], amendments: Sequence[Amendment]) -> list[str]:
    """List what is wrong with amendments: each altered one, and each link that leads nowhere."""
    by_id = {session.id: session for session in sessions}
    findings: list[str] = []
    for amendment in amendments:
        session = by_id.get(amendment.parent)
        name = f"the amendment by {amendment.author} on {amendment.at}"
        if not signature_holds(amendment):
            findings.append(f"{name} is not what was signed")
        if session is None:
            findings.append(f"{name} is of a session that is missing")
            continue
        known = {a.hash for a in amendments if a.parent == session.id} | {hash_of(session)}
        if not amendment.made_on or not known.issuperset(amendment.made_on):
            findings.append(f"{name} was made on a document that is missing or was altered")
        elif amendment.settles:
            left_out = set(chain_of(session, amendments).disputed(amendment.made_on))
            if left_out - amendment.stations:
                findings.append(f"{name} settles a conflict without saying what holds")
    return findings


def readable(
    contents: Contents,
    name: str,
    build: Callable[[Json], T],
    unread: Callable[[Unread], T] | None = None,
) -> tuple[list[T], list[tuple[str, str]]]:
    """Read the sound documents of one table; list (number, what is wrong) of the others.

    Args:
        contents: what could be read of the chart file.
        name: of the table.
        build: makes something of a document's body.
        unread: makes it of a body that was not read; it is read when there is no such way.
    """
    found: list[T] = []
    damaged: list[tuple[str, str]] = []
    for number, document in in_order(contents.tables, name):
        waiting = unread_of(document)
        try:
            if unread and waiting:
                found.append(unread(waiting))
            elif (body := body_of(document)) is not None:
                found.append(build(body))
            else:
                damaged.append((number, "the document does not match its checksum"))
        except (KeyError, TypeError, ValueError, AttributeError, Damaged) as error:
            what = f"the document cannot be understood ({type(error.__cause__ or error).__name__})"
            damaged.append((number, what))
    return found, damaged


def in_chain_order(sessions: Iterable[Session]) -> tuple[Session, ...]:
    """Order closed sessions by their signatures' parents; where these do not say, as written."""
    given = tuple(sessions)
    hashes = {_links(session)[1] for session in given}
    following: dict[str, list[int]] = {}
    for place, session in enumerate(given):
        following.setdefault(_links(session)[0], []).append(place)
    waiting = [place for place, one in enumerate(given) if _links(one)[0] not in hashes]
    ordered: dict[int, Session] = {}
    while waiting:  # sorted, so it is a heap
        place = heappop(waiting)
        if place not in ordered:
            ordered[place] = given[place]
            for other in following.get(_links(given[place])[1], ()):
                heappush(waiting, other)
    ring = (one for place, one in enumerate(given) if place not in ordered)  # only a forged one
    return (*ordered.values(), *ring)


def _links(session: Session) -> tuple[str, str]:
    """Find the hash of the session closed before, and of this one."""
    return ("", "") if session.seal is None else (session.seal.parent, session.seal.hash)
