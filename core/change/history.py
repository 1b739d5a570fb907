"""Who did what when in one chart, in the order of its documents' links, and every past state.

A step is one document. The state after a step is made from the documents up to it and from
nothing else, so what was shown on a day can be shown again. Times are as they were written:
a clock that was wrong is there with its wrong time, and orders nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

from ..chart.amendment import Amendment
from ..chart.chain import Chain, chain_of
from ..chart.chart import Chart
from ..chart.details import applied, change_words, details_doc
from ..chart.event import Event
from ..chart.events import amount_words, given_words
from ..chart.goals import goal_texts, readable
from ..chart.links import Written
from ..chart.patient import Patient
from ..chart.session import Session
from ..chart.transfer import Transfer
from ..tardieu.reading import Reading, reading_to_doc
from ..tardieu.reading_words import difference_words, reading_words, station_words
from ..text import counted

Kind = Literal[
    "created", "session", "import", "amendment", "settlement", "event", "details", "transfer"
]

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class AmendedStation:
    """One station as an amendment changed it.

    Attributes:
        station: muscle group, side in full, fast velocity.
        old: the readings it took the place of; more than one when it settles a conflict.
        new: the reading it gives, None when it withdraws the old one.
    """

    station: str
    old: tuple[Reading | None, ...]
    new: Reading | None

    @property
    def words(self) -> str:
        """Old -> new; angles in deg as typed."""
        if len(self.old) == 1:
            return f"{self.station}: {difference_words(self.old[0], self.new)}"
        olds = " or ".join(reading_words(old) for old in self.old)
        return f"{self.station}: {olds} -> {reading_words(self.new)}"


@dataclass(frozen=True, slots=True)
class Step:
    """One document of a chart.

    Attributes:
        number: from 1.
        kind: what it is.
        who: who signed or wrote it, "" when that was not recorded.
        at: ISO 8601 time as it was written, "" when it was not recorded.
        hash: what it is named by: the signature's hash, else its checksum.
        document: its table and id.
        what: what it did, in one line each.
        session: date of the session it is about, in words; "" for none.
        changes: of an amendment.
        conflict: hashes of the amendments that disagree from this step on, until settled.
        details: of a change of details, the former and the new ones; else ().
    """

    number: int
    kind: Kind
    who: str
    at: str
    hash: str
    document: tuple[str, str]
    what: tuple[str, ...]
    session: str = ""
    changes: tuple[AmendedStation, ...] = ()
    conflict: tuple[str, ...] = ()
    details: tuple[Patient, ...] = ()


def history(chart: Chart) -> tuple[Step, ...]:
    """List every step of a chart; damaged documents are left out and are in its problems."""
    sessions = {session.id: session for session in chart.sessions}
    amendments = {amendment.id: amendment for amendment in chart.amendments}
    events = {event.id: event for event in chart.events}
    texts = goal_texts(chart.events)
    details = {change.id: place for place, change in enumerate(chart.details)}
    transfers = {transfer.id: transfer for transfer in chart.transfers}
    apart = set(_closed_apart(chart.sessions))
    steps: list[Step] = []
    for each in chart.written:
        number = len(steps) + 1
        if each.table == "patient":
            steps.append(_created(number, each))
        elif each.table == "sessions" and each.id in sessions:
            steps.append(_session(number, sessions[each.id], each.id in apart))
        elif each.table == "amendments" and each.id in amendments:
            steps.append(_amendment(number, amendments[each.id], chart, steps))
        elif each.table == "events" and each.id in events:
            steps.append(_event(number, each, readable(events[each.id], texts)))
        elif each.table == "details" and each.id in details:
            steps.append(_details(number, chart, details[each.id]))
        elif each.table == "transfers" and each.id in transfers:
            steps.append(_transfer(number, transfers[each.id], sessions))
    return tuple(steps)


def chart_at(chart: Chart, steps: Iterable[Step]) -> Chart:
    """Make the chart with the documents of some steps only, and no problems of its own."""
    there = {step.document for step in steps}
    details = tuple(d for d in chart.details if ("details", d.id) in there)
    return replace(
        chart,
        patient=applied(chart.created, details) if chart.created else chart.patient,
        details=details,
        sessions=tuple(s for s in chart.sessions if ("sessions", s.id) in there),
        amendments=tuple(a for a in chart.amendments if ("amendments", a.id) in there),
        events=tuple(e for e in chart.events if ("events", e.id) in there),
        transfers=tuple(t for t in chart.transfers if ("transfers", t.id) in there),
        problems=(),
    )


def step_named(steps: tuple[Step, ...], name: str) -> Step | None:
    """Find a step by its number or the beginning of its hash; None for none or several."""
    if name.isascii() and name.isdecimal() and 1 <= int(name) <= len(steps):
        return steps[int(name) - 1]
    found = [step for step in steps if len(name) >= 6 and step.hash.startswith(name.lower())]
    return found[0] if len(found) == 1 else None


def _created(number: int, written: Written) -> Step:
    document, what = ("patient", written.id), ("chart created",)
    return Step(number, "created", written.author, written.at, written.sum, document, what)


def _closed_apart(sessions: Sequence[Session]) -> Iterator[str]:
    """Ids of the sessions that were closed at a site without the one listed before them."""
    known = {one.seal.hash for one in sessions if one.seal}
    for before, session in pairwise(sessions):
        parent = session.seal.parent if session.seal else ""
        if before.seal and parent != before.seal.hash and (not parent or parent in known):
            yield session.id


def _session(number: int, session: Session, apart: bool) -> Step:
    seal = session.seal
    signed = (seal.author, seal.at, seal.hash) if seal else ("", "", "")
    imported = session.source == "import"
    people = f"examiner {session.examiner}, recorder {session.recorder}"
    what = (
        f"session started {session.started}, {people}",
        session.conditions.typed_later_words,
        "blind rating: last values were hidden" if session.conditions.blind else "",
        f"{'imported' if imported else 'closed'} with {counted(len(session.readings), 'reading')}",
        "closed at another site, where the session before it was not known" if apart else "",
    )
    kind, document = "import" if imported else "session", ("sessions", session.id)
    return Step(number, kind, *signed, document, tuple(filter(None, what)), session.date_words)


def _event(number: int, written: Written, event: Event) -> Step:
    where = " ".join(word for word in (event.muscle, event.side) if word)
    what = f"event: {event.kind} on {event.date}" + (f", {where}" if where else "")
    weight = "" if event.weight is None else f"weight: {amount_words(event.weight)}"
    given = f"given: {words}" if (words := given_words(event)) else ""
    note = f"note: {event.note}" if event.note else ""
    signed, document = (written.author, written.at, written.sum), ("events", event.id)
    lines = tuple(filter(None, (what, given, note, weight)))
    return Step(number, "event", *signed, document, lines)


def _details(number: int, chart: Chart, place: int) -> Step:
    change = chart.details[place]
    old = applied(chart.created or chart.patient, chart.details[:place])
    new = applied(old, [change])
    apart = place and change.made_on != chart.details[place - 1].hash
    what = (
        *change_words(old, new),
        f"reason: {change.reason or 'not stated'}",
        *(["made at another site, where the change before it was not known"] if apart else []),
    )
    signed, document = (change.author, change.at, change.hash), ("details", change.id)
    return Step(number, "details", *signed, document, what, details=(old, new))


def _transfer(number: int, transfer: Transfer, sessions: Mapping[str, Session]) -> Step:
    session = sessions.get(transfer.session)
    chart = (f"the other chart: {transfer.chart}",) if transfer.chart else ()
    what = (transfer.words, *chart, f"reason: {transfer.reason}")
    signed, document = (transfer.author, transfer.at, transfer.hash), ("transfers", transfer.id)
    return Step(number, "transfer", *signed, document, what, session.date_words if session else "")


def _amendment(number: int, amendment: Amendment, chart: Chart, before: list[Step]) -> Step:
    signed = (amendment.author, amendment.at, amendment.hash)
    kind = "settlement" if amendment.settles else "amendment"
    document, what = ("amendments", amendment.id), (f"reason: {amendment.reason}",)
    step = Step(number, kind, *signed, document, what)
    session = next((s for s in chart.sessions if s.id == amendment.parent), None)
    if session is None:
        return replace(step, what=(*step.what, "of a session that is missing"))
    there = {each.document for each in (*before, step)}
    chain = chain_of(session, (a for a in chart.amendments if ("amendments", a.id) in there))
    conflict = tuple(each.hash for each in chain.conflict)
    changes = _changes(amendment, chain)
    return replace(step, session=chain.session.date_words, changes=changes, conflict=conflict)


def _changes(amendment: Amendment, chain: Chain) -> tuple[AmendedStation, ...]:
    parents = chain.parents.get(amendment.hash, ())
    found: list[AmendedStation] = []
    for station in sorted(amendment.stations):
        olds = tuple(dict.fromkeys(chain.states[p].get(station) for p in parents))
        new = chain.states[amendment.hash].get(station)
        named = new or next((old for old in olds if old), None)
        name = station_words(named) if named else " ".join(station)
        found.append(AmendedStation(name, olds, new))
    return tuple(found)


def step_doc(step: Step) -> Json:
    """Write a step as JSON."""
    return {
        "step": step.number,
        "kind": step.kind,
        "who": step.who,
        "at": step.at,
        "hash": step.hash,
        "session": step.session,
        "what": list(step.what),
        "changes": [
            {
                "station": change.station,
                "old": [reading_to_doc(old) if old else None for old in change.old],
                "new": reading_to_doc(change.new) if change.new else None,
            }
            for change in step.changes
        ],
        "conflict": list(step.conflict),
        "details": [details_doc(patient) for patient in step.details],
    }
