"""What an import would do to one chart: new sessions, additions, and rows left out.

Rows that agree in date, time, offset, examiner and recorder are one session; so are a stored
session and rows that differ from it in the offset, the seconds or the kind of dash only, which
spreadsheets change. A row is compared with what the chart has for the same station first: if it
says the same it is there already, if it says something else it is refused, for the import never
changes a record.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from ..chart.checklist import IMPORTED, Checklist, item_once
from ..chart.details import clash_words, filled
from ..chart.patient import Patient, reference_for
from ..chart.session import Session, canonical, sorted_by_start
from ..tardieu.checks import RULES_VERSION, CheckContext, Limits, check_reading
from ..tardieu.muscles import Muscle
from ..tardieu.reading import FastVelocity, Flag, Reading, Side, StationKey, reading_to_doc
from ..tardieu.reference import Reference
from ..text import plain_dashes
from .csv_rows import CsvRow, reading_cells
from .import_row import ParsedRow, Refused, Visit

WITHDRAWN = "this session was withdrawn from the chart, or moved to another one; leave the row out"


@dataclass(frozen=True, slots=True)
class ImportRules:
    """What rows are held against besides the chart: muscle groups and the clinic's figures."""

    muscles: Mapping[str, Muscle]
    limits: Limits = field(default_factory=Limits)


@dataclass(frozen=True, slots=True)
class ChartAddition:
    """One document to be added to a chart.

    Attributes:
        session: the session to be stored; for an addition, the stored one it belongs to.
        added: None for a new session, else the readings to be added to it.
        rows: the rows that say so.
        flagged: how many of them carry an unlikely flag.
    """

    session: Session
    added: tuple[Reading, ...] | None
    rows: Sequence[CsvRow]
    flagged: int


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """What the rows of one visit come to.

    Attributes:
        change: the document to add, None when nothing is new.
        already: how many rows the chart (or the same file, further up) has already.
        refused: rows left out, with their reasons.
        patient: the patient with what the other rows up to here state filled in.
    """

    change: ChartAddition | None
    already: int
    refused: tuple[Refused, ...]
    patient: Patient


@dataclass(slots=True)
class _Group:
    """One visit while its rows are looked at."""

    known: dict[StationKey, tuple[Reading, int]]
    accepted: list[tuple[CsvRow, Reading]]
    refused: list[Refused]
    patient: Patient
    already: int = 0

    def now(self, station: StationKey) -> Reading | None:
        """Find what the visit has for a station so far."""
        found = self.known.get(station)
        return found[0] if found else None


def plan_visits(
    visits: Iterable[tuple[Visit, Iterable[ParsedRow | Refused]]],
    patient: Patient,
    stated: Patient,
    stored: Iterable[Session],
    rules: ImportRules,
    gone: Collection[Visit] = (),
) -> Iterator[VisitPlan]:
    """Plan what the visits of one patient would add to the chart, one after the other.

    Args:
        visits: each once with its rows in the order of the file, from the earliest on.
        patient: as the chart has it; a row that states other details is refused.
        stated: the same with what the rows state filled in, for the reference ranges.
        stored: the chart's sessions, amendments applied.
        rules: what the rows are held against.
        gone: visits whose session was withdrawn from the chart; their rows are refused.
    """
    past, like_gone = _Past(stored), {visit.loosely for visit in gone}
    for visit, of_visit in visits:
        same = past.same(visit, exactly=visit in gone)
        left = not same and visit.loosely in like_gone
        visit = visit_of(same[0]) if same else visit
        when = visit.when
        past.go_to(when)
        group = _Group(_stations(same), [], [], patient)
        for row in of_visit:
            if isinstance(row, Refused):
                group.refused.append(row)
            elif left:
                group.refused.append(Refused(row.row, WITHDRAWN))
            else:
                _take(row, group, past, stated, when, rules)
        patient = group.patient
        change = _change(patient.code, visit, same, group.accepted) if group.accepted else None
        past.add(when, [reading for _, reading in group.accepted])
        yield VisitPlan(change, group.already, tuple(group.refused), patient)


