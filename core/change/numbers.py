"""One station over the sessions as a table of numbers: lines of plain text.

The screen shows them to those who cannot use a plot, and ``limbscribe trend`` prints them,
so nothing here knows the screen.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..chart.chain import dispute
from ..chart.events import day_words
from ..chart.patient import Patient, reference_for
from ..chart.session import Session
from ..entry.rows import NO_REFERENCE, number_text, r1_text
from ..tardieu.components import shortfall_of, shown_gap
from ..tardieu.muscles import Muscle
from ..tardieu.reading import Side
from ..tardieu.reading_words import not_tested_words
from ..tardieu.reference import Reference
from ..text import visible
from .trend import Point, Series, point_of
from .trend_events import TrendEvent

WITH_SCALE = 66
"""Cells from which the angle scale has a column; below it has a line where it changes."""

NO_SESSION = -1
"""Index of a line that belongs to no session."""

AS_TYPED = "angles in deg, as typed in the scale named"


@dataclass(frozen=True, slots=True)
class JointRow:
    """One session's reading of a station.

    Attributes:
        session: index of the session.
        point: its values.
        reference: the reference range for the age at that session, or why there is none.
        moved: posture or test position differ from the standard one.
    """

    session: int
    point: Point
    reference: Reference | str
    moved: bool

    @property
    def shortfall(self) -> int | None:
        """Reference - R2, deg; None without a reference or a slow range."""
        return shortfall_of(self.point.reading, self.reference)


def joint_rows(
    sessions: Sequence[Session],
    joint: tuple[str, Side],
    muscles: Mapping[str, Muscle],
    patient: Patient,
) -> tuple[JointRow, ...]:
    """Every reading of one muscle group and side.

    Args:
        sessions: in the order of their dates.
        joint: id of the muscle group, and side.
        muscles: all muscle groups by id.
        patient: for the reference ranges.
    """
    muscle = muscles.get(joint[0])
    standard = muscle.posture_words if muscle else ""
    rows: list[JointRow] = []
    for index, session in enumerate(sessions):
        reference = reference_for(patient, muscle, session.when, NO_REFERENCE)
        for reading in session.readings:
            if (reading.muscle, reading.side) == joint:
                moved = bool(standard and reading.posture and reading.posture != standard)
                rows.append(JointRow(index, point_of(session, reading), reference, moved))
    return tuple(rows)


def series_from(joint: tuple[str, Side], rows: Sequence[JointRow]) -> Series:
    """The rows as a series to draw."""
    return Series(joint[0], joint[1], tuple(row.point for row in rows))


def title_line(width: int) -> str:
    """The titles of the columns."""
    titles = f"{'date':<11} fast {'R1':>4} quality {'R2':>4} {'gap':>4} shortfall"
    return f"{titles} scale" if width >= WITH_SCALE else titles


def number_lines(
    rows: Sequence[JointRow], width: int, events: Sequence[TrendEvent] = ()
) -> list[tuple[int, str]]:
    """The table: index of the session and a line; more lines where there is more to say.

    Events stand between the sessions, those of a session's own day after it, with NO_SESSION
    for their index.
    """
    lines: list[tuple[int, str]] = []
    scale = ""
    waiting = list(events)
    for row in rows:
        lines += _event_lines(waiting, row.point.day, width)
        reading = row.point.reading
        cells = (
            f"{row.point.date_words:<11} {reading.fast_velocity:<4} {r1_text(reading):>4} "
            f"{number_text(reading.quality):>7} {number_text(reading.r2):>4} "
            f"{number_text(shown_gap(row.point.gap)):>4} {number_text(row.shortfall):>9}"
        )
        if width >= WITH_SCALE:
            cells += f" {visible(reading.scale.id)}"
        lines.append((row.session, cells))
        notes: list[str] = []
        if width < WITH_SCALE and reading.scale.id != scale:
            scale = reading.scale.id
            notes.append(f"scale: {scale}")
        if reading.not_tested:
            notes.append(f"not tested: {not_tested_words(reading)}")
        if row.moved:
            notes.append(f"position: {reading.posture}")
        lines += [(row.session, visible(f"    {note}")) for note in notes]
    return lines + _event_lines(waiting, date.max, width)


def _event_lines(waiting: list[TrendEvent], until: date, width: int) -> list[tuple[int, str]]:
    """Takes the events before a day off the list, and tells them."""
    lines: list[tuple[int, str]] = []
    while waiting and waiting[0].day < until:
        event = waiting.pop(0)
        text = visible(f"{day_words(event.day)} {event.words}")
        wrapped = textwrap.wrap(text, width, subsequent_indent="    ")
        lines += [(NO_SESSION, part) for part in wrapped]
    return lines


def reference_lines(rows: Sequence[JointRow]) -> list[str]:
    """What the shortfalls were worked out from: each reference once, with its source."""
    seen: dict[Reference | str, str] = {}
    for row in rows:
        seen.setdefault(row.reference, row.point.date_words)
    lines: list[str] = []
    for reference, begun in seen.items():
        since = f"from {begun} on: " if len(seen) > 1 else ""
        if isinstance(reference, str):
            lines.append(f"shortfall: {since}{reference}")
            continue
        lines.append(
            f"shortfall: {since}reference {reference.whole} deg as a stretch angle, "
            f"{reference.source}; {reference.verified}"
        )
    return [visible(text) for text in lines]


def cautions(rows: Sequence[JointRow]) -> list[str]:
    """What keeps sessions of a trend from being compared as they stand."""
    words: list[str] = []
    fast = {row.point.reading.fast_velocity for row in rows if row.point.r1 is not None}
    if len(fast) > 1:
        words.append("R1 was read at V2 and at V3: the numbers say which")
    moved = len({row.session for row in rows if row.moved})
    if moved:
        times = "1 session" if moved == 1 else f"{moved} sessions"
        words.append(f"position differs from the standard one in {times}: see the numbers")
    disputed = ((row.point.date_words, dispute(row.point.reading)) for row in rows)
    return [*words, *(f"{day}: {what}" for day, what in disputed if what)]
