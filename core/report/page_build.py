"""Making the page of a session out of a chart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from ..change.compare import Basis, CompareRow, Comparison, compare
from ..change.marks import LEGEND, UNFAIR, row_mark
from ..change.told import UNCHANGED, kind_of, told
from ..change.trend import series_of
from ..chart.amendment import Amendment
from ..chart.chain import Chain
from ..chart.chart import Chart
from ..chart.patient import DIAGNOSIS_GROUPS, Patient, reference_for
from ..chart.session import Session
from ..tardieu.angles import AngleScale, show_angle
from ..tardieu.components import components
from ..tardieu.glossary import CAUTION
from ..tardieu.measured import CELLS, catch_of, fast_state, slow_state
from ..tardieu.measurement_error import error_of_readings
from ..tardieu.reading import Reading
from ..tardieu.reading_words import not_tested_words, reading_words
from .choosing import previous
from .page import NOTHING, Page, PageRow
from .page_words import (
    FEW_GOALS,
    MOST_GOALS,
    differing,
    goal_lines,
    left_open,
    moment,
    treatments,
    withdrawn,
)

MOST_SENTENCES = 5
"""Sentences about single stations; the rest is counted and has its marks."""

LATEST = 12
"""Sessions in the small trend of a row."""

MANY_ROWS = 20
"""From more rows on fewer goals are named, so that the page stays one sheet."""

RECORD_LETTERS = 12
"""Characters of a hash on a page."""


@dataclass(frozen=True, slots=True)
class _Making:
    """What the parts of one page share."""

    chart: Chart
    session: Session
    chain: Chain
    basis: Basis
    comparison: Comparison | None
    past: tuple[Session, ...]

    @property
    def names(self) -> dict[str, str]:
        """Names of the muscle groups by id."""
        return {id_: muscle.name for id_, muscle in self.basis.muscles.items()}

    def row_of(self, reading: Reading) -> CompareRow | None:
        """Find the comparison of a reading, None where it was measured now only."""
        rows = self.comparison.rows if self.comparison else ()
        return next((row for row in rows if row.after is reading and row.before), None)


def make_page(
    chart: Chart, session: Session, basis: Basis, version: str, before: Session | None = None
) -> Page:
    """Make the page of one session.

    Args:
        chart: the patient's chart.
        session: one of ``chart.by_date``.
        basis: muscle groups, settings and figures.
        version: of the program.
        before: the session to compare with; the one just before it when None.
    """
    before = before or previous(chart.by_date, session)
    comparison = compare(chart.patient, before, session, chart.events, basis) if before else None
    return page_of(chart, session, basis, version, comparison)


def page_of(
    chart: Chart, session: Session, basis: Basis, version: str, comparison: Comparison | None
) -> Page:
    """Make the page of one session, held against another as a comparison has it."""
    sessions = chart.by_date
    ids = [each.id for each in sessions]
    place, before = ids.index(session.id), comparison.before if comparison else None
    chain = chart.chain(session.id)
    assert chain, "a session of the chart"
    past = sessions[max(0, place + 1 - LATEST) : place + 1]
    making = _Making(chart, session, chain, basis, comparison, past)
    measured = [each for each in session.readings if _measured(each)]
    rows = sorted((_row(each, making) for each in measured), key=lambda found: found[0])
    shown = [row for rank, row in rows if rank != _QUIET]
    record = "+".join(tip[:RECORD_LETTERS] for tip in chain.tips[:2])
    return Page(
        code=chart.patient.code,
        date=session.date_words,
        when=session.when,
        record=record,
        made_by=f"limbscribe {version}",
        title=f"session {place + 1} of {len(sessions)}, {session.date_words}",
        patient=patient_line(chart.patient, session.when),
        before=before.date_words if before else "",
        head=tuple(_head(making, ids.index(before.id) + 1 if before else 0)),
        counted=_counted(len(measured), len(session.readings)),
        changes=_changes(making),
        chance=f"{comparison.chance_words}." if comparison else "",
        rows=tuple(shown),
        quiet=tuple(row for rank, row in rows if rank == _QUIET),
        legend=tuple(_legend(shown)),
        beside=tuple(_beside(making)),
        missing=tuple(_missing(making)),
        goals=tuple(_goals(making, len(shown))),
        caution=CAUTION,
        signed=_signed(session, record),
    )


def patient_line(patient: Patient, day: date) -> str:
    """Say what is known of a patient on one line."""
    words = (
        DIAGNOSIS_GROUPS.get(patient.diagnosis, patient.diagnosis),
        f"affected: {patient.affected}" if patient.affected else "",
        patient.age_words(day),
        patient.sex or "sex not stated",
        f"born {patient.born_words}" if patient.born else "",
    )
    text = ", ".join(word for word in words if word)
    return f"{text[0].upper()}{text[1:]}"


def _measured(reading: Reading) -> bool:
    """Check whether anything was measured, so that the station has a row."""
    states = (fast_state(reading), slow_state(reading))
    return "measured" in states or "no-catch" in states or reading.quality is not None


def _counted(measured: int, entered: int) -> str:
    words = f"{measured} station{'s' * (measured != 1)} measured"
    return f"{words}, {entered - measured} not tested" if entered > measured else words


# Rows -------------------------------------------------------------------------------------

_QUIET = 9
"""Rank of a station without a row of its own."""


def _row(reading: Reading, making: _Making) -> tuple[int, PageRow]:
    """Make the row of a reading, and its rank: what changed, what catches, the rest, quiet."""
    muscle = making.basis.muscles.get(reading.muscle)
    change = making.row_of(reading)
    then, scale = change.before if change else None, reading.scale
    shortfall_before = change.change.shortfall.before if change else None
    shortfalls = (shortfall_before, _shortfall(reading, making))
    error = error_of_readings(making.basis.settings.reading_error, 1)
    short = [value is not None and value > error for value in shortfalls]
    row = PageRow(
        reading=reading,
        name=muscle.name if muscle else reading.muscle,
        short=muscle.abbreviation if muscle else reading.muscle,
        side=reading.side,
        velocity=reading.fast_velocity,
        r1=(_r1(then, scale), _r1(reading, scale)),
        r2=(_r2(then, scale), _r2(reading, scale)),
        quality=(_grade(then), _grade(reading)),
        gap=(then.gap if then else None, reading.gap),
        shortfall=shortfalls[1],
        mark=_mark(change),
        place=muscle.place if muscle else None,
        short_of_reference=(short[0], short[1]),
        catch=(catch_of(then), catch_of(reading)),
        measured_before=then is not None,
        series=series_of(making.past, reading.muscle, reading.side),
    )
    return _rank(row, change), row


def _rank(row: PageRow, change: CompareRow | None) -> int:
    if change and (kind := kind_of(change)) != UNCHANGED:
        return kind
    if row.catch[1] is not False:
        return UNCHANGED
    whole = row.shortfall is not None and not row.short_of_reference[1]
    return _QUIET if whole and not row.reading.flags else UNCHANGED + 1


def _mark(change: CompareRow | None) -> str:
    if change is None:
        return ""
    unfair = any(angle.unfair for angle in (change.change.r1, change.change.r2))
    return row_mark(change) + (UNFAIR if unfair else "")


def _shortfall(reading: Reading, making: _Making) -> int | None:
    muscle = making.basis.muscles.get(reading.muscle)
    reference = reference_for(making.chart.patient, muscle, making.session.when)
    return components(reading, reference).shortfall


def _r1(reading: Reading | None, scale: AngleScale) -> str:
    if reading is None:
        return NOTHING
    return CELLS[fast_state(reading)] or _shown(reading.r1_stretch, scale)


def _r2(reading: Reading | None, scale: AngleScale) -> str:
    if reading is None:
        return NOTHING
    return CELLS[slow_state(reading)] or _shown(reading.r2_stretch, scale)


def _shown(stretch: int | None, scale: AngleScale) -> str:
    return show_angle(None if stretch is None else scale.typed(stretch))


def _grade(reading: Reading | None) -> str:
    return (show_angle(reading.quality) if reading else "") or NOTHING


def _legend(rows: Sequence[PageRow]) -> Iterator[tuple[str, str]]:
    """List the signs that occur."""
    marks = "".join(row.mark for row in rows)
    yield from ((sign, words) for sign, words in LEGEND.items() if sign in marks)
    cells = [cell for row in rows for cell in (*row.r1, *row.r2)]
    untested = CELLS["not-tested"]
    if untested in cells:
        yield untested, "not tested"


# Lines ------------------------------------------------------------------------------------


def _head(making: _Making, number: int) -> Iterator[str]:
    """Say who measured, what it is compared with, what was done, and what was not alike."""
    session, comparison = making.session, making.comparison
    people = [f"Examiner {session.examiner or 'not stated'}"]
    if session.conditions.reader:
        people.append(f"goniometer read by {session.conditions.reader}")
    people.append(f"recorder {session.recorder or 'not stated'}")
    words = ", ".join(people)
    if session.conditions.typed_later:
        words += "; typed later, from paper"
    if session.conditions.blind:
        words += "; last values hidden: blind rating"
    yield f"{words}."
    if comparison:
        then = comparison.before
        yield f"Before = session {number}, {then.date_words}, examiner {then.examiner or '?'}."
    yield from treatments(making.chart.events, session, making.names)
    if comparison:
        yield differing(comparison)


def _changes(making: _Making) -> tuple[str, ...]:
    if making.comparison is None:
        return ("First session on record: there is nothing to compare with.",)
    return told(making.comparison, MOST_SENTENCES)


def _beside(making: _Making) -> Iterator[str]:
    """Say what else was measured, and what a reader must know of the record."""
    names, session = making.names, making.session
    readings = session.readings

    def listed(what: str, found: Iterable[tuple[Reading, str]]) -> Iterator[str]:
        words = [f"{names.get(r.muscle, r.muscle)} {r.side.word} {text}" for r, text in found]
        if words:
            yield f"{what}: {', '.join(words)}."

    yield from listed("Clonus", [(r, f"{r.clonus_s} s") for r in readings if r.clonus_s])
    yield from listed("Pain, 0 to 10", [(r, str(r.pain)) for r in readings if r.pain])
    counts = (
        (sum(bool(r.flags) for r in readings), "reading{} with a remark of the checks"),
        (sum(len(r.overrides) for r in readings), "impossible value{} kept with a reason"),
        (sum(bool(r.comment) for r in readings), "comment{}"),
    )
    said = [f"{count} {words.format('s' * (count > 1))}" for count, words in counts if count]
    if said:
        yield f"In the full report: {', '.join(said)}."
    if making.chain.amendments:
        yield _amended(making.chain.amendments)
    yield from withdrawn(making.chain, session, names)
    if making.chain.conflict:
        yield "Amendments of this session disagree, and nobody has settled it."


def _amended(amendments: Sequence[Amendment]) -> str:
    last = amendments[-1]
    times = "once" if len(amendments) == 1 else f"{len(amendments)} times"
    return f"Amended {times}, last by {last.author}, {moment(last.at)}: {last.reason}."


def _missing(making: _Making) -> Iterator[str]:
    """Name the stations that have no row."""
    names = making.names
    untested = [
        f"{names.get(r.muscle, r.muscle)} {r.side.word} ({not_tested_words(r) or 'no reason'})"
        for r in making.session.readings
        if not _measured(r)
    ]
    if untested:
        yield f"Not tested: {', '.join(untested)}."
    yield from left_open(making.session, names)
    rows = making.comparison.rows if making.comparison else ()
    gone = [
        f"{row.name} {row.side.word} ({reading_words(row.before)})"
        for row in rows
        if row.after is None
    ]
    if gone:
        yield f"Measured before and not now: {'; '.join(gone)}."


def _goals(making: _Making, rows: int) -> Iterator[str]:
    most = FEW_GOALS if rows > MANY_ROWS else MOST_GOALS
    yield from goal_lines(making.chart.events, making.session.when.date(), most)


def _signed(session: Session, record: str) -> str:
    if session.seal is None:
        return f"Record {record}"
    return f"Signed by {session.seal.author} {moment(session.seal.at)}, record {record}"
