"""Making a report out of a chart: which session, what it is held against, and its head."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime

from ..change.compare import Basis, Comparison, compare
from ..chart.amendment import Amendment
from ..chart.chain import Chain, key_of
from ..chart.chart import Chart
from ..chart.events import event_words, in_date_order, parse_day, standing
from ..chart.patient import DIAGNOSIS_GROUPS, Patient
from ..chart.session import MONTHS, Conditions, Session
from ..problem import Problem
from ..tardieu.glossary import ANGLES, CAUTION, GRADES, LETTERS, VELOCITIES
from ..tardieu.reading import Reading
from .model import Fact, Report, ReportStation
from .model_station import ReportInputs, station_of
from .model_summary import left_open, left_out, summary_of

BLIND = "hidden while this was typed: blind rating"

RECORD_LETTERS = 12
"""Characters of a hash on every page."""


def choose_session(chart: Chart, day: str = "") -> Session | Problem:
    """Choose the session of a day, the latest for "", the last one of several on a day.

    Args:
        chart: the chart.
        day: YYYY-MM-DD, or "".
    """
    sessions = chart.by_date
    if not sessions:
        return Problem("", "there is no closed session", "close one first")
    wanted = parse_day(day)
    found = [each for each in sessions if not day or each.when.date() == wanted]
    if found:
        return found[-1]
    dates = ", ".join(dict.fromkeys(each.when.date().isoformat() for each in sessions))
    return Problem("", f"there is no closed session on {day}", f"one of {dates}")


def make_report(
    chart: Chart, session: Session, basis: Basis, version: str, before: Session | None = None
) -> Report:
    """Make the report of one session.

    Args:
        chart: the patient's chart.
        session: one of ``chart.by_date``.
        basis: muscle groups, settings and figures.
        version: of the program.
        before: the session to compare with; the one just before it when None.
    """
    chain = next(each for each in chart.chains if each.session.id == session.id)
    before = before or _previous(chart, session)
    comparison = compare(chart.patient, before, session, chart.events, basis) if before else None
    inputs = ReportInputs(chart, session, chain, basis, comparison)
    stations, sources = _numbered([station_of(each, inputs) for each in session.readings])
    names = {id_: muscle.name for id_, muscle in basis.muscles.items()}
    until = session.when.date()
    return Report(
        code=chart.patient.code,
        date=session.date_words,
        when=session.when,
        record="+".join(tip[:RECORD_LETTERS] for tip in chain.tips[:2]),
        made_by=f"limbscribe {version}",
        patient=patient_words(chart.patient, session.when),
        people=tuple(_people(session)),
        conditions=tuple(_conditions(session)),
        summary=summary_of(session, stations, comparison, chain),
        before=before.date_words if before else "",
        differences=_differences(comparison),
        missing=(*left_open(session, names), *left_out(comparison)),
        events=tuple(
            event_words(event, names)
            for event in in_date_order(standing(chart.events))
            if (parse_day(event.date) or date.min) <= until
        ),
        stations=stations,
        sources=sources,
        superseded=tuple(_superseded(chain, session, names)),
        amendments=tuple(_amended(each) for each in chain.amendments),
        hashes=tuple(_hashes(chain)),
        scales=_scales(session.readings, basis),
        definitions=_definitions(stations),
        caution=CAUTION,
    )


def _numbered(
    stations: Sequence[ReportStation],
) -> tuple[tuple[ReportStation, ...], tuple[Fact, ...]]:
    """Number the sources of MDCs, which many stations share; returns these and the sources."""
    found = dict.fromkeys(s.source for station in stations for s in station.shifts if s.source)
    numbers = {source: f"M{number}" for number, source in enumerate(found, 1)}
    numbered = tuple(
        replace(
            station,
            shifts=tuple(replace(s, source=numbers.get(s.source, "")) for s in station.shifts),
        )
        for station in stations
    )
    return numbered, tuple(Fact(number, source) for source, number in numbers.items())


def _previous(chart: Chart, session: Session) -> Session | None:
    sessions = chart.by_date
    place = [each.id for each in sessions].index(session.id)
    return sessions[place - 1] if place else None


def patient_words(patient: Patient, day: date) -> str:
    """Say what is known of a patient on one line."""
    words = (
        patient.age_words(day),
        patient.sex or "sex not stated",
        DIAGNOSIS_GROUPS.get(patient.diagnosis, patient.diagnosis),
        f"affected: {patient.affected}" if patient.affected else "",
        f"{patient.height_cm} cm" if patient.height_cm is not None else "",
    )
    return ", ".join(word for word in words if word)


def _people(session: Session) -> Iterator[Fact]:
    yield Fact("Examiner", session.examiner or "not stated")
    if session.conditions.reader:
        yield Fact("Goniometer read by", session.conditions.reader)
    yield Fact("Recorder", session.recorder or "not stated")
    if session.seal:
        yield Fact("Closed and signed", f"{session.seal.author}, {moment(session.seal.at)}")
    if session.source != "entry":
        yield Fact("Came from", session.source)


def _conditions(session: Session) -> Iterator[Fact]:
    given = session.conditions
    yield Fact("Started", moment(session.started))
    if given.typed_later:
        yield Fact("Typed later, from paper", moment(given.typed_later))
    if given.blind:
        yield Fact("Last values", BLIND)
    yield Fact("Checklist", session.checklist.name)
    yield Fact("Posture", given.posture or "as each muscle group's test says")
    yield Fact("Instrument", given.instrument or "goniometer")
    yield Fact("Since last dose of tone-lowering medication", _minutes(given.minutes_since_dose))
    yield Fact("Since orthosis or cast came off", _minutes(given.minutes_since_orthosis))
    yield from _typed(given)
    checked = "confirmed on screen" if given.cautions_read else "no confirmation on record"
    yield Fact("Cautions before the first fast stretch", checked)


def _typed(given: Conditions) -> Iterator[Fact]:
    if given.illness:
        yield Fact("Illness, sleep and the like", given.illness)
    if given.notes:
        yield Fact("Notes", given.notes)


def _minutes(value: int | None) -> str:
    return "not stated" if value is None else f"{value} min"


def moment(text: str) -> str:
    """Write a time with its offset; one that is not a time is shown as stored."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return text
    day = f"{when.day:02d} {MONTHS[when.month - 1]} {when.year}"
    return f"{day} {when.isoformat(timespec='minutes')[11:16]} UTC{when.isoformat()[19:]}"


