"""What headers of other people's tables may mean, and which of them nobody may guess.

Authors do not agree on the letters of the trade. Boyd and Graham 1999 and the NINDS common data
elements write X for the quality and Y for the angle; Gracies et al. 2010 (Arch Phys Med Rehabil
91:421-8) write X for an angle, slow minus fast, and Y for the grade; teaching sheets after Held
and Pierrot-Deseilligny 1969 write R0 to R4 for the grade, where others mean angles by R1 and R2.
So a header with such a letter is never understood by itself: a person has to say what it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

LETTERS = frozenset(
    (
        *("x", "y", "xv1", "xv2", "xv3", "yv1", "yv2", "yv3", "v1", "v2", "v3"),
        *("r", "r0", "r1", "r2", "r3", "r4", "r5"),
    )
)
"""Words of a header that mean one thing here and another there."""

MEANINGS = {
    "quality": "quality of muscle reaction, the grade 0 to 4 or 5",
    "r1": "angle of catch at the fast stretch (V2 or V3), deg",
    "r2": "end of the slow passive range (V1), deg",
    "gap": "difference of the two angles, slow minus fast, deg",
    "combined": "grade and angle of catch in one cell, like 3/-25",
}
"""What a column with a lettered header may be: word in the mapping -> meaning."""

LEFT_OUT = "left out"
"""What a person may say of a lettered column instead."""

TRADITIONS = (
    "Boyd and Graham 1999, NINDS: X = quality, Y = angle; R1 = angle of catch, R2 = slow range",
    "Gracies et al. 2010: X = angle (slow minus fast), Y = grade",
    "teaching sheets after Held and Pierrot-Deseilligny 1969: R0 to R4 = grade of the reaction",
)
"""Who means what by the letters, in a line each."""

_COMBINED = re.compile(r"\s*-?[0-9]{1,3}\s*([/;|])\s*-?[0-9]{0,3}\s*", re.ASCII)
_WORD = re.compile(r"[a-z]+_?[0-9]?|[0-9]+", re.ASCII)


def lettered(header: str) -> bool:
    """Say whether a header has a letter of the trade in it that must be asked about."""
    return bool(letters_in(header))


def letters_in(header: str) -> frozenset[str]:
    """Find the letters of the trade in a header, small."""
    return LETTERS & {word.replace("_", "") for word in _WORD.findall(header.casefold())}


def combined_separator(cells: Iterable[str]) -> str:
    """Find the sign between two values in cells like 3/-25, "" when the cells are not like that."""
    found = [_COMBINED.fullmatch(cell) for cell in cells if cell.strip()]
    signs = {match[1] for match in found if match}
    return signs.pop() if found and all(found) and len(signs) == 1 else ""


def plain(word: str) -> str:
    """Write a word of a table as it is compared: case and blanks do not count."""
    return " ".join(word.split()).casefold()
