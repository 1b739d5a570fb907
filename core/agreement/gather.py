"""Everything the shelf says about agreement: the pairs, their tables and their figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ..chart.chart import Chart
from ..tardieu.muscles import Muscle
from .adopt import Circumstances, circumstances_of
from .digits import DigitPreference
from .pairs import (
    RATER_WORDS,
    Pair,
    PairTable,
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


def gather(charts: Iterable[Chart], order: Sequence[str], muscle: str | None = None) -> Gathered:
    """Compute the studies that the pairs of sessions on a shelf make.

    Args:
        charts: every chart.
        order: muscle ids in the order of the tables.
        muscle: only this muscle group.
    """
    charts = tuple(charts)
    pairs: list[Pair] = []
    left_out: list[str] = []
    for chart in charts:
        own, left = pairs_of(chart)
        pairs += [pair for pair in own if muscle in (None, pair.reading.muscle)]
        left_out += left
    tables = pair_tables(pairs, order)
    studies = tuple((table, analyse(table.ratings, table.categories)) for table in tables)
    return Gathered(studies, tuple(pairs), tuple(left_out), tuple(shelf_digits(charts, muscle)))


def title_of(table: PairTable, muscle: Muscle | None) -> str:
    """Say what a table is about, in words."""
    name = muscle.name if muscle else table.muscle
    unit = "grade" if table.quantity == "quality" else "deg"
    fast = "" if table.quantity == "R2" else f" at {table.velocity}"
    posture = "" if standard_posture(table, muscle) else f", {table.posture}"
    return f"{name}, {table.quantity}{fast} ({unit}){posture}: {RATER_WORDS[table.raters]}"


def targets_words(table: PairTable) -> str:
    """Warn where the targets are not as many patients; else ""."""
    targets = len(table.ratings.targets)
    if targets == table.patients:
        return ""
    return (
        f"{targets} targets from {table.patients} patients: sides and days of one patient "
        "count as targets of their own, which makes the intervals too narrow"
    )


def blind_words(table: PairTable) -> str:
    """Say how many of the later ratings were blind; what one sees of the first moves the second."""
    return f"the later rating was blind in {table.blind} of {len(table.pairs)} pairs"


def adoptable(
    studies: Iterable[tuple[PairTable, Study]], muscles: Mapping[str, Muscle]
) -> list[tuple[Study, Circumstances]]:
    """Return the studies of angles, with what their measurement error holds for."""
    return [
        (study, circumstances_of(table, muscles[table.muscle]))
        for table, study in studies
        if table.quantity != "quality" and table.muscle in muscles
    ]
