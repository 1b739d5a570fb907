"""The short form of a report: at most ten lines of plain ASCII, to paste into a record.

Every reading is in it. Stations share lines where there are many, so lines may be long; the
record that they are pasted into breaks them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from .model import Report, ReportStation
from .text import plain

_STATION_LINES = 5


def render_short(report: Report) -> str:
    """Write the report in at most ten lines, each ending with a line end."""
    return "".join(f"{plain(row)}\n" for row in _rows(report))


def _rows(report: Report) -> Iterator[str]:
    people = ", ".join(f"{fact.label.lower()} {fact.words}" for fact in report.people[:2])
    yield f"{report.code}, {report.date}, Tardieu scale; {people}. Angles in deg as read."
    yield from _shared(list(_by_muscle(report.stations)), _STATION_LINES)
    if report.missing:
        yield "; ".join(report.missing)
    yield f"{_sentence(report.summary)}"
    remarks = [*(_remarks(report.stations)), *report.superseded]
    if remarks:
        yield "; ".join(remarks)
    yield f"Record {report.record}. {report.caution}"


def _sentence(lines: Iterable[str]) -> str:
    return ". ".join(lines) + "."


def _shared(items: Sequence[str], lines: int) -> Iterator[str]:
    """Share the items among so many lines at most, in order and as evenly as they go."""
    each = max(1, -(-len(items) // lines))
    for start in range(0, len(items), each):
        yield "; ".join(items[start : start + each])


def _by_muscle(stations: Iterable[ReportStation]) -> Iterator[str]:
    """Write each muscle group with its sides, in the order of the session."""
    groups: dict[tuple[str, str], list[str]] = {}
    for station in stations:
        key = (station.name, station.reading.scale.id)
        groups.setdefault(key, []).append(_values(station))
    for (name, scale), values in groups.items():
        yield f"{name} ({scale}): {', '.join(values)}"


def _values(station: ReportStation) -> str:
    clonus = station.reading.clonus_s
    words = [
        f"{station.side.word} R1 {station.r1} ({station.velocity})",
        f"R2 {station.r2}",
        f"quality {station.quality}",
        "" if station.gap == "-" else f"gap {station.gap}",
        "" if station.shortfall == "-" else f"shortfall {station.shortfall}",
        "" if clonus is None else f"clonus {clonus} s",
        "" if station.reading.pain is None else f"pain {station.reading.pain}/10",
    ]
    return " ".join(word for word in words if word)


def _remarks(stations: Iterable[ReportStation]) -> Iterator[str]:
    """Say what must not be lost of single stations: reasons, flags, comments, former values."""
    kept = ("not tested", "flag", "override", "comment", "SUPERSEDED", "IN DISPUTE")
    for station in stations:
        for note in station.notes:
            if note.label.startswith(kept):
                yield f"{station.title}: {note.line}"
