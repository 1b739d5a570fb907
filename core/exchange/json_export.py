"""Charts as one JSON object: every reading as typed and as computed, with its sources."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict

from ..chart.amendment import Amendment
from ..chart.chain import Chain
from ..chart.chart import Chart
from ..chart.details import details_doc
from ..chart.event import shown_doc
from ..chart.events import standing
from ..chart.goals import goals_doc
from ..chart.patient import Patient, reference_for
from ..chart.session import Session, session_to_doc
from ..chart.strict_json import Json
from ..problem import Problem
from ..tardieu.components import shortfall_of
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading, reading_to_doc
from ..tardieu.reference import Reference


def render(document: Json) -> bytes:
    """Write the bytes of a JSON document: ASCII throughout, so no terminal can act on it."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, indent=2)
    return text.encode("ascii") + b"\n"


def one_line(document: Json) -> bytes:
    """Write a JSON document without a line break: no text has one of its own."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.encode("ascii")


def written_list(
    document: Json, name: str, items: Iterable[Json], in_lines: bool = False
) -> Iterator[bytes]:
    """Write render({**document, name: [*items]}) piece by piece, one item in memory at a time.

    Args:
        document: what comes beside the items.
        name: of the list.
        items: its items.
        in_lines: write each item on one line, which takes half the bytes and a fraction of
            the time.
    """
    head, empty, tail = render({**document, name: []}).rpartition(f'"{name}": []'.encode("ascii"))
    before = b"[\n"
    yield head + empty[:-2]
    for item in items:
        # No text has a line break of its own, so each one stands between values.
        written = one_line(item) if in_lines else render(item).rstrip(b"\n")
        yield before + b"    " + written.replace(b"\n", b"\n    ")
        before = b",\n"
    yield (b"[]" if before == b"[\n" else b"\n  ]") + tail


def chart_doc(chart: Chart, muscles: Mapping[str, Muscle]) -> Json:
    """Build the document of one patient, closed sessions from the earliest start on."""
    chains = {chain.session.id: chain for chain in chart.chains}
    sessions = [_session(session, chains[session.id], chart, muscles) for session in chart.by_date]
    return {
        "code": chart.patient.code,
        **details_doc(chart.patient),
        "sessions": sessions,
        "events": [shown_doc(event) for event in standing(chart.events)],
        "problems": [problem_doc(problem) for problem in chart.problems],
        **goals_doc(chart.events),
    }


def problem_doc(problem: Problem) -> Json:
    """Build a problem as JSON."""
    return asdict(problem)


def _session(session: Session, chain: Chain, chart: Chart, muscles: Mapping[str, Muscle]) -> Json:
    """Build a session as its amendments leave it, and as it was signed where they changed it.

    The signature in ``closed`` is over the session as it was signed. ``conflict`` has the
    hashes of amendments that disagree; what they disagree about is as it was before them.
    """
    document = session_to_doc(session)
    amendments, signed = chain.amendments, chain.session
    return {
        "started": session.started,
        "date": session.when.date().isoformat(),
        "examiner": session.examiner,
        "recorder": session.recorder,
        "checklist": {"id": session.checklist.id, "name": session.checklist.name},
        "conditions": document["conditions"],
        "source": session.source,
        "rules": session.rules,
        "closed": document["seal"],
        "readings": [_reading(r, session, chart.patient, muscles) for r in session.readings],
        "amendments": [_amendment(amendment) for amendment in amendments],
        "conflict": [amendment.hash for amendment in chain.conflict],
        "signed_readings": [reading_to_doc(r) for r in signed.readings] if amendments else None,
    }


def _amendment(amendment: Amendment) -> Json:
    return {
        "author": amendment.author,
        "reason": amendment.reason,
        "at": amendment.at,
        "readings": [reading_to_doc(reading) for reading in amendment.readings],
        "withdrawn": [
            {"muscle": muscle, "side": side.value, "fast_velocity": velocity}
            for muscle, side, velocity in amendment.withdrawn
        ],
        "made_on": list(amendment.made_on),
        "hash": amendment.hash,
    }


def _reading(
    reading: Reading, session: Session, patient: Patient, muscles: Mapping[str, Muscle]
) -> Json:
    """Build a reading as typed, with stretch angles, gap, shortfall and its reference."""
    unknown = "this muscle group is not in the list of muscle groups"
    muscle = muscles.get(reading.muscle)
    reference = reference_for(patient, muscle, session.when, unknown)
    found = isinstance(reference, Reference)
    return {
        **reading_to_doc(reading),
        "speed_deg_s": reading.speed_deg_s,
        "r1_stretch": reading.r1_stretch,
        "r2_stretch": reading.r2_stretch,
        "gap": reading.gap,
        "shortfall": shortfall_of(reading, reference),
        "reference": asdict(reference) if found else None,
        "no_reference": "" if found else reference,
    }
