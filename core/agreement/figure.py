"""One figure of an agreement study: a number with its interval, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Figure:
    """A number, or the reason why it cannot be had.

    Attributes:
        value: the number, None when it is undefined.
        low: lower limit of its 95 % confidence interval, None when there is none.
        high: upper limit.
        se: standard error, None where none is given.
        reason: why the number, a limit or the standard error is missing; "" when none is.
    """

    value: float | None
    low: float | None = None
    high: float | None = None
    se: float | None = None
    reason: str = ""


def undefined(reason: str) -> Figure:
    """Make a figure without a number, for this reason."""
    return Figure(None, reason=reason)
