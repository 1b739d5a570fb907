"""Two raters as plots: one against the other, and their difference against their mean."""

from __future__ import annotations

from collections.abc import Sequence

from .axes import even_axis, even_ticks
from .frame import PlotFrame, Stroke, as_lines
from .signs import LOWER

Place = tuple[float, float]


def draw_pairs(pairs: Sequence[tuple[float, float]], width: int, height: int) -> list[str]:
    """Draw two raters as plain lines: the first across, the second up, dots where both are equal.

    Args:
        pairs: what each of the two gave a target; finite numbers.
        width: cells, at least 30.
        height: lines, at least 8.

    Returns:
        The lines, none without pairs. Several targets may share one mark.
    """
    if not pairs:
        return []
    values = [value for pair in pairs for value in pair]
    # Of the same ticks on both axes the wider needs more room.
    across = even_ticks(min(values), max(values), width // 10)
    up = even_ticks(min(values), max(values), (height - 2) // 2)
    low, high = min(across[0], up[0]), max(across[-1], up[-1])
    frame = PlotFrame(width, height, even_axis(low, high, across), even_axis(low, high, up))
    return _scattered(frame, pairs, [((low, low), (high, high))])


def draw_bland_altman(
    pairs: Sequence[tuple[float, float]], levels: Sequence[float], width: int, height: int
) -> list[str]:
    """Draw the difference of two raters (up) against their mean (across), levels as dots.

    Args:
        pairs: what each of the two gave a target; finite numbers.
        levels: differences to draw a line at: the bias and the limits of agreement.
        width: cells, at least 30.
        height: lines, at least 8.

    Returns:
        The lines, none without pairs. Several targets may share one mark.
    """
    if not pairs:
        return []
    points = [((one + two) / 2, one - two) for one, two in pairs]
    means = [mean for mean, _ in points]
    differences = [difference for _, difference in points] + list(levels)
    across = even_ticks(min(means), max(means), width // 10)
    up = even_ticks(min(differences), max(differences), (height - 2) // 2)
    lines = [((across[0], level), (across[-1], level)) for level in levels]
    axes = even_axis(across[0], across[-1], across), even_axis(up[0], up[-1], up)
    return _scattered(PlotFrame(width, height, *axes), points, lines)


def _scattered(
    frame: PlotFrame, points: Sequence[Place], lines: Sequence[tuple[Place, Place]]
) -> list[str]:
    """Draw points over straight lines."""
    strokes = [Stroke(LOWER.line, ends, joined=True) for ends in lines]
    return as_lines(frame.drawn([*strokes, Stroke(LOWER.r2, points)]))
