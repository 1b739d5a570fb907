"""The recovery key as it is printed: forty signs that people can copy by hand.

Eight groups of five, from letters and digits of which none is easily taken for another (no
0, 1, I, O). 39 of them are random, 195 bits; the last one is a check over all. As the signs
stand for the elements of the field GF(32) and the check weighs each place by another power of
a generator, every single wrong sign and every swap of neighbours is noticed.
"""

from __future__ import annotations

import secrets

from ...problem import Problem

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
GROUPS, EACH = 8, 5
_LENGTH = GROUPS * EACH
_FIELD = 0b100101
"""x^5 + x^2 + 1, primitive over GF(2)."""


def new_recovery_key() -> str:
    """A new recovery key as it is printed."""
    values = [secrets.randbelow(len(ALPHABET)) for _ in range(_LENGTH - 1)]
    values.append(_times_x(_remainder(values)))
    return grouped("".join(ALPHABET[value] for value in values))


def grouped(signs: str) -> str:
    """Forty signs in groups."""
    return "-".join(signs[n : n + EACH] for n in range(0, len(signs), EACH))


def parse_recovery_key(text: str) -> str | Problem:
    """A recovery key as typed, with or without hyphens, blanks and capitals, as it is printed."""
    signs = "".join(text.upper().replace("-", " ").split())
    where = "the recovery key"
    for place, sign in enumerate(signs):
        if sign not in ALPHABET:
            group = place // EACH + 1
            what = f"{sign!r} in group {group} is not a sign of any recovery key"
            return Problem(where, what, "it has no 0, 1, I or O; look at that group again")
    if len(signs) != _LENGTH:
        what = f"it has {len(signs)} signs instead of {_LENGTH}"
        return Problem(where, what, f"type all {GROUPS} groups of {EACH}")
    if _remainder([ALPHABET.index(sign) for sign in signs]):
        return Problem(where, "a sign is wrong or two are swapped", "compare it with the paper")
    return grouped(signs)


def _remainder(values: list[int]) -> int:
    total = 0
    for value in values:
        total = _times_x(total) ^ value
    return total


def _times_x(value: int) -> int:
    value <<= 1
    return value ^ _FIELD if value & 0b100000 else value