class _Past:
    """The latest values of every station, as time goes on: each session is looked at once.

    What plan.last_reading() finds by looking back through all sessions.
    """

    def __init__(self, stored: Iterable[Session]) -> None:
        sessions = sorted_by_start(stored)
        self._same: dict[Visit | tuple[str, ...], list[Session]] = {}
        for session in sessions:
            visit = visit_of(session)
            for key in (visit, visit.loosely):
                self._same.setdefault(key, []).append(session)
        self._stored = deque((session.when, session.readings) for session in sessions)
        self._added: deque[tuple[datetime, Sequence[Reading]]] = deque()
        self._last: dict[tuple[str, Side, FastVelocity | None], Reading] = {}

    def same(self, visit: Visit, exactly: bool = False) -> list[Session]:
        """Return the stored sessions that are this visit, or else are so loosely."""
        found = self._same.get(visit, [])
        return found if found or exactly else self._same.get(visit.loosely, [])

    def add(self, when: datetime, readings: Sequence[Reading]) -> None:
        """Add readings that were accepted, not earlier than those added before."""
        self._added.append((when, readings))

    def go_to(self, when: datetime) -> None:
        """Take in every session that began before this."""
        while True:
            # Of equal starts the stored session comes first, as in the chart.
            queues = [queue for queue in (self._stored, self._added) if queue]
            first = min(queues, key=lambda queue: queue[0][0], default=None)
            if first is None or first[0][0] >= when:
                return
            self._take_in(first.popleft()[1])

    def _take_in(self, readings: Iterable[Reading]) -> None:
        seen: set[tuple[str, Side, FastVelocity | None]] = set()
        for reading in readings:
            for velocity in (reading.fast_velocity, None):
                key = (reading.muscle, reading.side, velocity)
                if key not in seen and (reading.r1 is not None or reading.r2 is not None):
                    self._last[key] = reading
                seen.add(key)

    def last(self, muscle: str, side: Side, velocity: FastVelocity) -> Reading | None:
        """Find the latest reading of a station, if possible at the same fast velocity."""
        return self._last.get((muscle, side, velocity)) or self._last.get((muscle, side, None))


def visit_of(session: Session) -> Visit:
    """Say what a row must have to belong to this session."""
    started = session.when.isoformat(timespec="seconds")
    return Visit(started, session.examiner, session.recorder)


def _stations(same: Iterable[Session]) -> dict[StationKey, tuple[Reading, int]]:
    """Stored readings by station; 0 stands for the chart instead of a line of the file."""
    return {reading.station: (reading, 0) for session in same for reading in session.readings}


def _take(
    row: ParsedRow,
    group: _Group,
    past: _Past,
    patient: Patient,
    when: datetime,
    rules: ImportRules,
) -> None:
    """Accept a row into its visit, or say why not."""
    station, details = row.reading.station, row.whose.details
    if details and (clash := clash_words(group.patient, details)):
        what = f"the chart or another row states other details ({clash})"
        mend = f"limbscribe patient {row.whose.code} changes those of the chart"
        group.refused.append(Refused(row.row, f"{what}; {mend}"))
        return
    if station in group.known:
        have, line = group.known[station]
        if _say_the_same(have, row.reading):
            group.already += 1
            if details:
                group.patient = filled(group.patient, details)
        else:
            group.refused.append(Refused(row.row, _differs(have, row.reading, line)))
        return
    reading = row.reading
    if flags := _flags(reading, group, past, patient, when, rules):
        let_stand = {override.rule for override in reading.overrides}
        impossible = [
            flag.text for flag in flags if flag.level == "impossible" and flag.rule not in let_stand
        ]
        if impossible:
            group.refused.append(Refused(row.row, "; ".join(impossible)))
            return
        reading = replace(reading, flags=flags)
    group.known[station] = (reading, row.row.line)
    group.accepted.append((row.row, reading))
    if details:
        group.patient = filled(group.patient, details)


