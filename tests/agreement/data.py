"""Published tables, and small ones made up for the tests."""

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

# Peak expiratory flow rate, l/min, 17 people: Bland & Altman 1986, Lancet 327:307-310.
WRIGHT_1 = (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427)
WRIGHT_2 = (490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421)
MINI_1 = (512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451)
MINI_2 = (525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443)


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
