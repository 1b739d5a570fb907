"""The signs of a trend, what they mean in words, and which of them are coloured.

A sign never means something by its colour alone: colours only repeat what it says.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from ...core.change.trend_events import TrendEvent, by_kind


@dataclass(frozen=True, slots=True)
class Signs:
    """How one side is drawn.

    Attributes:
        r2: end of the slow range.
        gone: the same, in a session without the catch that was there before.
        v3: catch at V3.
        v2: catch at V2.
        line: joins sessions that follow each other.
        gap: between R1 and R2 of one session.
    """

    r2: str
    gone: str
    v3: str
    v2: str
    line: str
    gap: str

    @property
    def marks(self) -> str:
        """The signs that mean an angle."""
        return self.r2 + self.gone + self.v3 + self.v2


LOWER = Signs("o", "n", "x", "v", ".", ":")
"""One side alone, and the left one of two."""

UPPER = Signs("O", "N", "X", "V", ",", "|")
"""The right one of two."""

SHARED, BOTH_GAPS = "*", "!"
BAND = {"R2": "-", "R1": "="}
SEVERAL, BEFORE, AFTER = "+", "<", ">"

LEGEND = (
    (LOWER.r2, "R2, end of the slow range"),
    (LOWER.gone, "R2, the catch is gone"),
    (LOWER.v3, "R1, catch at the fast stretch"),
    (SHARED, "R1 and R2 in one place"),
)
"""What the marks of a plain trend mean, for the line below it."""

_AT_BOTH_SPEEDS = ((LOWER.v3, "R1, catch at V3"), (LOWER.v2, "R1, catch at V2"))

_MORE = ((LOWER.gap, "gap"), (BAND["R2"], "first R2 +- MDC"), (BAND["R1"], "first R1 +- MDC"))

_SIDES = tuple(
    (sign, f"{side} {words}")
    for side, signs in (("Left", LOWER), ("Right", UPPER))
    for sign, words in (
        (signs.r2, "R2"),
        (signs.gone, "R2, catch gone"),
        (signs.v3, "R1"),
        (signs.v2, "R1 at V2"),
        (signs.gap, "gap"),
    )
)

_SIDES_TOGETHER = ((BOTH_GAPS, "both gaps"), (SHARED, "several in one place"))

_ON_THE_AXIS = (
    (SEVERAL, "several at one place"),
    (BEFORE, "earlier than the axis"),
    (AFTER, "later than the axis"),
)

KNOWN = frozenset("".join(sign for sign, _ in (*_SIDES, *_SIDES_TOGETHER, *_MORE)))
"""Every sign that can be inside a trend, but for the dots that join."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A trend as text.

    Attributes:
        lines: without colours or control characters; none when there is nothing to draw.
        signs: those that occur in it, so that a legend need not name others.
        both: both sides are in it.
    """

    lines: tuple[str, ...]
    signs: frozenset[str] = frozenset()
    both: bool = False


def legend_lines(width: int, drawn: Drawn) -> list[str]:
    """Write the legend in as few lines of ``width`` cells as hold it, each part unbroken.

    Args:
        width: cells.
        drawn: name the signs of this trend.
    """
    table: Sequence[tuple[str, str]] = (*_SIDES, *_SIDES_TOGETHER)
    if not drawn.both:
        fast = _AT_BOTH_SPEEDS if LOWER.v2 in drawn.signs else LEGEND[2:3]
        table = (*LEGEND[:2], *fast, *_MORE, LEGEND[3])
    return flowed([f"{sign} {words}" for sign, words in table if sign in drawn.signs], width)


def event_lines(
    events: Sequence[TrendEvent], signs: Collection[str], width: int, more: str = ""
) -> list[str]:
    """Say what the letters below the axis mean, with their dates.

    Args:
        events: what was done.
        signs: those of the drawn trend.
        width: cells.
        more: where the dates are shown instead, "" to give them here.
    """
    parts = [*by_kind(events, dated=not more)]
    parts += [f"{sign} {words}" for sign, words in _ON_THE_AXIS if sign in signs]
    return flowed([*parts, more] if more and parts else parts, width)


def flowed(parts: Sequence[str], width: int) -> list[str]:
    """Put parts in as few lines as hold them; one is broken only when it alone is too wide."""
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + 3 + len(part) <= width:
            lines[-1] += f"   {part}"
        else:
            lines += _broken(part, width)
    return lines


def _broken(part: str, width: int) -> list[str]:
    """Break one part after commas; no word is ever left out."""
    pieces = part.split(", ")
    lines = [pieces[0]]
    for piece in pieces[1:]:
        if len(lines[-1]) + 2 + len(piece) < width:
            lines[-1] += f", {piece}"
        else:
            lines[-1] += ","
            lines.append(f"  {piece}")
    return lines


_COLOURED = re.compile("([oOnN]+)|([xXvV]+)")


def coloured_spans(line: str) -> list[tuple[str, str]]:
    """Divide a line of a plot into spans of text and what they are: "R1", "R2" or "".

    Args:
        line: as drawn, before its frame is translated to ASCII.
    """
    begin = min((place for bar in "┤│" if (place := line.find(bar)) >= 0), default=len(line))
    spans: list[tuple[str, str]] = []
    done = 0
    for found in _COLOURED.finditer(line, begin):
        spans.append((line[done : found.start()], ""))
        spans.append((found.group(), "R2" if found.group(1) else "R1"))
        done = found.end()
    return [span for span in (*spans, (line[done:], "")) if span[0]]