def _say_the_same(one: Reading, other: Reading) -> bool:
    """Whether two readings have the same cells but for what spreadsheets change."""
    cells, others = reading_cells(one), reading_cells(other)
    return cells == others or _as_compared(cells) == _as_compared(others)


def _as_compared(cells: tuple[str, ...]) -> tuple[str, ...]:
    """Write cells without what spreadsheets change: dashes and line ends."""
    return tuple("\n".join(plain_dashes(cell).splitlines()) for cell in cells)


def _differs(have: Reading, reading: Reading, line: int) -> str:
    names = ("posture", "scale", "fast_velocity", "r1", "r2", "quality", "clonus_s", "pain")
    names += ("not_tested", "comment")
    pairs = zip(names, reading_cells(have)[2:], reading_cells(reading)[2:], strict=True)
    apart = ", ".join(
        f"{name} {there or 'empty'} there, {here or 'empty'} here"
        for name, there, here in pairs
        if there != here and name not in ("comment", "not_tested", "posture")
    )
    where = f"line {line} of this file" if line else "the chart"
    what = apart or "posture, not_tested or comment differ"
    return f"{where} has other values for this station of this session ({what})"


def _flags(
    reading: Reading,
    group: _Group,
    past: _Past,
    patient: Patient,
    when: datetime,
    rules: ImportRules,
) -> tuple[Flag, ...]:
    """Check a reading as the entry would have; returns its flags."""
    muscle = rules.muscles[reading.muscle]
    reference = reference_for(patient, muscle, when)
    name, side, other_side = reading.muscle, reading.side, reading.side.other
    velocity: FastVelocity = reading.fast_velocity
    other_velocity: FastVelocity = "V2" if velocity == "V3" else "V3"
    context = CheckContext(
        muscle=muscle,
        limits=rules.limits,
        reference=reference if isinstance(reference, Reference) else None,
        last=past.last(name, side, velocity),
        other_side=group.now((name, other_side, velocity)),
        other_side_last=past.last(name, other_side, velocity),
        other_velocity=group.now((name, side, other_velocity)),
    )
    return check_reading(reading, context)


def _change(
    code: str, visit: Visit, same: Sequence[Session], accepted: Sequence[tuple[CsvRow, Reading]]
) -> ChartAddition:
    rows = tuple(row for row, _ in accepted)
    readings = tuple(reading for _, reading in accepted)
    flagged = sum(1 for reading in readings if reading.flags)
    if same:
        return ChartAddition(same[0], readings, rows, flagged)
    session = Session(
        id=_id("session", code, visit.started, visit.examiner, visit.recorder),
        started=visit.started,
        examiner=visit.examiner,
        recorder=visit.recorder,
        checklist=_checklist(readings),
        readings=readings,
        source="import",
        rules=RULES_VERSION,
    )
    return ChartAddition(session, None, rows, flagged)


def _checklist(readings: Iterable[Reading]) -> Checklist:
    items = tuple(
        item_once(r.muscle, r.side.value, r.fast_velocity, r.scale.id, r.posture) for r in readings
    )
    highest = max((reading.quality or 0 for reading in readings), default=0)
    return Checklist(IMPORTED, "Imported", items, quality_max=5 if highest == 5 else 4)


def amendment_id(session: Session, readings: Iterable[Reading], made_on: Iterable[str] = ()) -> str:
    """Make the id of an addition, the same for the same readings on the same documents.

    So that it is stored once.
    """
    docs = [reading_to_doc(reading) for reading in readings]
    return _id("amendment", session.id, docs, sorted(made_on))


def details_id(code: str, details: Mapping[str, Any], made_on: str) -> str:
    """Make the id of imported details, the same for the same ones on the same document."""
    return _id("details", code, dict(details), made_on)


def _id(*parts: object) -> str:
    # From the content and not random: two imports of one file at once then collide, and the
    # shelf refuses the second instead of storing everything twice.
    return hashlib.sha256(canonical(list(parts))).hexdigest()[:32]