def _differences(comparison: Comparison | None) -> tuple[str, ...]:
    if comparison is None:
        return ()
    return tuple(
        f"{one.words}" + (f" (can move {', '.join(one.touches)})" if one.touches else "")
        for one in comparison.differences
    )


def _amended(amendment: Amendment) -> str:
    what = "Conflict settled" if amendment.settles else "Amended"
    when = moment(amendment.at)
    return f"{what} by {amendment.author}, {when}: {amendment.reason}"


def _superseded(chain: Chain, session: Session, names: dict[str, str]) -> Iterator[str]:
    """Say which readings are gone, and what is in dispute."""
    from ..tardieu.reading_words import reading_words, station_words

    there = {reading.station for reading in session.readings}
    given = [*chain.session.readings, *(r for a in chain.amendments for r in a.readings)]
    for station, reading in {reading.station: reading for reading in given}.items():
        if station in there:
            continue
        title = station_words(reading, names.get(reading.muscle, ""))
        for former in chain.formers(station):
            if former.reading:
                by = f"withdrawn by {former.until.author}: {former.until.reason}"
                yield f"SUPERSEDED {title}: {reading_words(former.reading)}; {by}"
    if chain.conflict:
        who = " and ".join(each.author for each in chain.conflict)
        yield f"CONFLICT: amendments by {who} disagree; neither is applied until one settles it"


def _hashes(chain: Chain) -> Iterator[Fact]:
    if chain.session.seal:
        yield Fact("Session as signed", f"SHA-256 {chain.session.seal.hash}")
    for amendment in chain.amendments:
        yield Fact(f"Amendment by {amendment.author}", f"SHA-256 {key_of(amendment)}")


def _scales(readings: tuple[Reading, ...], basis: Basis) -> tuple[str, ...]:
    """Say how angles of this session are to be read, each scale of each muscle group once."""
    words: dict[str, None] = {}
    for reading in readings:
        muscle, scale = basis.muscles.get(reading.muscle), reading.scale
        name = muscle.name if muscle else reading.muscle
        if muscle and scale in muscle.scales:
            words[f"{name}: {scale.id}; {muscle.example(scale.id)}"] = None
            continue
        sign = "" if scale.slope == 1 else "-"
        how = f"stretch angle = {sign}angle read {scale.offset:+d}"
        words[f"{name}: {scale.id}; {how} deg (as it was then)"] = None
    return tuple(words)


def _definitions(stations: tuple[ReportStation, ...]) -> tuple[Fact, ...]:
    grades = [each for each in GRADES if each.word != "5" or _has_five(stations)]
    terms = [(each.word, each) for each in (*ANGLES, *VELOCITIES)]
    terms += [(f"quality {each.word}", each) for each in grades]
    found = [
        Fact(word, each.meaning + (f" [{each.source}]" if each.source else ""))
        for word, each in terms
    ]
    mdc = "smallest detectable change: a smaller one may be the measurement alone"
    return (*found, Fact("MDC", mdc), Fact("letters", LETTERS))


def _has_five(stations: tuple[ReportStation, ...]) -> bool:
    return any(station.reading.quality == 5 for station in stations)
