"""Columns that follow from the others, or from the chart: behind the rest, for who reads a table.

An import passes over them: they are worked out anew from what was typed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..chart.chart import Chart
from ..chart.events import NEXT_DATE, day_of, standing
from ..chart.patient import Patient, reference_for
from ..chart.session import Session
from ..tardieu.angles import show_angle
from ..tardieu.components import shortfall_of
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading
from ..tardieu.reference import Reference
from .csv_rows import session_rows

OF_READING = ("r1_stretch", "r2_stretch", "gap", "shortfall", "reference_kind", "speed_deg_s")
"""Last columns of the readings table."""

OF_SESSION = ("age", "sex", "diagnosis", "affected", "treatment_days", "treatment_kind")
"""Last columns of the wide table."""


def reading_cells_derived(
    reading: Reading, session: Session, patient: Patient, muscles: Mapping[str, Muscle]
) -> tuple[str, ...]:
    """Write the cells of OF_READING."""
    reference = reference_for(patient, muscles.get(reading.muscle), session.when)
    shortfall = shortfall_of(reading, reference)
    return (
        show_angle(reading.r1_stretch),
        show_angle(reading.r2_stretch),
        show_angle(reading.gap),
        show_angle(shortfall),
        reference.kind if isinstance(reference, Reference) and shortfall is not None else "",
        show_angle(reading.speed_deg_s),
    )


def derived_rows(
    chart: Chart, session: Session, columns: Sequence[str], muscles: Mapping[str, Muscle]
) -> Iterator[tuple[str, ...]]:
    """Write the rows of a session with these columns of the readings table, then OF_READING."""
    rows = session_rows(chart.patient.code, session, columns)
    for row, reading in zip(rows, session.readings, strict=True):
        yield (*row, *reading_cells_derived(reading, session, chart.patient, muscles))


def session_cells_derived(chart: Chart, session: Session) -> tuple[str, ...]:
    """Write the cells of OF_SESSION; of two treatments on one day, the one typed last."""
    day, patient = session.when.date(), chart.patient
    past = [
        (done, event.kind)
        for event in standing(chart.events)
        if event.kind != NEXT_DATE and (done := day_of(event)) is not None and done <= day
    ]
    done, kind = max(reversed(past), key=lambda each: each[0], default=(None, ""))
    days = str((day - done).days) if done else ""
    age = show_angle(patient.age_in(day))
    return (age, patient.sex or "", patient.diagnosis or "", patient.affected or "", days, kind)
