"""The full report of a session: its page, and behind it everything else.

That is station by station, sources, words and hashes; for the page see page.py. A report is
about one closed session as its amendments leave it, held against one session before it. Every
renderer writes this and computes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..change.trend import Series
from ..change.trend_events import TrendEvent
from ..tardieu.reading import Reading
from ..tardieu.reading_words import station_words
from .page import Page

CHANGE_SIGNS = (
    "Changes in deg, since {before}. R1 and R2: + is more stretch. Gap: + is a larger gap. "
    "Shortfall: + is more missing from the reference."
)


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
        source: where the MDC comes from, or why there is none; in a finished report its
            number among the report's sources. "" for the quality.
        unfair: what was not alike and can move this number by itself.
    """

    name: str
    words: str
    source: str = ""
    unfair: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportStation:
    """One reading of the session.

    Attributes:
        reading: as it was entered.
        name: name of the muscle group, its id when it is not known any more.
        r1: angle of catch as read, deg, or why there is none.
        r2: end of the slow range as read, deg, or why there is none.
        quality: grade, or "-".
        gap: R2 - R1, deg, or "-" where it is undefined.
        shortfall: reference - R2, deg, or "-".
        plain: gap and shortfall in one plain line.
        reference: the reference range, or why there is none, "" where the plain line has said
            why.
        reference_source: where it comes from, "" for none; in a finished report its number
            among the report's sources.
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
    r1: str
    r2: str
    quality: str
    gap: str
    shortfall: str
    plain: str
    reference: str
    reference_source: str
    shifts: tuple[Shift, ...]
    pattern: str
    warning: str
    notes: tuple[Fact, ...]
    series: Series
    events: tuple[TrendEvent, ...]

    @property
    def title(self) -> str:
        """Muscle group, side in full, fast velocity."""
        return station_words(self.reading, self.name)

    @property
    def sources(self) -> str:
        """Where each MDC and the reference come from, by number; "" where none was needed."""
        pairs = [(shift.source, f"MDC of {shift.name}") for shift in self.shifts if shift.source]
        if self.reference_source:
            pairs.append((self.reference_source, "reference"))
        return "; ".join(fact.line for fact in _grouped(pairs))

    @property
    def unfair(self) -> tuple[Fact, ...]:
        """What was not alike, with the numbers that it can move by itself."""
        return _grouped((words, shift.name) for shift in self.shifts for words in shift.unfair)

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


@dataclass(frozen=True, slots=True)
class Report:
    """A full report.

    Attributes:
        page: what comes first, see page.py.
        people: who measured, who wrote, who signed.
        conditions: under which conditions.
        differences: what was not alike between the two sessions.
        events: treatment dates, in words.
        goals: goals of these treatments with how far they were reached, and T scores.
        stations: every reading in order.
        sources: where each MDC and each reference comes from, or why there is none, by number.
        superseded: withdrawn readings and unsettled conflicts.
        amendments: who amended, when and why.
        hashes: the full hashes of the session and its amendments.
        scales: the angle scales used.
        definitions: the words of the report.
    """

    page: Page
    people: tuple[Fact, ...]
    conditions: tuple[Fact, ...]
    differences: tuple[str, ...]
    events: tuple[str, ...]
    goals: tuple[str, ...]
    stations: tuple[ReportStation, ...]
    sources: tuple[Fact, ...]
    superseded: tuple[str, ...]
    amendments: tuple[str, ...]
    hashes: tuple[Fact, ...]
    scales: tuple[str, ...]
    definitions: tuple[Fact, ...]

    @property
    def unlike(self) -> tuple[str, ...]:
        """What was not alike as a whole, or that nothing was; () without a session to compare."""
        if not self.page.compared:
            return ()
        return self.differences or ("nothing as a whole; what differs at a station is said there",)

    @property
    def signs(self) -> str:
        """Say what + means in a change; "" without a session to compare with."""
        return CHANGE_SIGNS.format(before=self.page.before) if self.page.compared else ""

    @property
    def opening(self) -> tuple[tuple[str, tuple[Fact | str, ...]], ...]:
        """What comes before the stations: title and lines of each section, () for none."""
        return (
            ("Who measured", self.people),
            ("Conditions", self.conditions),
            (f"Not alike since {self.page.before}", self.unlike),
            ("Treatment dates up to this session", self.events),
            *((("Goals up to this session", self.goals),) if self.goals else ()),
        )

    @property
    def closing(self) -> tuple[tuple[str, tuple[Fact | str, ...]], ...]:
        """What comes after the stations."""
        return (
            ("Sources of MDCs and references", self.sources),
            ("Superseded and disputed", self.superseded),
            ("Amendments", self.amendments),
            ("Angle scales used", self.scales),
            ("Words", self.definitions),
            ("Record", self.hashes),
        )


def page_in(what: Page | Report) -> Page:
    """Take the page out of a full report; a page is one itself."""
    return what if isinstance(what, Page) else what.page
