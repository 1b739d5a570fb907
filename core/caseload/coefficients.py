"""Coefficients of shortening and spasticity, from a normal maximum that the clinic typed.

Definitions seen in the opening of Front Neurol 2023;14:1108535 and in a 2025 abstract: with X
counted from the position of least stretch, C_SH = (X_N - X_V1) / X_N and
C_SP = (X_V1 - X_V3) / X_V1. No table of X_N was in reach, so there is none without the
clinic's own. A range beyond the maximum makes C_SH negative: it is shown, not cut off.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .facts import Take
from .figures import Spread, spread


class Coefficients(NamedTuple):
    """Coefficients of many takes.

    Attributes:
        shortening: C_SH.
        spasticity: C_SP.
    """

    shortening: Spread
    spasticity: Spread


def coefficients(takes: Sequence[Take], maximum: int, least: int) -> Coefficients:
    """Describe the coefficients of takes.

    Args:
        takes: of one muscle group.
        maximum: X_N, deg from the position of least stretch, above 0.
        least: stretch angle of that position, deg.
    """
    pairs = [(shortening(t, maximum, least), spasticity(t, least)) for t in takes]
    return Coefficients(
        spread([short for short, _ in pairs if short is not None]),
        spread([fast for _, fast in pairs if fast is not None]),
    )


def shortening(take: Take, maximum: int, least: int) -> float | None:
    """Compute C_SH of one take; None without R2."""
    return None if take.r2 is None else (maximum - (take.r2 - least)) / maximum


def spasticity(take: Take, least: int) -> float | None:
    """Compute C_SP of one take; None without R1 and R2, or where R2 is at least stretch."""
    if take.r1 is None or take.r2 is None or take.r2 == least:
        return None
    return (take.r2 - take.r1) / (take.r2 - least)
