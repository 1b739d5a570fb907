"""Pairs of different days: what the clinic's own error over weeks is computed from.

The same station on two days at most MOST_DAYS apart, with no treatment on record from the one
day to the other, and in the same part of the toxin cycle. What was never put on record cannot
be known, and a limb changes by itself too: such an error is one of measuring and of days.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from ..chart.chart import Chart
from ..chart.events import between, toxin_day
from ..chart.windows import Band, band_of
from ..tardieu.reading import StationKey
from ..text import counted
from .pairs import Pair, Take, examiner_of, pair_of, take_of, unlike

MOST_DAYS = 42
"""Days from the one to the other; ours, common practice, no published source."""

DIFFERENT_DAYS = "different-days"

Day = tuple[date, list[Take]]
"""The takes of one station on one day."""


def pairs_across(chart: Chart, bands: Sequence[Band]) -> tuple[list[Pair], Counter[str]]:
    """Find the pairs of different days in a chart; count what was left out, by the reason.

    Each day of a station is in one pair at most, so that no reading counts twice.

    Args:
        chart: the chart.
        bands: of days since an injection.
    """
    pairs: list[Pair] = []
    left_out: Counter[str] = Counter()
    for station, days in _stations(chart).items():
        at = 0
        while at + 1 < len(days):
            first, second = days[at : at + 2]
            reason = _unlike(chart, station, first, second, bands)
            if reason:
                left_out[reason] += 1
            else:
                pairs += _of_days(chart, first, second)
            at += 1 if reason else 2
    return pairs, left_out


def left_out_words(left_out: Counter[str]) -> list[str]:
    """Say how often two days were no pair, and why."""
    return [
        f"{counted(count, 'time')} two days of a station were left out as a pair: {reason}"
        for reason, count in left_out.most_common()
    ]


def _stations(chart: Chart) -> dict[StationKey, list[Day]]:
    """Sort the takes of a chart by station and day, the earliest first."""
    stations: dict[StationKey, dict[date, list[Take]]] = {}
    for session in sorted(chart.by_date, key=lambda session: session.when.date()):
        for reading in session.readings if examiner_of(session) else ():
            days = stations.setdefault(reading.station, {})
            days.setdefault(session.when.date(), []).append(take_of(session, reading))
    return {station: list(days.items()) for station, days in stations.items()}


def _unlike(
    chart: Chart, station: StationKey, first: Day, second: Day, bands: Sequence[Band]
) -> str:
    """Say why two days are no pair; "" when they are."""
    if (second[0] - first[0]).days > MOST_DAYS:
        return f"more than {MOST_DAYS} days apart"
    if between(chart.events, first[0], second[0]):
        return "a treatment date from the one to the other"
    muscle, side, _ = station
    since = [toxin_day(chart.events, muscle, side, day) for day, _ in (first, second)]
    if len({None if days is None else band_of(days, bands) for days in since}) > 1:
        return "in different parts of the toxin cycle"
    return unlike((*first[1], *second[1]))


def _of_days(chart: Chart, first: Day, second: Day) -> Iterator[Pair]:
    """Yield a pair for each rater of both days, and one of different raters."""
    one, two = _by_rater(first[1]), _by_rater(second[1])
    for rater in one:
        if rater in two:
            takes = (one[rater], two[rater])
            yield pair_of(chart, first[0], "same", takes, DIFFERENT_DAYS)
    different = ((a, b) for a in one.values() for b in two.values() if a.rater != b.rater)
    if takes := next(different, None):
        yield pair_of(chart, first[0], "different", takes, DIFFERENT_DAYS)


def _by_rater(takes: Iterable[Take]) -> dict[str, Take]:
    """The first take of each rater."""
    found: dict[str, Take] = {}
    for take in takes:
        found.setdefault(take.rater, take)
    return found
