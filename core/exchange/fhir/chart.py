"""One chart as FHIR R4 (4.0.1) resources; see bundle.py for what is made of them.

A Patient, an Observation for each station of each closed session, a Procedure for a session
whose conditions were stated, a Provenance for each session and each amendment, and a resource for
each treatment date (event.py), goal and score (goal.py).
Ids are name-based (UUID version 5) on what the documents themselves are called, so they are
the same in every export and on every shelf. Every resource also carries its id as an identifier,
for a server that gives ids of its own; a Patient carries the code, and a Provenance none, as
R4 has no such element there. A station that an amendment withdrew stays in, as
entered-in-error, and so does every station of a session that was withdrawn or moved to another
chart, so that whoever took over an earlier export learns of it.

Nothing in it is the same twice by chance: no time of the export, no random id, so the same
charts give the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain as joined
from uuid import UUID, uuid5

from ...chart.amendment import withdrawn_readings
from ...chart.chain import Chain
from ...chart.chart import UNREADABLE, Chart
from ...chart.session import Session
from ...chart.strict_json import Json
from ...chart.transfer import Transfer
from ...tardieu.muscles import Muscle
from ...tardieu.reading import Reading, StationKey
from .codes import PATIENT, RESOURCE, ROLE, SHA_256, concept, standard
from .event import events_of
from .goal import goals_of_chart
from .station import (
    observation,
    reference_code,
    reference_of,
    reference_words,
    site,
    text,
    whole_session,
)

_NAMESPACE = UUID("6c1d6a52-6f0e-5b7e-9d52-0b6f6f3f4a10")
"""Name space of the ids, drawn once."""


@dataclass(frozen=True)
class Export:
    """What the charts of one export share.

    Attributes:
        muscles: all muscle groups by id, for names and reference ranges.
        on_server: a reference names type and id, as on a server, and not the fullUrl of a bundle.
        sites: code -> display and definition, of all that the resources so far use.
        references: the same of the people of whom a reference range was published.
    """

    muscles: Mapping[str, Muscle]
    on_server: bool
    sites: dict[str, tuple[str, str]]
    references: dict[str, tuple[str, str]]

    def to(self, kind: str, id_: str) -> Json:
        """Build the reference to a resource of the export."""
        return {"reference": f"{kind}/{id_}" if self.on_server else full_url(id_)}

    def all_to(self, kind: str, ids: Iterable[str]) -> list[Json]:
        """Build the references to several resources of one type."""
        return [self.to(kind, id_) for id_ in ids]


def full_url(id_: str) -> str:
    """Name a resource as an entry of a bundle does."""
    return f"urn:uuid:{id_}"


def id_of(*names: str) -> str:
    """Make an id of what a thing is called."""
    # A line feed is in none of the names, so no two lists of names give the same text.
    return str(uuid5(_NAMESPACE, "\n".join(names)))


def identified(id_: str) -> Json:
    """Build id and identifier of a resource."""
    return {"id": id_, "identifier": [{"system": RESOURCE, "value": id_}]}


def resources_of(chart: Chart, export: Export) -> list[Json]:
    """Build the resources of one chart; the codes it needs are added to the export."""
    patient = _patient(chart)
    resources = [patient]
    subject = export.to("Patient", patient["id"])
    for chain in sorted(chart.every_chain, key=lambda chain: chain.session.when):
        resources += _session(chain, chart, export, subject)

    def own(event_id: str) -> str:
        return id_of("event", patient["id"], event_id)

    done = events_of(chart, export.muscles, export.sites)
    goals = goals_of_chart(chart, lambda event_id: export.to("Observation", own(event_id)))
    for event, resource in joined(done, goals):
        resources.append({**resource, **identified(own(event.id)), "subject": subject})
    return resources


def _session(chain: Chain, chart: Chart, export: Export, patient: Json) -> Iterator[Json]:
    """Build the resources of one session; ``patient`` refers to the patient."""
    session, left = chain.current(), chart.withdrawn.get(chain.session.id)
    subject: Json = {"subject": patient}
    part = id_of("conditions", session.id)
    parts: list[Json] = []
    if whole := whole_session(session):
        status = "entered-in-error" if left else "completed"
        head = {"resourceType": "Procedure", **identified(part), "status": status}
        yield {**head, **subject, **whole}
        subject["partOf"] = parts = [export.to("Procedure", part)]
    by_station: dict[StationKey, list[str]] = {}
    for reading, standing in _readings(chain, session):
        ids = by_station.setdefault(reading.station, [])
        own = id_of("observation", session.id, *_names(reading.station), str(len(ids)))
        ids.append(own)
        status = "entered-in-error" if left else standing
        head = {"resourceType": "Observation", **identified(own), "status": status, **subject}
        issued = _issued(chain, reading.station)
        about = {"issued": issued} if issued else {}
        yield {**head, **about, **_observation(reading, session, chart, export)}
    stations = export.all_to("Observation", joined.from_iterable(by_station.values()))
    everything = [*parts, *stations] or [patient]
    yield from _provenances(chain, by_station, everything, export)
    if left:
        yield _withdrawal(left, session, everything)


def _observation(reading: Reading, session: Session, chart: Chart, export: Export) -> Json:
    """Build what an Observation says of one reading; the codes go into the export."""
    code, words = site(reading, export.muscles)
    export.sites[code] = words
    if reference := reference_of(reading, session, chart.patient, export.muscles):
        export.references[reference_code(reference)] = reference_words(reference)
    return observation(reading, session, reference, export.muscles)


def _readings(chain: Chain, session: Session) -> Iterator[tuple[Reading, str]]:
    """Each reading that holds or held, with its status."""
    disputed = set(chain.disputed(chain.tips)) if chain.conflict else set[StationKey]()
    for reading in session.readings:
        before = any(former.reading for former in chain.formers(reading.station))
        settled = "amended" if before else "final"
        yield reading, "unknown" if reading.station in disputed else settled
    for reading in withdrawn_readings(chain.session, chain.amendments, session):
        yield reading, "entered-in-error"


def _names(station: StationKey) -> tuple[str, str, str]:
    muscle, side, velocity = station
    return muscle, side.value, velocity


def _issued(chain: Chain, station: StationKey) -> str:
    """When what is said of a station was signed, "" when that is not known."""
    times = [amendment.at for amendment in chain.amendments if station in amendment.stations]
    seal = chain.session.seal
    return _instant(times[-1] if times else seal.at if seal else "")


def _instant(at: str) -> str:
    """Write a time with its offset as FHIR has it, "" when it is not a time."""
    try:
        when = datetime.fromisoformat(at)
    except ValueError:
        return ""
    return "" if when.utcoffset() is None else when.isoformat(timespec="seconds")


def _provenances(
    chain: Chain,
    by_station: Mapping[StationKey, list[str]],
    everything: list[Json],
    export: Export,
) -> Iterator[Json]:
    """Who signed the session, which is everything, and who amended what of it why."""
    session, seal = chain.session, chain.session.seal
    root = id_of("session", session.id)
    author, at, hash_ = (seal.author, seal.at, seal.hash) if seal else ("", "", "")
    first = _provenance(root, everything, author, at, session)
    first["activity"] = {"text": f"session closed and signed ({session.source})"}
    first["entity"] = [_document("source", hash_, "the session as it was signed")]
    yield first
    names = {hash_: "the session as it was signed"}
    names |= {a.hash: f"the amendment by {text(a.author)} of {a.at}" for a in chain.amendments}
    for amendment in chain.amendments:
        own = id_of("amendment", session.id, amendment.hash)
        ids = (o for s in by_station for o in by_station[s] if s in amendment.stations)
        touched = export.all_to("Observation", ids)
        later = _provenance(own, touched or everything, amendment.author, amendment.at, session)
        later["activity"] = {"text": "conflict settled" if amendment.settles else "amendment"}
        later["reason"] = [{"text": text(amendment.reason) or "not stated"}]
        later["entity"] = [
            *(
                _document("revision", made_on, names.get(made_on, "a document that is missing"))
                for made_on in amendment.made_on
            ),
            _document("source", amendment.hash, "the amendment as it was signed"),
        ]
        yield later


def _withdrawal(left: Transfer, session: Session, everything: list[Json]) -> Json:
    """Who withdrew a session, or moved it to another chart, and why."""
    own = id_of("transfer", session.id, left.hash)
    last = _provenance(own, everything, left.author, left.at, session)
    last["activity"] = {"text": f"session {left.words}"}
    last["reason"] = [{"text": text(left.reason) or "not stated"}]
    last["entity"] = [_document("source", left.hash, "the withdrawal as it was signed")]
    return last


def _provenance(id_: str, targets: list[Json], author: str, at: str, session: Session) -> Json:
    role = standard(ROLE, "author", "Author")
    return {
        "resourceType": "Provenance",
        "id": id_,
        "target": targets,
        "occurredDateTime": session.when.isoformat(timespec="seconds"),
        "recorded": _instant(at) or session.when.isoformat(timespec="seconds"),
        "agent": [
            {
                "type": concept(role),
                "who": {"display": text(author) or "not stated"},
            }
        ],
    }


def _document(role: str, hash_: str, words: str) -> Json:
    """Build a signed document as entity: named by its hash, which is its signature."""
    what = {"identifier": {"system": SHA_256, "value": hash_ or "not signed"}, "display": words}
    return {"role": role, "what": what}


def _patient(chart: Chart) -> Json:
    """Build the patient as code, month or year of birth and sex: no more is known."""
    patient = chart.patient
    # Charts whose patient cannot be read must not become one patient.
    own = (chart.id,) if patient == UNREADABLE else ()
    resource: Json = {
        "resourceType": "Patient",
        "id": id_of("patient", patient.code, *own),
        "identifier": [{"system": PATIENT, "value": patient.code}],
    }
    if patient.sex:
        resource["gender"] = patient.sex
    if patient.born:
        resource["birthDate"] = patient.born  # R4 date: YYYY or YYYY-MM is enough
    return resource
