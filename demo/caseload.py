"""The second shelf of the invented clinic: ``limbscribe demo --caseload``.

What was recorded comes from the model in courses.py. It takes the ways a clinic's own would
take: charts are made, treatment dates and goals are added, readings come through the
import with all its checks, and some sessions are typed and left open. What a computation over
this shelf should find is in tests/support/planted.py.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from random import Random
from typing import Any

from ..core.chart.checklist import Checklist, Item
from ..core.chart.event import Event
from ..core.chart.events import TOXIN
from ..core.chart.goals import goal_event, score_event
from ..core.chart.session import Conditions, Session
from ..core.entry.deck import Spoken, keys_of
from ..core.entry.plan import settled
from ..core.errors import ShelfError
from ..core.exchange.csv_rows import COLUMNS, OVERRIDE, CsvRow
from ..core.exchange.import_plan import ImportRules
from ..core.exchange.importing import import_rows
from ..core.shelf import Shelf
from ..core.tardieu.angles import AngleScale, show_angle
from ..core.tardieu.checks import RULES_VERSION
from ..core.tardieu.muscle import Muscle
from ..core.tardieu.muscles import shipped_muscles
from .clinic import STARTED, first_state, type_into, whole
from .courses import PATIENTS, SEED, TWENTY, Course, Taken, Treatment, Visit
from .drawing import draw

CLERK = "FY"
"""Signs what was made and added."""

OPEN_PLACE = 4
"""Of TWENTY patients, by place, the one whose session of the day is open."""

_OTHER_SCALES = {"hamstrings": "deficit", "gastrocnemius": "plantigrade-90"}
_OTHERWISE = ("multiple-sclerosis", "spinal-cord")
"""Diagnoses whose patients are read on the scales above; the others on the customary ones."""


def build_caseload(
    folder: Path, patients: int = PATIENTS, seed: int = SEED, visits: int | None = None
) -> None:
    """Make a shelf with many patients in a folder.

    Only what comes with the program is drawn on, not the settings of whoever runs it. But for
    the random ids of charts the same is built each time.

    Args:
        folder: where to.
        patients: how many.
        seed: another one is another clinic.
        visits: closed sessions of each patient; None for as many as chance gives.

    Raises:
        ShelfError: when the folder cannot be written.
        ValueError: when the program's own checks refuse a reading.
    """
    shelf, muscles = Shelf(folder), shipped_muscles()
    found = tuple(draw(patients, seed, visits))
    ids = _create(shelf, found)
    at = STARTED.isoformat()
    for course in found:  # before the sessions: a chart is short then, and soon written
        shelf.add_events(ids[course.patient.code], tuple(events_of(course, seed)), CLERK, at)
    rows = (row for course in found for row in _rows(course, muscles))
    whole(import_rows(rows, shelf, ImportRules(muscles), STARTED))
    for course in found[OPEN_PLACE::TWENTY]:
        _leave_open(shelf, ids[course.patient.code], course, muscles)


def events_of(course: Course, seed: int = SEED) -> Iterator[Event]:
    """The treatments and goals of a patient as they are stored."""
    chance = Random(f"{seed}/{course.patient.code}/events")

    def new_id() -> str:
        return f"{chance.getrandbits(128):032x}"

    for one in course.treatments:
        for muscle, side in one.stations:
            plain = Event(new_id(), one.kind, one.day.isoformat(), muscle, side, "")
            yield replace(plain, **_given(one, chance))
    for goal in course.goals:
        set_ = goal_event(new_id(), goal.text, goal.day, goal.weight)
        yield set_
        if goal.scored is not None and goal.score is not None:
            yield score_event(new_id(), set_.id, goal.score, goal.scored)


def _given(one: Treatment, chance: Random) -> dict[str, Any]:
    """What was given, in words of the invented clinic; round numbers that mean nothing."""
    if one.kind != TOXIN:
        return {}
    return {
        "amount": float(10 * chance.randint(1, 9)),
        "unit": "units",
        "dilution": "2 ml a vial",
        "guidance": chance.choice(("ultrasound", "stimulation", "by hand")),
        "product": chance.choice(("product A", "product B")),
    }


def _create(shelf: Shelf, found: Sequence[Course]) -> dict[str, str]:
    ids: dict[str, str] = {}
    patients = [course.patient for course in found]
    made = shelf.create_all(patients, CLERK, STARTED.isoformat())
    for code, id_ in made.items():
        if isinstance(id_, ShelfError):
            raise id_
        ids[code] = id_
    return ids


def _offset(day: date) -> str:
    return "+02:00" if 4 <= day.month <= 10 else "+01:00"


def _rows(course: Course, muscles: Mapping[str, Muscle]) -> Iterator[CsvRow]:
    for visit in course.visits:
        for taken in visit.taken:
            yield CsvRow(0, _cells(course, visit, taken, muscles), (*COLUMNS, OVERRIDE))


def _cells(
    course: Course, visit: Visit, taken: Taken, muscles: Mapping[str, Muscle]
) -> tuple[str, ...]:
    name, side = taken.station
    muscle = muscles[name]
    scale = _scale(course, muscle)
    numbers = (
        *(show_angle(None if one is None else scale.typed(one)) for one in (taken.r1, taken.r2)),
        *("" if one is None else str(one) for one in (taken.quality, taken.clonus_s)),
    )
    when = (visit.day.isoformat(), visit.time, _offset(visit.day))
    people = (visit.examiner, visit.recorder)
    station = (name, side, "", scale.id, muscle.velocity)
    said = ("", taken.not_tested, "", taken.override)  # pain before, a comment between
    return (course.patient.code, *when, *people, *station, *numbers, *said)


def _scale(course: Course, muscle: Muscle) -> AngleScale:
    other = course.patient.diagnosis in _OTHERWISE
    return muscle.scale(_OTHER_SCALES.get(muscle.id, "") if other else "")


def _leave_open(shelf: Shelf, chart_id: str, course: Course, muscles: Mapping[str, Muscle]) -> None:
    """Start a session on the day the demo plays, type its first station, and leave it."""
    chart, examiner, recorder = shelf.load(chart_id), *course.habitual
    items = tuple(Item(muscle, side) for muscle, side in course.start)
    checklist = settled(Checklist("caseload", "Caseload", items), "", muscles, chart.by_date)
    session = Session(
        id=f"{Random(course.patient.code).getrandbits(128):032x}",
        started=STARTED.isoformat(),
        examiner=examiner,
        recorder=recorder,
        checklist=checklist,
        conditions=Conditions(cautions_read=True),
        rules=RULES_VERSION,
    )
    state = first_state(chart, session, muscles)
    scale = state.plan.stations[0].scale
    r1, r2 = map(round, course.expected(next(iter(course.start)), STARTED.date()))
    spoken = Spoken(scale.typed(r1), 2, scale.typed(r2))
    opened = shelf.start(chart_id, session, recorder)
    try:
        deque(type_into(opened, state, keys_of(spoken, scale.presign)), maxlen=0)
    finally:
        opened.leave()
