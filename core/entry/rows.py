"""What a table of readings is made of: one entry a station, from an entry or a closed session."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ..chart.checklist import stations_of
from ..chart.patient import Patient, reference_for
from ..chart.session import Session
from ..tardieu.components import shortfall_of
from ..tardieu.measured import catch_of
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Reading, Side
from ..tardieu.reference import Reference
from .amending import take
from .readings import reading_of
from .state import EntryState

NO_REFERENCE = "no reference: the muscle group is no longer in the files"


@dataclass(frozen=True, slots=True)
class StationRow:
    """One station of a table.

    Attributes:
        muscle: id of the muscle group.
        name: its name, its id when the clinic's files no longer have it.
        short: its abbreviation.
        side: side of the body.
        standard: the standard posture and test position, "" when not known.
        reading: what was entered, None when nothing was.
        reference: the reference range, or in words why there is none.
        done: the station was committed.
    """

    muscle: str
    name: str
    short: str
    side: Side
    standard: str
    reading: Reading | None
    reference: Reference | str
    done: bool

    @property
    def not_tested(self) -> str:
        """Key of the reason why the test, or the rest of it, was not done; "" when it was."""
        return self.reading.not_tested if self.reading else ""

    @property
    def flagged(self) -> bool:
        """Whether the checks said anything that still stands."""
        return bool(self.reading and (self.reading.flags or self.reading.overrides))

    @property
    def mark(self) -> str:
        """State as one sign: "." open, "n" not tested, "*" done."""
        if not self.done:
            return "."
        return "n" if self.not_tested else "*"

    @property
    def gap(self) -> int | None:
        """R2 - R1, deg; None when undefined."""
        return self.reading.gap if self.reading else None

    @property
    def shortfall(self) -> int | None:
        """Reference - R2, deg; None without a reference or a slow range."""
        return shortfall_of(self.reading, self.reference) if self.reading else None

    @property
    def moved(self) -> bool:
        """Whether posture or test position differ from the standard one."""
        posture = self.reading.posture if self.reading else ""
        return bool(posture and self.standard and posture != self.standard)


@dataclass(frozen=True, slots=True)
class Count:
    """How many stations are in which state; every station is in one of the first three."""

    done: int
    not_tested: int
    open: int
    flagged: int


def count(rows: Iterable[StationRow]) -> Count:
    """The stations counted by their state."""
    rows = tuple(rows)
    marks = [row.mark for row in rows]
    flagged = sum(row.flagged for row in rows)
    return Count(marks.count("*"), marks.count("n"), marks.count("."), flagged)


def entry_rows(state: EntryState) -> tuple[StationRow, ...]:
    """Every station of an entry in the order of testing."""
    return tuple(
        StationRow(
            muscle=station.muscle.id,
            name=station.muscle.name,
            short=station.muscle.abbreviation,
            side=station.side,
            standard=station.muscle.posture_words,
            reading=reading_of(state, index),
            reference=station.reference,
            done=state.drafts[index].done,
        )
        for index, station in enumerate(state.plan.stations)
    )


def session_rows(
    session: Session, muscles: Mapping[str, Muscle], patient: Patient
) -> tuple[StationRow, ...]:
    """Every station of a closed session in the order of its checklist, open ones too.

    Readings that are not on the checklist, from an amendment, follow at the end.
    """
    left = list(session.readings)
    stations: list[tuple[str, Side, Reading | None]] = []
    for item, side in stations_of(session.checklist):
        stations.append((item.muscle, side, take(left, item.muscle, side, item.fast_velocity)))
    stations += [(reading.muscle, reading.side, reading) for reading in left]
    return tuple(
        StationRow(
            muscle=id_,
            name=muscle.name if muscle else id_,
            short=muscle.abbreviation if muscle else id_,
            side=side,
            standard=muscle.posture_words if muscle else "",
            reading=reading,
            reference=reference_for(patient, muscle, session.when, NO_REFERENCE),
            done=reading is not None and _finished(reading, session.source),
        )
        for id_, side, reading in stations
        for muscle in (muscles.get(id_),)
    )


def _finished(reading: Reading, source: str) -> bool:
    """Whether a stored reading was committed; half of one is stored too, so nothing is lost."""
    whole = reading.r2 is not None and reading.quality is not None
    return source != "entry" or bool(reading.entered or reading.not_tested) or whole


def r1_text(reading: Reading) -> str:
    """R1 as typed; "none" for no catch, "." when it was not measured."""
    if reading.r1 is not None:
        return str(reading.r1)
    return "none" if catch_of(reading) is False else "."


def number_text(value: int | None) -> str:
    """A number, "." where there is none."""
    return "." if value is None else str(value)
