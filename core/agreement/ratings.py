"""The table of ratings, targets by raters, and the CSV it comes from.

``target,rater,value``, one row a rating (long form). Values are kept as exact fractions, so
that "all equal" and "no error at all" are facts and not a matter of rounding.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from io import BytesIO

from ..exchange.csv_rows import stream_cells
from ..problem import Problem
from ..text import visible

COLUMNS = ("target", "rater", "value")

_NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,9})?", re.ASCII)
_SHOWN = 3
"""Left-out targets that a note names one by one."""

Row = tuple[Fraction | None, ...]


@dataclass(frozen=True, slots=True)
class Ratings:
    """A table of ratings.

    Attributes:
        targets: what was rated, in the order of first appearance.
        raters: who rated, in the order of first appearance.
        rows: for each target one cell a rater, None where a rating is missing.
        crossed: each column is the same rater throughout. When not, a column is only the
            place of a rating within its target, and two-way figures have no meaning.
    """

    targets: tuple[str, ...]
    raters: tuple[str, ...]
    rows: tuple[Row, ...]
    crossed: bool = True

    @property
    def present(self) -> tuple[tuple[Fraction, ...], ...]:
        """The ratings of each target that has any; rows may differ in length."""
        rows = (tuple(cell for cell in row if cell is not None) for row in self.rows)
        return tuple(row for row in rows if row)

    @property
    def repeated(self) -> int:
        """How many targets have two ratings or more: all that tells of a measurement error."""
        return sum(len(row) > 1 for row in self.present)

    @property
    def whole(self) -> tuple[tuple[Fraction, ...], ...]:
        """The rows of the targets that every rater rated."""
        return tuple(row for row in self.present if len(row) == len(self.raters))

    @property
    def missing(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Each target with a missing cell, and the raters who did not rate it."""
        return tuple(
            (target, tuple(r for r, cell in zip(self.raters, row, strict=True) if cell is None))
            for target, row in zip(self.targets, self.rows, strict=True)
            if None in row
        )

    def column(self, rater: str) -> tuple[Fraction, ...]:
        """Return every rating by one rater, missing ones left out."""
        place = self.raters.index(rater)
        cells = (row[place] for row in self.rows)
        return tuple(cell for cell in cells if cell is not None)


def ratings_of(cells: Iterable[tuple[str, str, Fraction | None]], crossed: bool = True) -> Ratings:
    """Make the table of (target, rater, value); of a doubled pair the last value counts."""
    values = {(target, rater): value for target, rater, value in cells}
    targets = tuple(dict.fromkeys(target for target, _ in values))
    raters = tuple(dict.fromkeys(rater for _, rater in values))
    rows = tuple(tuple(values.get((t, r)) for r in raters) for t in targets)
    return Ratings(targets, raters, rows, crossed)


def missing_words(ratings: Ratings) -> str:
    """Say which targets lack a rating, and which figures leave them out; "" when none does."""
    missing = ratings.missing
    if not missing:
        return ""
    named = [f"{target} (not by {', '.join(raters)})" for target, raters in missing[:_SHOWN]]
    more = f" and {len(missing) - _SHOWN} more" if len(missing) > _SHOWN else ""
    lack = "lacks" if len(missing) == 1 else "lack"
    return (
        f"{len(missing)} of {len(ratings.targets)} targets {lack} a rating: {'; '.join(named)}"
        f"{more}. One-way figures and SEM agreement use every rating; two-way figures, SEM "
        "consistency, limits and kappa use the other targets only"
    )


def parse_ratings(data: bytes, name: str) -> Ratings | list[Problem]:
    """Read the table in a ratings CSV, or say everything that is wrong with the file.

    Args:
        data: the file. UTF-8, RFC 4180, the columns target, rater and value in any order;
            an empty value is a missing rating.
        name: name of the file, for the problems.
    """
    problems: list[Problem] = []
    cells: dict[tuple[str, str], Fraction | None] = {}
    for where, row in _rows(data, name, problems):
        _take(where, row, cells, problems)
    if not cells and not problems:
        problems.append(Problem(name, "there is no rating in it", "one row a rating"))
    return problems or ratings_of((*pair, value) for pair, value in cells.items())


def _rows(data: bytes, name: str, problems: list[Problem]) -> Iterator[tuple[str, dict[str, str]]]:
    """Give the place and the cells by name of each row below the header."""
    header: list[str] = []
    for row in stream_cells(BytesIO(data), name):
        if isinstance(row, Problem):
            problems.append(row)
            return
        where, cells = f"{name} line {row.line}", [cell.strip() for cell in row.cells]
        if not header:
            header = cells
            if sorted(header) != sorted(COLUMNS):
                break
        elif len(cells) != len(COLUMNS):
            mend = "a comma within a cell needs quotes, a decimal mark is a point"
            problems.append(Problem(where, f"{len(cells)} cells instead of {len(COLUMNS)}", mend))
        else:
            yield where, dict(zip(header, cells, strict=True))
    if sorted(header) != sorted(COLUMNS):
        what = f"the first line must name the columns {','.join(COLUMNS)}"
        problems.append(Problem(f"{name} line 1", what, "add it or fix it"))


def _take(
    where: str,
    row: dict[str, str],
    cells: dict[tuple[str, str], Fraction | None],
    problems: list[Problem],
) -> None:
    """Add one row to the cells, or say what is wrong with it."""
    target, rater, value = (row[name] for name in COLUMNS)
    for column, cell in (("target", target), ("rater", rater)):
        if not cell:
            problems.append(Problem(where, f"the {column} is missing", "name it"))
            return
    if value and not _NUMBER.fullmatch(value):
        what = f"not a plain number: {visible(repr(value))}"
        problems.append(Problem(where, what, "digits, with a point as decimal mark"))
    elif (target, rater) in cells:
        what = f"a second value for target {visible(target)} by rater {visible(rater)}"
        mend = "leave one out, or name the repeat as a rater of its own"
        problems.append(Problem(where, what, mend))
    else:
        cells[(target, rater)] = Fraction(value) if value else None
