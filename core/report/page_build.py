"""Making the page of a session out of a chart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from ..change.compare import Basis, CompareRow
from ..change.marks import LEGEND, UNFAIR, row_mark
from ..change.told import UNCHANGED, kind_of, told
from ..change.trend import series_of
from ..chart.amendment import Amendment
from ..chart.chain import CONFLICT
from ..chart.chart import Chart
from ..chart.patient import DIAGNOSIS_GROUPS, Patient
from ..chart.session import Session
from ..language import ENGLISH, N_, gettext, ngettext, speaking, spoken
from ..tardieu.angles import AngleScale, show_angle
from ..tardieu.components import shortfall_of, shown_gap
from ..tardieu.glossary import CAUTION
from ..tardieu.measured import CELLS, State, catch_of, fast_state, slow_state
from ..tardieu.measurement_error import error_of_readings
from ..tardieu.reading import Reading
from ..tardieu.reading_words import not_tested_words, reading_words
from .inputs import Inputs, inputs_of
from .page import NOTHING, Page, PageRow
from .page_words import (
    FEW_GOALS,
    MOST_GOALS,
    differing,
    disputed,
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


def make_page(
    chart: Chart,
    session: Session,
    basis: Basis,
    version: str,
    before: Session | None = None,
    language: str = ENGLISH,
) -> Page:
    """Make the page of one session.

    Args:
        chart: the patient's chart.
        session: one of ``chart.by_date``.
        basis: muscle groups, settings and figures.
        version: of the program.
        before: the session to compare with; the one just before it when None.
        language: key of LANGUAGES.
    """
    with speaking(language):
        return page_of(inputs_of(chart, session, basis, before), version)


def page_of(making: Inputs, version: str) -> Page:
    """Make the page of one session, held against another, in the language that is spoken."""
    chart, session, comparison = making.chart, making.session, making.comparison
    sessions = chart.by_date
    ids = [each.id for each in sessions]
    place, before = ids.index(session.id), comparison.before if comparison else None
    past = sessions[max(0, place + 1 - LATEST) : place + 1]
    pairs = [(each, making.row(each)) for each in session.readings]
    every = [(change, _row(each, change, making, past)) for each, change in pairs]
    ranks = ((_rank(row, change, making), row) for change, row in every if _measured(row.reading))
    rows = sorted(ranks, key=lambda ranked: ranked[0])
    shown = [row for rank, row in rows if rank != _QUIET]
    gone = [(each.before, each) for each in making.rows if each.before and not each.after]
    record = "+".join(tip[:RECORD_LETTERS] for tip in making.chain.tips[:2])
    return Page(
        language=spoken(),
        code=chart.patient.code,
        date=session.date_words,
        when=session.when,
        record=record,
        made_by=f"limbscribe {version}",
        title=gettext("session {number} of {count}, {date}").format(
            number=place + 1, count=len(sessions), date=session.date_words
        ),
        patient=patient_line(chart.patient, session.when),
        before=before.date_words if before else "",
        head=tuple(_head(making, ids.index(before.id) + 1 if before else 0)),
        counted=_counted(len(rows), len(session.readings)),
        changes=_changes(making),
        chance=f"{comparison.chance_words}." if comparison and comparison.any_both else "",
        rows=tuple(shown),
        quiet=tuple(row for rank, row in rows if rank == _QUIET),
        untested=tuple(row for _, row in every if not _measured(row.reading)),
        gone=tuple(_row(then, change, making, past) for then, change in gone),
        error=_error(making, 1),
        legend=tuple(_legend(shown)),
        beside=tuple(_beside(making)),
        missing=tuple(_missing(making)),
        goals=tuple(_goals(making, len(shown))),
        caution=gettext(CAUTION),
        signed=_signed(session, record),
    )


STORED = (N_("left"), N_("right"), N_("both"), N_("female"), N_("male"))
"""Details of a patient that a page says in the words they are stored in."""


def patient_line(patient: Patient, day: date) -> str:
    """Say what is known of a patient on one line."""
    affected, born = gettext(patient.affected), patient.born_words
    words = (
        gettext(DIAGNOSIS_GROUPS.get(patient.diagnosis, "")) or patient.diagnosis,
        affected and gettext("affected: {side}").format(side=affected),
        patient.age_words(day),
        gettext(patient.sex) or gettext("sex not stated"),
        born and gettext("born {month}").format(month=born),
    )
    text = ", ".join(word for word in words if word)
    return f"{text[0].upper()}{text[1:]}"


def _measured(reading: Reading) -> bool:
    """Check whether anything was measured, so that the station has a row."""
    states = (fast_state(reading), slow_state(reading))
    return "measured" in states or "no-catch" in states or reading.quality is not None


def _counted(measured: int, entered: int) -> str:
    words = ngettext("{count} station measured", "{count} stations measured", measured)
    counted, untested = words.format(count=measured), entered - measured
    if untested <= 0:
        return counted
    words = ngettext("{count} not tested", "{count} not tested", untested)
    return f"{counted}, {words.format(count=untested)}"


# Rows -------------------------------------------------------------------------------------

_QUIET = 9
"""Rank of a station without a row of its own."""


def _row(
    reading: Reading, change: CompareRow | None, making: Inputs, past: Sequence[Session]
) -> PageRow:
    """Make the row of a reading; with its comparison, which has none of now where it is gone."""
    then, now = (change.before, change.after) if change else (None, reading)
    muscle, scale = making.muscle(reading), reading.scale
    shortfall = shortfall_of(now, making.reference(reading)) if now else None
    shortfalls = (change.change.shortfall.before if change else None, shortfall)
    short = [value is not None and value > _error(making, 1) for value in shortfalls]
    return PageRow(
        reading=reading,
        name=muscle.said if muscle else reading.muscle,
        narrow=muscle.said_narrowly if muscle else reading.muscle,
        short=muscle.abbreviation if muscle else reading.muscle,
        side=reading.side,
        velocity=reading.fast_velocity,
        r1=(_r1(then, scale), _r1(now, scale)),
        r2=(_r2(then, scale), _r2(now, scale)),
        quality=(_grade(then), _grade(now)),
        gap=(shown_gap(then.gap if then else None), shown_gap(now.gap if now else None)),
        shortfall=shortfall,
        mark=_mark(change),
        place=muscle.place if muscle else None,
        short_of_reference=(short[0], short[1]),
        catch=(catch_of(then), catch_of(now)),
        speeds=(then.fast_velocity if then else "", now.fast_velocity if now else ""),
        series=series_of(past, reading.muscle, reading.side),
    )


def _error(making: Inputs, readings: int) -> int:
    """Find the error of so many readings together, deg."""
    return error_of_readings(making.basis.settings.reading_error, readings)


def _rank(row: PageRow, change: CompareRow | None, making: Inputs) -> int:
    """Rank a row: what changed, what catches, the rest, quiet.

    Not quiet is an R2 that moved by more than two readings err, though its figure be larger.
    """
    if change and (kind := kind_of(change)) != UNCHANGED:
        return kind
    if row.catch[1] is not False:
        return UNCHANGED
    whole = row.shortfall is not None and not row.short_of_reference[1]
    moved = change is not None and abs(change.change.r2.change or 0) > _error(making, 2)
    return _QUIET if whole and not moved and not row.reading.flags else UNCHANGED + 1


def _mark(change: CompareRow | None) -> str:
    if change is None:
        return ""
    unfair = any(angle.unfair for angle in (change.change.r1, change.change.r2))
    return row_mark(change) + (UNFAIR if unfair else "")


def _r1(reading: Reading | None, scale: AngleScale) -> str:
    return _angle(fast_state(reading), reading.r1_stretch, scale) if reading else NOTHING


def _r2(reading: Reading | None, scale: AngleScale) -> str:
    return _angle(slow_state(reading), reading.r2_stretch, scale) if reading else NOTHING


def _angle(state: State, stretch: int | None, scale: AngleScale) -> str:
    """Write an angle in the scale of the row, or why there is none."""
    return gettext(CELLS[state]) or show_angle(None if stretch is None else scale.typed(stretch))


def _grade(reading: Reading | None) -> str:
    return (show_angle(reading.quality) if reading else "") or NOTHING


def _legend(rows: Sequence[PageRow]) -> Iterator[tuple[str, str]]:
    """List the signs that occur."""
    marks = "".join(row.mark for row in rows)
    yield from ((sign, gettext(words)) for sign, words in LEGEND.items() if sign in marks)
    cells = [cell for row in rows for cell in (*row.r1, *row.r2)]
    for cell, words in ((CELLS["no-catch"], "no catch"), (CELLS["not-tested"], "not tested")):
        if gettext(cell) in cells:
            yield f"{gettext(cell)}:", gettext(words)


# Lines ------------------------------------------------------------------------------------


def _head(making: Inputs, number: int) -> Iterator[str]:
    """Say who measured, what it is compared with, what was done, and what was not alike."""
    session, comparison = making.session, making.comparison
    unknown, given = gettext("not stated"), session.conditions
    people = [gettext("Examiner {who}").format(who=session.examiner or unknown)]
    if given.reader:
        people.append(gettext("goniometer read by {who}").format(who=given.reader))
    people.append(gettext("recorder {who}").format(who=session.recorder or unknown))
    words = ", ".join(people)
    if given.typed_later:
        words += f"; {gettext('typed later, from paper')}"
    if given.blind:
        words += f"; {gettext('last values hidden: blind rating')}"
    yield f"{words}."
    if comparison:
        then = comparison.before
        yield gettext("Before = session {number}, {date}, examiner {who}.").format(
            number=number, date=then.date_words, who=then.examiner or "?"
        )
    yield from treatments(making.chart.events, session, making.names)
    if comparison:
        yield differing(comparison)


def _changes(making: Inputs) -> tuple[str, ...]:
    said = tuple(disputed(making))
    if making.comparison is None:
        return (*said, gettext("First session on record: there is nothing to compare with."))
    return (*said, *told(making.comparison, MOST_SENTENCES))


def _beside(making: Inputs) -> Iterator[str]:
    """Say what else was measured, and what a reader must know of the record."""
    names, session = making.names, making.session
    readings = session.readings

    def listed(found: Iterable[tuple[Reading, str]]) -> str:
        return ", ".join(f"{names.get(r.muscle, r.muscle)} {r.side.word} {t}" for r, t in found)

    if clonus := listed((r, f"{r.clonus_s} s") for r in readings if r.clonus_s):
        yield gettext("Clonus: {where}.").format(where=clonus)
    if pain := listed((r, str(r.pain)) for r in readings if r.pain):
        yield gettext("Pain, 0 to 10: {where}.").format(where=pain)
    if said := ", ".join(_elsewhere(readings)):
        yield gettext("In the full report: {what}.").format(what=said)
    if making.chain.applied:
        yield _amended(making.chain.applied)
    yield from withdrawn(making.chain, session, names)


def _elsewhere(readings: Sequence[Reading]) -> Iterator[str]:
    """Count what only the full report has."""
    if count := sum(any(f.rule != CONFLICT for f in reading.flags) for reading in readings):
        yield ngettext(
            "{count} reading with a remark of the checks",
            "{count} readings with a remark of the checks",
            count,
        ).format(count=count)
    if count := sum(len(reading.overrides) for reading in readings):
        yield ngettext(
            "{count} impossible value kept with a reason",
            "{count} impossible values kept with a reason",
            count,
        ).format(count=count)
    if count := sum(bool(reading.comment) for reading in readings):
        yield ngettext("{count} comment", "{count} comments", count).format(count=count)


def _amended(amendments: Sequence[Amendment]) -> str:
    last = amendments[-1]
    return (
        ngettext(
            "Amended once, last by {who}, {when}: {reason}.",
            "Amended {count} times, last by {who}, {when}: {reason}.",
            len(amendments),
        )
    ).format(count=len(amendments), who=last.author, when=moment(last.at), reason=last.reason)


def _missing(making: Inputs) -> Iterator[str]:
    """Name the stations that have no row."""
    names = making.names
    untested = [
        f"{names.get(r.muscle, r.muscle)} {r.side.word} ({_untested(r, making)})"
        for r in making.session.readings
        if not _measured(r)
    ]
    if untested:
        yield gettext("Not tested: {where}.").format(where="; ".join(untested))
    yield from left_open(making.session, names)
    gone = [
        f"{row.name} {row.side.word} ({reading_words(row.before)})"
        for row in making.rows
        if row.before and _measured(row.before) and row.after is None
    ]
    if gone:
        yield gettext("Measured before and not now: {where}.").format(where="; ".join(gone))


def _untested(reading: Reading, making: Inputs) -> str:
    """Say why a station was not tested, and what it was before."""
    why, row = not_tested_words(reading) or gettext("no reason"), making.row(reading)
    if row is None or row.before is None or not _measured(row.before):
        return why
    return f"{why}; {gettext('before')}: {reading_words(row.before)}"


def _goals(making: Inputs, rows: int) -> Iterator[str]:
    most = FEW_GOALS if rows > MANY_ROWS else MOST_GOALS
    yield from goal_lines(making.chart.events, making.session.when.date(), most)


def _signed(session: Session, record: str) -> str:
    if session.seal is None:
        return gettext("Record {record}").format(record=record)
    return gettext("Signed by {who} {when}, record {record}").format(
        who=session.seal.author, when=moment(session.seal.at), record=record
    )
