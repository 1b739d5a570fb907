"""The few lines that come first in a report, and what is missing from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..change.compare import Comparison
from ..chart.chain import Chain
from ..chart.checklist import stations_of
from ..chart.session import Session
from ..tardieu.reading_words import reading_words
from .model import ReportStation


def summary_of(
    session: Session, stations: Sequence[ReportStation], comparison: Comparison | None, chain: Chain
) -> tuple[str, ...]:
    """Say what was measured, what changed by more than measurement error, what was overridden."""
    lines = [_counted(session, stations)]
    if chain.amendments:
        count = len(chain.amendments)
        lines.append(f"Amended {count} time{'s' * (count > 1)} since it was signed; values below")
        lines[-1] += " are as amended, former ones are marked SUPERSEDED"
    if chain.conflict:
        lines.append("Amendments of this session disagree and nobody has settled it")
    lines += _changes(stations, comparison)
    count = sum(len(station.reading.overrides) for station in stations)
    if count:
        lines.append(f"{count} impossible value{'s' * (count > 1)} overridden with a reason")
    return tuple(lines)


def _counted(session: Session, stations: Sequence[ReportStation]) -> str:
    count = {name: sum(s.state == name for s in stations) for name in ("flagged", "not tested")}
    words = [f"{len(stations)} station{'s' * (len(stations) != 1)} with a reading"]
    words += [f"{number} {name}" for name, number in count.items() if number]
    still_open = len(unread(session))
    if still_open:
        words.append(f"{still_open} of the checklist left open")
    return "; ".join(words)


def _changes(stations: Sequence[ReportStation], comparison: Comparison | None) -> list[str]:
    """Write changes of R1 and R2 beyond measurement error, and how many are not."""
    if comparison is None:
        return ["First closed session: nothing to compare with"]
    verdicts = {"larger": 0, "within": 0, "cannot say": 0}
    named: list[str] = []
    for station in stations:
        for shift in (s for s in station.shifts if s.name in ("R1", "R2")):
            verdicts[shift.verdict] += 1
            if shift.verdict == "larger":
                unfair = " (conditions differ)" if shift.unfair else ""
                named.append(f"{station.title}: {shift.words}{unfair}")
        if station.warning:
            named.append(f"{station.title}: {station.warning}")
    gone = [
        f"{row.name}, {row.side.word}: {row.change.pattern.words}"
        for row in comparison.rows
        if row.change.catch_gone
    ]
    counts = (
        f"Changes of R1 and R2 since {comparison.before.date_words}: {verdicts['larger']} "
        f"larger than measurement error, {verdicts['within']} within it, "
        f"{verdicts['cannot say']} without a published figure or a second reading; "
        f"{comparison.chance_words}"
    )
    return [*gone, counts, *named]


def unread(session: Session) -> list[tuple[str, str]]:
    """List (muscle id, side in full) of each station of the checklist without a reading."""
    there = {(reading.muscle, reading.side) for reading in session.readings}
    stations = stations_of(session.checklist)
    return [(i.muscle, side.word) for i, side in stations if (i.muscle, side) not in there]


def left_open(session: Session, names: Mapping[str, str]) -> tuple[str, ...]:
    """List the stations of the checklist that nobody entered, in words."""
    return tuple(
        f"Left open: {names.get(muscle, muscle)}, {side}" for muscle, side in unread(session)
    )


def left_out(comparison: Comparison | None) -> tuple[str, ...]:
    """List the stations that only the session compared with has, in words."""
    rows = comparison.rows if comparison else ()
    return tuple(
        f"Measured then and not now: {row.name}, {row.side.word}, {row.velocity}: "
        f"{reading_words(row.before)}"
        for row in rows
        if row.after is None
    )
