"""One patient's chart: sessions as signed, amendments beside them, events, and damage."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from typing import TypeVar

from ..checklist import stations_of
from ..patient import Patient, patient_from_doc
from ..problem import Problem
from ..reading import Reading, reading_from_doc, reading_to_doc
from ..session import (
    Session,
    canonical,
    seal_holds,
    session_from_doc,
    session_to_doc,
    sorted_by_start,
)
from .document import Contents, Json, body_of, in_order, parse_json
from .errors import ShelfError

T = TypeVar("T")

UNREADABLE = Patient("UNREADABLE")
"""Stands for a patient document that is damaged: a guessed code could be another patient's."""

RESTORE = "restore the file from a backup; what is shown here is sound"


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
    """

    id: str
    parent: str
    author: str
    reason: str
    at: str
    readings: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class Event:
    """Something done on a date, to be shown beside the readings, e.g. an injection.

    Attributes:
        id: random id.
        kind: short word.
        date: YYYY-MM-DD.
        muscle: id of a muscle group, "" when it concerns none or all.
        side: "left", "right" or "".
        note: free text.
    """

    id: str
    kind: str
    date: str
    muscle: str
    side: str
    note: str


@dataclass(frozen=True, slots=True)
class Chart:
    """Everything one chart file holds.

    Attributes:
        id: the chart's random id.
        patient: the patient; UNREADABLE when that document is damaged.
        sessions: closed sessions exactly as they were signed, in the order of closing, which
            is the order of their signatures' parents and never that of a clock.
        amendments: in the order in which they were written.
        events: in the order in which they were written.
        problems: damaged documents, left out above.
    """

    id: str
    patient: Patient
    sessions: tuple[Session, ...]
    amendments: tuple[Amendment, ...]
    events: tuple[Event, ...]
    problems: tuple[Problem, ...]

    @property
    def current(self) -> tuple[Session, ...]:
        """The sessions with amendments applied, in the order of closing.

        An amended session keeps its signature, which no longer fits its readings.
        """
        return tuple(amended(session, self.amendments) for session in self.sessions)

    @property
    def by_date(self) -> tuple[Session, ...]:
        """The sessions with amendments applied, from the earliest start to the latest."""
        return sorted_by_start(self.current)


def amended(session: Session, amendments: Iterable[Amendment]) -> Session:
    """The session as its amendments leave it; a later amendment wins over an earlier one."""
    readings = {reading.station: reading for reading in session.readings}
    before = len(readings)
    for amendment in amendments:
        if amendment.parent == session.id:
            readings.update({reading.station: reading for reading in amendment.readings})
    ordered = list(readings.values())
    if len(ordered) > before:
        stations = stations_of(session.checklist)
        places = {(item.muscle, side): place for place, (item, side) in enumerate(stations)}
        ordered.sort(key=lambda r: places.get((r.muscle, r.side), len(places)))
    return replace(session, readings=tuple(ordered))


def amendment_to_doc(amendment: Amendment) -> Json:
    """The amendment as a JSON document."""
    return {
        "id": amendment.id,
        "parent": amendment.parent,
        "author": amendment.author,
        "reason": amendment.reason,
        "at": amendment.at,
        "readings": [reading_to_doc(reading) for reading in amendment.readings],
    }


def amendment_from_doc(doc: Json) -> Amendment:
    """The amendment in a JSON document."""
    readings = tuple(reading_from_doc(reading) for reading in doc["readings"])
    return Amendment(doc["id"], doc["parent"], doc["author"], doc["reason"], doc["at"], readings)


def event_to_doc(event: Event) -> Json:
    """The event as a JSON document."""
    return asdict(event)


def event_from_doc(doc: Json) -> Event:
    """The event in a JSON document."""
    names = ("id", "kind", "date", "muscle", "side", "note")
    return Event(**{name: doc[name] for name in names})


def closed_session_from_doc(doc: Json) -> Session:
    """The closed session in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when it is none, or not signed, or its start does
            not say its offset.
    """
    session = session_from_doc(doc)
    if session.seal is None or session.when.utcoffset() is None:
        raise ValueError("not a closed session")
    return session


def plain(session: Session) -> Session:
    """The session as it will be read back.

    Raises:
        ShelfError: when it has no written form, or its start does not say its offset.
    """
    try:
        read_back = session_from_doc(parse_json(canonical(session_to_doc(session))))
        aware = read_back.when.utcoffset() is not None
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise ShelfError(
            f"The session has no written form ({error}): nothing was changed"
        ) from error
    if not aware:
        raise ShelfError("The start of the session has no UTC offset: nothing was changed")
    return read_back


def build_chart(chart_id: str, where: str, contents: Contents) -> Chart:
    """The chart in a chart file; whatever is damaged becomes a Problem.

    Args:
        chart_id: the chart's id.
        where: name of the file, for the problems.
        contents: what could be read of it.
    """
    problems: list[Problem] = []
    if contents.damage:
        problems.append(Problem(where, f"the file is damaged: {contents.damage}", RESTORE))

    def table(name: str, build: Callable[[Json], T]) -> list[T]:
        found, damaged = readable(contents, name, build)
        for number, what in damaged:
            problems.append(Problem(f"{where}, {name} {number}", what, RESTORE))
        return found

    patients = table("patient", patient_from_doc)
    if not patients and not problems:
        problems.append(Problem(where, "the patient's document is missing", RESTORE))
    sessions = in_chain_order(table("sessions", closed_session_from_doc))
    for session in sessions:
        if not seal_holds(session):
            what = f"the session of {session.date_words} is not what was signed"
            problems.append(Problem(where, what, RESTORE))
    return Chart(
        chart_id,
        patients[0] if patients else UNREADABLE,
        sessions,
        tuple(table("amendments", amendment_from_doc)),
        tuple(table("events", event_from_doc)),
        tuple(problems),
    )


def readable(
    contents: Contents, name: str, build: Callable[[Json], T]
) -> tuple[list[T], list[tuple[str, str]]]:
    """What the sound documents of one table say, and (number, what is wrong) of the others."""
    found: list[T] = []
    damaged: list[tuple[str, str]] = []
    for number, document in in_order(contents.tables, name):
        built = _built(document, build)
        if isinstance(built, str):
            damaged.append((number, built))
        else:
            found.append(built[0])
    return found, damaged


def _built(document: object, build: Callable[[Json], T]) -> tuple[T] | str:
    """What a document says, or what is wrong with it."""
    body = body_of(document)
    if body is None:
        return "the document does not match its checksum"
    try:
        return (build(body),)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        return f"the document cannot be understood ({type(error).__name__})"


def in_chain_order(sessions: Iterable[Session]) -> tuple[Session, ...]:
    """Closed sessions by their signatures' parents; after a lost link, as they were written."""
    given = list(enumerate(sessions))
    hashes = {_links(session)[1] for _, session in given}
    following: dict[str, list[tuple[int, Session]]] = {}
    for place, session in given:
        following.setdefault(_links(session)[0], []).append((place, session))
    heads = [(p, s) for p, s in given if _links(s)[0] not in hashes]
    ordered: dict[int, Session] = {}
    waiting = [*reversed(given), *reversed(heads)]  # taken from the end: heads come first
    while waiting:
        place, session = waiting.pop()
        if place not in ordered:
            ordered[place] = session
            waiting += reversed(following.get(_links(session)[1], []))
    return tuple(ordered.values())


def _links(session: Session) -> tuple[str, str]:
    """Hash of the session closed before, and of this one."""
    return ("", "") if session.seal is None else (session.seal.parent, session.seal.hash)
