"""What a report says, in words and whole numbers, before any form of it is written.

A report is about one closed session as its amendments leave it, held against one session
before it. Every renderer (text, Markdown, HTML, the short form) writes this and computes
nothing, so that all of them say the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from ..change.trend import Series
from ..change.trend_events import TrendEvent
from ..tardieu.muscle import Place
from ..tardieu.reading import Reading, Side

STATES = {
    "done": "measured",
    "flagged": "measured; the checks had something to say",
    "not tested": "not tested, or not to the end",
    "open": "left open",
}
"""What became of a station -> words for the legend."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing: what it is, and how it was."""

    label: str
    words: str

    @property
    def line(self) -> str:
        """Both on one line."""
        return f"{self.label}: {self.words}"


@dataclass(frozen=True, slots=True)
class Shift:
    """The change of one number since the session compared with.

    Attributes:
        name: "R1", "R2", "gap", "shortfall" or "quality".
        words: then and now, the change, and its verdict against the MDC.
        verdict: "larger", "within", "cannot say", or "" for the quality.
        source: where the MDC comes from, or why there is none; in a finished report its
            number among the report's sources. "" for the quality.
        unfair: what was not alike and can move this number by itself.
    """

    name: str
    words: str
    verdict: str = ""
    source: str = ""
    unfair: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportStation:
    """One reading of the session.

    Attributes:
        reading: as it was entered.
        name: name of the muscle group, its id when it is not known any more.
        side: side of the body.
        velocity: fast velocity.
        state: key of STATES.
        place: where it is on the body chart, None for an unknown muscle group.
        r1: angle of catch as read, deg, or why there is none.
        r2: end of the slow range as read, deg, or why there is none.
        quality: grade, or "-".
        gap: R2 - R1, deg, or "-" where it is undefined.
        shortfall: reference - R2, deg, or "-".
        plain: gap and shortfall in one plain line.
        reference: the reference range with its source, or why there is none, "" where the
            plain line has said why.
        shifts: changes since the session compared with.
        pattern: what R1 and R2 did together, "" without a session to compare with.
        warning: what must not be misread, or "".
        notes: everything else, one thing a line: position, tries, clonus, pain, why not
            tested, flags, overrides, comment, toxin days, superseded values.
        series: R1 and R2 over all sessions up to this one.
        events: what was done to this muscle group, for the trend.
    """

    reading: Reading
    name: str
    side: Side
    velocity: str
    state: str
    place: Place | None
    r1: str
    r2: str
    quality: str
    gap: str
    shortfall: str
    plain: str
    reference: str
    shifts: tuple[Shift, ...]
    pattern: str
    warning: str
    notes: tuple[Fact, ...]
    series: Series
    events: tuple[TrendEvent, ...]

    @property
    def title(self) -> str:
        """Muscle group, side in full, fast velocity."""
        return f"{self.name}, {self.side.word}, {self.velocity}"

    @property
    def sources(self) -> str:
        """Where each MDC comes from, by its number; "" where none was needed."""
        found = _grouped((shift.source, shift.name) for shift in self.shifts if shift.source)
        return "; ".join(fact.line for fact in found)

    @property
    def unfair(self) -> tuple[Fact, ...]:
        """What was not alike, with the numbers that it can move by itself."""
        return _grouped((words, shift.name) for shift in self.shifts for words in shift.unfair)

    @property
    def cells(self) -> tuple[str, ...]:
        """Its row under COLUMNS."""
        side = self.side.word
        numbers = (self.r1, self.r2, self.quality, self.gap, self.shortfall)
        return (self.name, side, self.velocity, *numbers)

    @property
    def values(self) -> str:
        """Its numbers and their angle scale on one line."""
        return (
            f"R1 {self.r1}, R2 {self.r2}, quality {self.quality}, gap {self.gap}, "
            f"shortfall {self.shortfall}; scale {self.reading.scale.id}"
        )


def _grouped(pairs: Iterable[tuple[str, str]]) -> tuple[Fact, ...]:
    """Group (words, name) into facts: every name of the same words together, before those."""
    names: dict[str, list[str]] = {}
    for words, name in pairs:
        names.setdefault(words, []).append(name)
    return tuple(Fact(", ".join(found), words) for words, found in names.items())


COLUMNS = ("Muscle", "Side", "Fast", "R1", "R2", "Quality", "Gap", "Shortfall")


@dataclass(frozen=True, slots=True)
class Report:
    """A report.

    Attributes:
        code: patient code.
        date: date of the session in words.
        when: start of the session.
        record: start of the hash that names the session with its amendments.
        made_by: program and version.
        patient: what is known of the patient, one line.
        people: who measured, who wrote, who signed.
        conditions: under which conditions.
        summary: the session in a few lines.
        before: date of the session compared with, "" without one.
        differences: what was not alike between the two sessions.
        missing: stations measured then and not now, and stations left open.
        events: treatment dates, in words.
        stations: every reading in order.
        sources: where each MDC comes from, or why there is none, by number.
        superseded: withdrawn readings and unsettled conflicts.
        amendments: who amended, when and why.
        hashes: the full hashes of the session and its amendments.
        scales: the angle scales used.
        definitions: the words of the report.
        caution: what a report is and is not.
    """

    code: str
    date: str
    when: datetime
    record: str
    made_by: str
    patient: str
    people: tuple[Fact, ...]
    conditions: tuple[Fact, ...]
    summary: tuple[str, ...]
    before: str
    differences: tuple[str, ...]
    missing: tuple[str, ...]
    events: tuple[str, ...]
    stations: tuple[ReportStation, ...]
    sources: tuple[Fact, ...]
    superseded: tuple[str, ...]
    amendments: tuple[str, ...]
    hashes: tuple[Fact, ...]
    scales: tuple[str, ...]
    definitions: tuple[Fact, ...]
    caution: str

    @property
    def unlike(self) -> tuple[str, ...]:
        """What was not alike, or that nothing was; () without a session to compare with."""
        return self.differences or ("nothing on record differs",) if self.before else ()

    @property
    def closing(self) -> tuple[tuple[str, tuple[Fact | str, ...]], ...]:
        """What comes after the stations: title and lines of each section, () for none."""
        return (
            ("MDC: where it comes from", self.sources),
            ("Superseded and disputed", self.superseded),
            ("Amendments", self.amendments),
            ("Angle scales used", self.scales),
            ("Words", tuple(fact.line for fact in self.definitions)),
            ("Record", tuple(fact.line for fact in self.hashes)),
        )
