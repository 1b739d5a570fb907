"""Making the full report of a session out of a chart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from ..change.comparability import Difference
from ..change.compare import Basis
from ..chart.amendment import Amendment, withdrawn_readings
from ..chart.chain import Chain, key_of
from ..chart.chart import Chart
from ..chart.event import Event
from ..chart.events import event_words, in_date_order, parse_day, standing
from ..chart.goals import T_SOURCE, goals_by_day, goals_of, t_words, treatment_words
from ..chart.session import Session, day_words
from ..tardieu.glossary import ANGLES, GRADES, LETTERS, VELOCITIES
from ..tardieu.reading import Reading
from .inputs import inputs_of
from .model import Fact, Report, ReportStation
from .model_station import station_of
from .page_build import page_of
from .page_words import moment

BLIND = "hidden while this was typed: blind rating"


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
    inputs = inputs_of(chart, session, basis, before)
    chain, comparison = inputs.chain, inputs.comparison
    stations, sources = _numbered([station_of(each, inputs) for each in session.readings])
    names = {id_: muscle.name for id_, muscle in basis.muscles.items()}
    until = session.when.date()
    return Report(
        page=page_of(inputs, version),
        people=tuple(_people(session)),
        conditions=tuple(_conditions(session)),
        differences=tuple(map(_difference, comparison.differences if comparison else ())),
        events=tuple(
            event_words(event, names)
            for event in in_date_order(standing(chart.events))
            if (parse_day(event.date) or date.min) <= until
        ),
        goals=tuple(_goals(chart.events, until)),
        stations=stations,
        sources=sources,
        superseded=tuple(_superseded(chain, session, names)),
        amendments=tuple(_amended(each) for each in chain.amendments),
        hashes=tuple(_hashes(chain)),
        scales=_scales(session.readings, basis),
        definitions=_definitions(stations),
    )


def _goals(events: Sequence[Event], until: date) -> Iterator[str]:
    """Say which goals every treatment had, and how far they were reached up to a day."""
    goals = (goal for goal in goals_of(events, until) if goal.day and goal.day <= until)
    for day, group in goals_by_day(goals).items():
        for goal in group:
            when = parse_day(goal.scored)
            attained = f"attained {goal.attained}, {day_words(when)}" if when else "not scored yet"
            yield f"{treatment_words(day)}: {goal.title}: {attained}"
        if score := t_words(group):
            yield f"{treatment_words(day)}: {score}; 50 is the expected level [{T_SOURCE}]"


def _numbered(
    stations: Sequence[ReportStation],
) -> tuple[tuple[ReportStation, ...], tuple[Fact, ...]]:
    """Number the sources, which many stations share; returns the stations and the sources."""
    found: dict[str, None] = {}
    for station in stations:
        found |= dict.fromkeys([*(s.source for s in station.shifts), station.reference_source])
    numbers = {source: f"S{n}" for n, source in enumerate(filter(None, found), 1)} | {"": ""}
    numbered = tuple(
        replace(
            station,
            reference_source=numbers[station.reference_source],
            shifts=tuple(replace(s, source=numbers[s.source]) for s in station.shifts),
        )
        for station in stations
    )
    return numbered, tuple(Fact(number, source) for source, number in numbers.items() if source)


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
    yield Fact("Started", moment(session.started) if session.time_stated else session.date_words)
    if given.typed_later:
        yield Fact("Typed later, from paper", moment(given.typed_later))
    if given.blind:
        yield Fact("Last values", BLIND)
    yield Fact("Checklist", session.checklist.title)
    yield Fact("Posture", given.posture or "as each muscle group's test says")
    yield Fact("Instrument", given.instrument or "goniometer")
    yield Fact("Since last dose of tone-lowering medication", _minutes(given.minutes_since_dose))
    yield Fact("Since orthosis or cast came off", _minutes(given.minutes_since_orthosis))
    if given.illness:
        yield Fact("Illness, sleep and the like", given.illness)
    if given.notes:
        yield Fact("Notes", given.notes)
    checked = "confirmed on screen" if given.cautions_read else "no confirmation on record"
    yield Fact("Cautions before the first fast stretch", checked)


def _minutes(value: int | None) -> str:
    return "not stated" if value is None else f"{value} min"


def _difference(one: Difference) -> str:
    return one.words + (f" (can move {', '.join(one.touches)})" if one.touches else "")


def _amended(amendment: Amendment) -> str:
    what = "Conflict settled" if amendment.settles else "Amended"
    when = moment(amendment.at)
    return f"{what} by {amendment.author}, {when}: {amendment.reason}"


def _superseded(chain: Chain, session: Session, names: dict[str, str]) -> Iterator[str]:
    """Say which readings are gone, and what is in dispute."""
    from ..tardieu.reading_words import reading_words, station_words

    for reading in withdrawn_readings(chain.session, chain.amendments, session):
        title = station_words(reading, names.get(reading.muscle, ""))
        for former in chain.formers(reading.station):
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
    has_five = any(station.reading.quality == 5 for station in stations)
    grades = [each for each in GRADES if each.word != "5" or has_five]
    terms = [(each.word, each) for each in (*ANGLES, *VELOCITIES)]
    terms += [(f"quality {each.word}", each) for each in grades]
    found = [
        Fact(word, each.meaning + (f" [{each.source}]" if each.source else ""))
        for word, each in terms
    ]
    mdc = "smallest detectable change: a smaller one may be the measurement alone"
    return (*found, Fact("MDC", mdc), Fact("letters", LETTERS))
