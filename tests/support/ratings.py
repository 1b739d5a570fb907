"""A published table, and ones made up for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from limbscribe.core.agreement.ratings import Ratings

SHROUT_FLEISS = (
    (9, 2, 5, 8),
    (6, 1, 3, 2),
    (8, 4, 6, 8),
    (7, 1, 2, 6),
    (10, 5, 6, 9),
    (6, 2, 4, 7),
)
"""Six targets by four judges: Shrout & Fleiss 1979, Psychological Bulletin 86:420-428."""

# Invented: what two raters, A and B, read in one joint of 16 people, each of them twice, deg.
A_FIRST = (38, 12, 55, 41, 20, 64, 33, 27, 48, 16, 59, 30, 44, 23, 51, 36)
A_AGAIN = (40, 15, 52, 44, 18, 61, 35, 31, 48, 12, 62, 28, 47, 25, 50, 33)
B_FIRST = (35, 18, 57, 33, 24, 70, 31, 22, 55, 19, 52, 37, 45, 29, 48, 42)
B_AGAIN = (39, 14, 60, 36, 21, 66, 38, 26, 51, 24, 54, 33, 41, 31, 53, 37)


def exact(rows: Sequence[Sequence[float]]) -> list[list[Fraction]]:
    """The rows as fractions; decimals as they are written."""
    return [[Fraction(str(cell)) for cell in row] for row in rows]


def ratings(rows: Sequence[Sequence[float | None]], crossed: bool = True) -> Ratings:
    """A table with targets T1, T2 and so on, and raters A, B and so on."""
    cells = tuple(tuple(None if c is None else Fraction(str(c)) for c in row) for row in rows)
    targets = tuple(f"T{number}" for number in range(1, len(rows) + 1))
    return Ratings(targets, tuple("ABCDEFGH"[: len(rows[0])]), cells, crossed)


def csv_of(rows: Sequence[Sequence[float | None]]) -> bytes:
    """The same as a ratings CSV."""
    table = ratings(rows)
    lines = ["target,rater,value"]
    for target, row in zip(table.targets, rows, strict=True):
        for rater, cell in zip(table.raters, row, strict=True):
            lines.append(f"{target},{rater},{'' if cell is None else cell}")
    return "\r\n".join([*lines, ""]).encode()
