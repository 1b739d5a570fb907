"""Everything the shelf says about agreement: the pairs, their tables and their figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..chart.chart import Chart
from ..chart.windows import DEFAULT_BANDS, Band
from ..tardieu.muscles import Muscle
from ..text import counted
from .across_days import DIFFERENT_DAYS, MOST_DAYS, left_out_words, pairs_across
from .adopt import Circumstances, circumstances_of
from .digits import DigitPreference
from .overview import OverviewRow
from .pairs import (
    INTERVAL_WORDS,
    QUANTITIES,
    RATER_WORDS,
    Pair,
    PairTable,
    instrument_words,
    pair_tables,
    pairs_of,
    shelf_digits,
    standard_posture,
)
from .study import Study, analyse


@dataclass(frozen=True, slots=True)
class Gathered:
    """What the shelf holds.

    Attributes:
        studies: each table of pairs with its figures.
        pairs: every pair that was used.
        left_out: what was not, and why.
        digits: last digits of each examiner.
    """

    studies: tuple[tuple[PairTable, Study], ...]
    pairs: tuple[Pair, ...]
    left_out: tuple[str, ...]
    digits: tuple[DigitPreference, ...]


def gather(
    charts: Iterable[Chart],
    order: Sequence[str],
    muscle: str | None = None,
    bands: Sequence[Band] = DEFAULT_BANDS,
) -> Gathered:
    """Compute the studies that the pairs of sessions on a shelf make.

    Args:
        charts: every chart.
        order: muscle ids in the order of the tables.
        muscle: only this muscle group.
        bands: of days since an injection, for pairs of different days.
    """
    charts = tuple(charts)
    pairs: list[Pair] = []
    left_out: list[str] = []
    no_pair: Counter[str] = Counter()
    for chart in charts:
        of_a_day, left = pairs_of(chart)
        of_days, unlike = pairs_across(chart, bands)
        own = (*of_a_day, *of_days)
        pairs += [pair for pair in own if muscle in (None, pair.reading.muscle)]
        left_out += left
        no_pair += unlike
    left_out += left_out_words(no_pair)
    tables = pair_tables(pairs, order)
    studies = tuple((table, analyse(table.ratings, table.categories)) for table in tables)
    return Gathered(studies, tuple(pairs), tuple(left_out), tuple(shelf_digits(charts, muscle)))


def row_of(table: PairTable, study: Study) -> OverviewRow:
    """Make the row of a table in the overview."""
    unit = "" if table.quantity == "quality" else "deg"
    return OverviewRow(table.quantity, study, unit, table.blind)


def title_of(table: PairTable, muscle: Muscle | None) -> str:
    """Say what a table is about, in words."""
    name = muscle.name if muscle else table.muscle
    unit = "grade" if table.quantity == "quality" else "deg"
    fast = "" if table.quantity == "R2" else f" at {table.velocity}"
    return f"{name}, {table.quantity}{fast} ({unit}){_posture(table, muscle)}: {_how(table)}"


def group_of(table: PairTable, muscle: Muscle | None) -> str:
    """Say what a table and those of the other quantities of the same pairs are about."""
    name = muscle.name if muscle else table.muscle
    return f"{name}, {table.velocity}{_posture(table, muscle)}: {_how(table)}"


def pair_lines(table: PairTable) -> list[str]:
    """List the pairs of a table with what was measured, blind ratings marked."""
    value = QUANTITIES[table.quantity]
    angles = "" if table.quantity == "quality" else "; angles as stretch angles, deg"
    lines = [f"The pairs{angles}"]
    for pair in table.pairs:
        measured = (value(take.reading) for take in pair.takes)
        shown = ["none" if number is None else f"{number}" for number in measured]
        takes = zip(pair.takes_words, shown, strict=True)
        lines.append(f"  {pair.target}: {', '.join(f'{who}: {number}' for who, number in takes)}")
    return lines


def _posture(table: PairTable, muscle: Muscle | None) -> str:
    return "" if standard_posture(table, muscle) else f", {table.posture}"


def _how(table: PairTable) -> str:
    how = f"{RATER_WORDS[table.raters]} {INTERVAL_WORDS[table.interval]}"
    return how + instrument_words(table.instrument)


def notes_of(table: PairTable) -> tuple[str, ...]:
    """Say what must be known of where a table's pairs come from."""
    # What one sees of the first rating moves the second.
    blind = f"the later rating was blind in {table.blind} of {len(table.pairs)} pairs"
    days = (
        f"the two days are at most {MOST_DAYS} days apart, without a treatment on record between "
        "them; a limb that changed by itself is in these figures too"
    )
    of_days = days if table.interval == DIFFERENT_DAYS else ""
    return tuple(filter(None, (_targets_words(table), blind, of_days)))


def _targets_words(table: PairTable) -> str:
    """Warn where the targets are not as many patients; else ""."""
    targets = len(table.ratings.targets)
    if targets == table.patients:
        return ""
    return (
        f"{targets} targets from {counted(table.patients, 'patient')}: sides and days of one "
        "patient count as targets of their own, which makes the intervals too narrow"
    )


def adoptable(
    studies: Iterable[tuple[PairTable, Study]], muscles: Mapping[str, Muscle]
) -> list[tuple[Study, Circumstances]]:
    """Return the studies of angles, with what their measurement error holds for."""
    return [
        (study, circumstances_of(table, muscles[table.muscle]))
        for table, study in studies
        if table.quantity != "quality" and table.muscle in muscles
    ]
