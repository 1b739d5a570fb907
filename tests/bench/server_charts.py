"""Many charts on a shelf in PostgreSQL, made by COPY: what the program would have written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import psycopg
from limbscribe.core.chart import document
from limbscribe.core.chart.event import Event, event_to_doc
from limbscribe.core.chart.events import TOXIN
from limbscribe.core.chart.links import RECORDED, linked_documents
from limbscribe.core.chart.patient import Patient, patient_to_doc
from limbscribe.core.chart.pieces import take_apart
from limbscribe.core.chart.session import sealed, session_to_doc
from limbscribe.core.shelf.index import summary_of

from tests.support.shelves import session

COURSES = 400
"""Different courses of visits; charts that share one differ in patient, sums and links."""

_BEGUN = datetime(2021, 1, 4, 9, tzinfo=UTC)
_BATCH = 2000
_CHARTS = "COPY limbscribe.charts (id, site, form, total, size, code, last, came, entry) FROM STDIN"
_DOCUMENTS = "COPY limbscribe.documents (chart, kind, number, site, written, body) FROM STDIN"

Course = tuple[list[dict[str, Any]], list[dict[str, Any]]]
"""Bodies of the sessions and of the events of a chart."""


def code_of(number: int) -> str:
    """The patient code of a chart."""
    return f"P-{number:06d}"


def id_of(number: int) -> str:
    """The id of a chart."""
    return hashlib.sha256(b"%d" % number).hexdigest()[:32]


def fill(url: str, charts: int, sessions: int, site: str = "") -> None:
    """Fill an empty shelf; sums, links and signatures are those the program would write.

    Args:
        url: for a role that may do everything.
        charts: how many.
        sessions: in each, of two stations.
        site: whose they are.
    """
    courses = [_course(n, sessions) for n in range(COURSES)]
    with psycopg.connect(url) as connection:
        # Without checking every document for its chart, which takes as long as the rest.
        connection.execute("SET session_replication_role = replica")
        for first in range(0, charts, _BATCH):
            made = [
                _chart(n, courses[n % COURSES], site)
                for n in range(first, min(first + _BATCH, charts))
            ]
            _copy(connection, _CHARTS, (row for row, _ in made))
            _copy(connection, _DOCUMENTS, (row for _, rows in made for row in rows))
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute("VACUUM (ANALYZE) limbscribe.charts, limbscribe.documents")
        connection.execute("CHECKPOINT")


def _copy(connection: psycopg.Connection, sql: str, rows: Iterator[tuple[Any, ...]]) -> None:
    with connection.cursor().copy(sql) as copy:
        for row in rows:
            copy.write_row(row)


def _course(number: int, sessions: int) -> Course:
    """Visits ten weeks apart; one in five was treated in between, one in fifty after the last."""
    bodies: list[dict[str, Any]] = []
    parent = ""
    for n in range(sessions):
        start = _BEGUN + timedelta(days=2 * number + 70 * n, minutes=17 * number % 480)
        one = session(f"{number:016x}{n:016x}", start.isoformat())
        signed = sealed(one, "RE", (start + timedelta(minutes=40)).isoformat(), parent)
        parent = signed.seal.hash if signed.seal else ""
        bodies.append(session_to_doc(signed))
    visit = sessions if number % 50 == 0 else sessions - 3
    day = (_BEGUN + timedelta(days=2 * number + 70 * visit)).date().isoformat()
    treated = [event_to_doc(Event(f"{number:032x}", TOXIN, day, "soleus", "left", ""))]
    return bodies, [] if number % 5 else treated


def _chart(number: int, course: Course, site: str) -> tuple[tuple[Any, ...], list[tuple[Any, ...]]]:
    """The row of a chart and those of its documents, by way of the file of a folder."""
    chart = id_of(number)
    sessions, events = course
    recorded = {RECORDED: {"author": "RE", "at": _BEGUN.isoformat()}}
    patient = Patient(code_of(number), 1940 + number % 70, "female", "stroke", "left", 165)
    bodies = [{**patient_to_doc(patient), **recorded}, *sessions]
    bodies += [{**event, **recorded} for event in events]
    first, *others = linked_documents({}, bodies)
    tables = {"patient": {"1": first}}
    for name, some in (("sessions", others[: len(sessions)]), ("events", others[len(sessions) :])):
        if some:
            tables[name] = {str(place): each for place, each in enumerate(some, 1)}
    data = document.render(tables, chart)
    pieces = take_apart(data, chart)
    assert pieces
    entry = summary_of(chart, pieces.contents)
    row = (
        chart, site, pieces.form, pieces.total, len(data), entry.code, entry.last or None,
        False, json.dumps(entry[1:12]),
    )  # fmt: skip
    return row, [
        (chart, *place, site, raw, _body(raw).decode()) for place, raw in pieces.documents.items()
    ]


def _body(written: bytes) -> bytes:
    """What is between ``{"body":`` and the sum of a document, all of it ASCII here."""
    return written[len(b'{"body":') : written.rindex(b',"sum":"')]
