"""What is wrong with one chart file.

Where a problem is, is the file relative to the shelf, and the document or line in it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from ...chart.amendment import amendment_from_doc, linked
from ...chart.chart import (
    closed_session_from_doc,
    details_branches,
    findings_between,
    in_chain_order,
    readable,
    session_branches,
)
from ...chart.details import DetailsChange, details_from_doc
from ...chart.document import TABLES, Contents, Json, TooNew, read_contents, render
from ...chart.event import event_from_doc
from ...chart.ids import CHART_SUFFIX
from ...chart.links import in_written_order
from ...chart.patient import patient_from_doc
from ...chart.session import Session, seal_holds
from ...chart.transfer import transfer_from_doc
from ...chart.unread import Unread
from ...problem import Problem
from ...text import visible

BACKUP = "restore the file from a backup"
_BUILDERS: dict[str, Callable[[Json], Any]] = {
    "patient": patient_from_doc,
    "details": details_from_doc,
    "sessions": closed_session_from_doc,
    "amendments": amendment_from_doc,
    "events": event_from_doc,
    "transfers": transfer_from_doc,
}


def findings_and_code(where: str, data: bytes, chart: str) -> tuple[list[Problem], str]:
    """The same, and the patient code in the file as it was made, "" when it cannot be read."""
    try:
        contents = read_contents(data, chart, on_demand=True)
    except TooNew as error:
        return [too_new(where, error)], ""
    patients, _ = readable(contents, "patient", patient_from_doc)
    return look_at(where, data, contents)[0], patients[0].code if patients else ""


def too_new(where: str, error: TooNew) -> Problem:
    """A chart file that a later version of the program wrote."""
    return Problem(where, str(error), "look at it with the later version")


def look_at(where: str, data: bytes, contents: Contents) -> tuple[list[Problem], tuple[str, ...]]:
    """What is wrong with the bytes of a chart file, and what else is to be known of it."""
    findings: list[Problem] = []
    if contents.damage:
        back = f"move it back to charts/{visible(contents.chart)}{CHART_SUFFIX}"
        mend = back if contents.chart else BACKUP
        findings.append(Problem(where, contents.damage, mend))
        if contents.chart:
            return findings, ()
    elif render(contents.tables, contents.chart, contents.version) != data:
        findings.append(Problem(where, "it is not in the form in which it was written", BACKUP))
    records: dict[str, list[Any]] = {}
    for name in TABLES:
        unread = _understood if name == "sessions" else None
        records[name], damaged = readable(contents, name, _BUILDERS[name], unread)
        findings += [Problem(f"{where}, {name} {n}", what, BACKUP) for n, what in damaged]
    if not contents.tables.get("patient"):
        findings.append(Problem(f"{where}, patient", "the document is missing", BACKUP))
    between, notes = _chain(where, contents, records)
    return findings + between, notes


def _understood(waiting: Unread) -> Session:
    """Read all of a session whose sum and signature hold, and let go of it again."""
    waiting.whole()
    return waiting.session()


def _chain(
    where: str, contents: Contents, records: dict[str, list[Any]]
) -> tuple[list[Problem], tuple[str, ...]]:
    """Signatures, and whether what each document names as before it is there.

    Not covered: the loss of the newest document alone, see links.py.
    """
    sessions: tuple[Session, ...] = in_chain_order(records["sessions"])
    written = in_written_order(contents.tables, [session.id for session in sessions])
    parted = session_branches(sessions, written)
    findings: list[Problem] = []
    for session in sessions:
        spot = f"{where}, session {session.id} of {session.date_words}"
        if not session.is_unread and not seal_holds(session):
            findings.append(Problem(spot, "it is not what was signed", BACKUP))
        if session.id in parted.lost:
            findings.append(Problem(spot, "the session closed before it is missing", BACKUP))
    between = findings_between(
        contents,
        sessions,
        linked(sessions, records["amendments"]),
        records["details"],
        records["transfers"],
        written,
    )
    findings += [Problem(f"{where}{spot}", what, BACKUP) for spot, what in between]
    notes = (
        *_session_notes(sessions, parted.apart),
        *_details_notes(
            records["details"], details_branches(contents, records["details"], written).apart
        ),
    )
    return findings, tuple(f"{where}: {note}" for note in notes)


def _session_notes(sessions: Sequence[Session], apart: Sequence[tuple[str, ...]]) -> Iterator[str]:
    dates = {session.id: session.date_words for session in sessions}
    for ids in apart:
        days = " and ".join(dates[id_] for id_ in ids)
        yield f"the sessions of {days} were closed at different sites, and all of them are kept"


def _details_notes(
    changes: Sequence[DetailsChange], apart: Sequence[tuple[str, ...]]
) -> Iterator[str]:
    by_id = {change.id: change for change in changes}
    for ids in apart:
        who = " and ".join(f"{by_id[id_].author} on {by_id[id_].at}" for id_ in ids)
        yield (
            f"the details were changed at different sites, by {who}: all is kept, and where they "
            "say something else the last of them holds"
        )
