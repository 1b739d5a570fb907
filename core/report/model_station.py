"""One reading of a session as a station of its report."""

from __future__ import annotations

from collections.abc import Iterator

from ..change.change import AngleChange
from ..change.compare import CompareRow
from ..change.trend import series_of
from ..change.trend_events import events_touching
from ..chart.chain import Chain
from ..chart.events import toxin_words
from ..tardieu.angles import show_angle
from ..tardieu.components import plain_line, shortfall_of, shown_gap
from ..tardieu.measured import State, fast_state, slow_state
from ..tardieu.reading import NOT_TESTED, Reading
from ..tardieu.reading_words import reading_words
from ..tardieu.reference import Reference
from .inputs import Inputs
from .model import Fact, ReportStation, Shift

_WORDS: dict[State, str] = {
    "measured": "",
    "no-catch": "no catch",
    "not-tested": "not tested",
    "not-recorded": "open",
}
NONE = "-"


def station_of(reading: Reading, inputs: Inputs) -> ReportStation:
    """Make a station of a reading with all a report says about it."""
    reference = inputs.reference(reading)
    muscle = inputs.muscle(reading)
    plain = plain_line(reading, reference, inputs.basis.settings.reading_error)
    row = inputs.row(reading)
    sessions = [each for each in inputs.chart.by_date if each.when <= inputs.session.when]
    return ReportStation(
        reading=reading,
        name=muscle.name if muscle else reading.muscle,
        r1=_WORDS[fast_state(reading)] or show_angle(reading.r1),
        r2=_WORDS[slow_state(reading)] or show_angle(reading.r2),
        quality=show_angle(reading.quality) or NONE,
        gap=show_angle(shown_gap(reading.gap)) or NONE,
        shortfall=show_angle(shortfall_of(reading, reference)) or NONE,
        plain=plain,
        reference=_reference(reference, plain),
        reference_source=_source(reference),
        shifts=tuple(_shifts(row)) if row else (),
        pattern=_pattern(row, inputs),
        warning=row.change.pattern.warning if row else "",
        notes=tuple(_notes(reading, inputs, row)),
        series=series_of(sessions, reading.muscle, reading.side),
        events=events_touching(inputs.chart.events, reading.muscle, (reading.side,)),
    )


def _reference(reference: Reference | str, plain: str) -> str:
    if isinstance(reference, Reference):
        return reference_words(reference)
    return "" if reference in plain else reference


def _source(reference: Reference | str) -> str:
    return f"{reference.source}; {reference.verified}" if isinstance(reference, Reference) else ""


def reference_words(reference: Reference) -> str:
    """Write a reference with whom it is of; where it comes from is among the sources."""
    people = "" if reference.sex == "any" else f"{reference.sex}, "
    spread = "" if reference.sd is None else f" (SD {reference.sd:g})"
    return (
        f"reference {reference.mean:g} deg{spread} stretch angle, {reference.kind_words}, "
        f"{reference.position}, {people}ages {reference.age_from} to {reference.age_to}"
    )


def _pattern(row: CompareRow | None, inputs: Inputs) -> str:
    if row:
        return row.change.pattern.words
    return "not measured in the session compared with" if inputs.comparison else ""


def _shifts(row: CompareRow) -> Iterator[Shift]:
    """Yield changes that are known, each with what it is held against."""
    for angle in row.change.angles:
        # That R1 or R2 is missing is worth a line; gap and shortfall only follow from them.
        if angle.change is not None or angle.name in ("R1", "R2"):
            yield _shift(angle, row)
    quality = row.change.quality
    yield Shift("quality", f"quality: {quality.words}", unfair=quality.unfair)


def _shift(angle: AngleChange, row: CompareRow) -> Shift:
    then, now = angle.before, angle.after
    if angle.name in ("R1", "R2"):
        then, now = row.shown(then), row.shown(now)
    values = "" if angle.change is None else f" ({then} then, {now} now)"
    source = "" if angle.change is None else angle.found.line
    return Shift(angle.name, angle.words + values, source, angle.unfair)


def _notes(reading: Reading, inputs: Inputs, row: CompareRow | None) -> Iterator[Fact]:
    """Yield everything else that was recorded, in a fixed order."""
    yield Fact("position", reading.posture or "not stated")
    yield from _tries(reading)
    if reading.clonus_s is not None:
        yield Fact("clonus", f"{reading.clonus_s} s")
    if reading.pain is not None:
        yield Fact("pain", f"{reading.pain} of 10")
    if reading.speed_deg_s is not None:
        yield Fact("speed", f"{reading.speed_deg_s} deg/s on average, timed by hand")
    if reading.not_tested:
        reason = NOT_TESTED.get(reading.not_tested, reading.not_tested)
        note = f": {reading.not_tested_note}" if reading.not_tested_note else ""
        yield Fact("not tested", reason + note)
    for flag in reading.flags:
        yield Fact(f"flag, {flag.level}", flag.text)
    for override in reading.overrides:
        yield Fact("override", f"{override.rule}: {override.reason}")
    if reading.comment:
        yield Fact("comment", reading.comment)
    yield from _cycle(reading, inputs)
    for one in row.differences if row else ():
        if one.level == "note":  # the others are with the changes that they touch
            yield Fact("not alike", one.words)
    yield from _formers(reading, inputs.chain)


def _tries(reading: Reading) -> Iterator[Fact]:
    for name, tries in (("fast tries", reading.r1_tries), ("slow tries", reading.r2_tries)):
        if len(tries) > 1:
            shown = ("no catch" if each is None else str(each) for each in tries)
            yield Fact(name, ", ".join(shown))


def _cycle(reading: Reading, inputs: Inputs) -> Iterator[Fact]:
    bands, day = inputs.basis.settings.toxin_bands, inputs.session.when.date()
    words = toxin_words(inputs.chart.events, reading.muscle, reading.side, day, bands)
    if words:
        yield Fact("cycle", words)


def _formers(reading: Reading, chain: Chain) -> Iterator[Fact]:
    """Yield values that held once, and what the sides of an open conflict say."""
    for former in chain.formers(reading.station):
        until = f"until {former.until.author}: {former.until.reason}"
        yield Fact("SUPERSEDED", f"{reading_words(former.reading)}; {until}")
    for claim in chain.claims(reading.station):
        said = f"{claim.amendment.author} says {reading_words(claim.reading)}"
        yield Fact("IN DISPUTE", f"{said}: {claim.amendment.reason}")
