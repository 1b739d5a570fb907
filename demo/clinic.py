"""The invented clinic of ``limbscribe demo``: four charts, one session half-way through.

Patients and readings are made up. They take the ways a clinic's own would take: the import,
the entry reducer and the journal, so the demo shows nothing that the program does not do.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from pathlib import Path
from secrets import token_hex
from typing import TypeVar

from ..core.chart.chart import Chart
from ..core.chart.checklist import shipped_checklists
from ..core.chart.patient import Patient, parse_patient
from ..core.chart.session import Conditions, Session
from ..core.entry.log import save_to_doc
from ..core.entry.plan import make_plan, settled
from ..core.entry.state import EntryState, Moment, Save, begin
from ..core.entry.step import step
from ..core.exchange.events_csv import EventRows, read_events
from ..core.exchange.import_plan import ImportRules
from ..core.exchange.importing import Outcome, import_csv
from ..core.problem import Problem
from ..core.shelf import OpenSession, Shelf
from ..core.tardieu.checks import RULES_VERSION
from ..core.tardieu.muscles import Muscle, shipped_muscles
from ..core.tomlfile import sound
from .keys import parse_keys

Read = TypeVar("Read", Outcome, EventRows)

DATA = Path(__file__).with_name("data")

OPEN_CODE = "DEMO-02"
"""The patient whose session is open."""

CHECKLIST = "lower-limb"

STARTED = datetime.fromisoformat("2026-11-25T09:20:00+01:00")
"""Start of the open session; the clinic's past lies before it, whatever day it is."""

SECONDS_PER_KEY = 3.0
"""s between two keys of the script; it only spaces the times on record."""

LEFT_OFF_AT = (13, 1)
"""Station and field at which the recorder was called away: hamstrings, Right, quality."""


def build_demo(folder: Path) -> None:
    """Make a shelf with the invented clinic in a folder.

    Only what comes with the program is drawn on, not the settings of whoever runs it.

    Raises:
        ShelfError: when the folder cannot be written.
        ValueError: when the package's own data is broken.
    """
    shelf, muscles = Shelf(folder), shipped_muscles()
    for patient in demo_patients():
        shelf.create(patient)
    _import_past(shelf, muscles)
    _import_events(shelf, muscles)
    _type_first_half(shelf, muscles)


def demo_patients() -> tuple[Patient, ...]:
    """The patients of patients.toml.

    Raises:
        ValueError: when one of them is none.
    """
    tables = tomllib.loads((DATA / "patients.toml").read_text("utf-8"))["patient"]
    patients: list[Patient] = []
    for table in tables:
        fields = {name: str(value) for name, value in table.items()}
        patient = parse_patient(fields, STARTED.date())
        if isinstance(patient, list):
            raise ValueError("patients.toml: " + "; ".join(map(str, patient)))
        patients.append(patient)
    return tuple(patients)


def demo_keys() -> tuple[str, ...]:
    """The keys of session.keys: the whole session of which the demo shows the first half.

    Raises:
        ValueError: when the file is broken.
    """
    return sound(parse_keys((DATA / "session.keys").read_text("utf-8"), "session.keys"))


def demo_session(chart: Chart, muscles: Mapping[str, Muscle]) -> Session:
    """The session that the keys are typed into, as it is started."""
    shipped = next(one for one in shipped_checklists(muscles) if one.id == CHECKLIST)
    checklist = settled(shipped, chart.patient.affected, muscles, chart.by_date)
    notes = "slept badly, orthosis off since the morning"
    return Session(
        id=token_hex(16),
        started=STARTED.isoformat(),
        examiner="VZ",
        recorder="JY",
        checklist=checklist,
        conditions=Conditions("head straight", 90, notes, cautions_read=True),
        rules=RULES_VERSION,
    )


def first_state(chart: Chart, session: Session, muscles: Mapping[str, Muscle]) -> EntryState:
    """The entry of that session before the first key."""
    plan = make_plan(session.checklist, chart.patient, STARTED.year, muscles, chart.by_date)
    return begin(plan)


def moment_of(number: float) -> Moment:
    """When the key with this number, from 0, is typed; a half lies between two keys."""
    seconds = SECONDS_PER_KEY * number
    wall = STARTED + timedelta(seconds=seconds)
    return Moment(seconds, wall.isoformat(timespec="seconds"))


def whole(read: Read | Problem) -> Read:
    """What was read, when nothing of it was refused.

    Raises:
        ValueError: when a row was refused, or the table.
    """
    if isinstance(read, Problem):
        raise ValueError(str(read))
    for refused in read.refused:
        raise ValueError(f"line {refused.row.line}, {refused.row.cells}: {refused.reason}")
    return read


def _import_past(shelf: Shelf, muscles: Mapping[str, Muscle]) -> None:
    data = (DATA / "readings.csv").read_bytes()
    whole(import_csv(data, "readings.csv", shelf, ImportRules(muscles), STARTED))


def _import_events(shelf: Shelf, muscles: Mapping[str, Muscle]) -> None:
    """Put the treatment dates of events.csv on record."""
    data = (DATA / "events.csv").read_bytes()
    found = whole(read_events(data, "events.csv", muscles, lambda: token_hex(16), STARTED.date()))
    for code, rows in found.by_patient.items():
        chart_id = shelf.find(code)
        if chart_id is None:
            raise ValueError(f"events.csv: patients.toml has no {code}")
        shelf.add_events(chart_id, [event for event, _ in rows], "JY", STARTED.isoformat())


def _type_first_half(shelf: Shelf, muscles: Mapping[str, Muscle]) -> None:
    """Start the open session, type into it as the entry screen does, and leave it."""
    chart_id = shelf.find(OPEN_CODE)
    if chart_id is None:
        raise ValueError(f"patients.toml has no {OPEN_CODE}")
    chart = shelf.load(chart_id)
    session = demo_session(chart, muscles)
    state = first_state(chart, session, muscles)
    opened = shelf.start(chart_id, session, session.recorder)
    try:
        for now in type_into(opened, state, demo_keys()):
            if (now.cursor.station, now.cursor.place) == LEFT_OFF_AT:
                return
        raise ValueError(f"session.keys never comes to station {LEFT_OFF_AT[0] + 1}")
    finally:
        opened.leave()


def type_into(opened: OpenSession, state: EntryState, keys: Iterable[str]) -> Iterator[EntryState]:
    """Type into an open session as the entry screen does; yields the entry after each key."""
    for number, key in enumerate(keys):
        now = moment_of(number)
        state, effects = step(state, key, now)
        for effect in effects:
            if isinstance(effect, Save):
                opened.append(save_to_doc(effect, now.wall))
        yield state
