"""Reads what a caseload needs of every chart of a shelf."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from ..change.compare import Basis
from ..shelf import Shelf
from ..shelf.index import Progress
from ..shelf.kept_facts import Facts
from .caseload import facts_key
from .facts import ChartFacts, facts_from
from .gathering import Judge, facts_of


def read_facts(
    shelf: Shelf, basis: Basis, progress: Progress | None = None
) -> Iterator[ChartFacts | None]:
    """Yield the facts of every chart, None for one that cannot be read.

    Args:
        shelf: the shelf; what is made of a chart is kept there until the chart changes.
        basis: muscle groups, settings and figures.
        progress: called after each chart that had to be read.

    Raises:
        ShelfError: when the shelf cannot be read.
    """
    make = partial(facts_of, judge=Judge(basis))
    return shelf.each_fact(Facts(facts_key(basis), make, facts_from), progress)
