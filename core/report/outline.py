"""The outline of a person, and how large the region of a muscle group is; in cells.

x counts from the midline, y from the top of the body chart; only one half is written down.
Our own drawing.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..tardieu.muscle import Place

Spot = tuple[float, float]

HEAD: tuple[Spot, ...] = ((0.0, -0.1), (1.0, 0.2), (1.35, 1.2), (1.0, 2.2), (0.3, 2.8))

OUTLINE: tuple[Spot, ...] = (
    (0.85, 2.3),
    (0.95, 3.2),
    (1.9, 3.7),  # neck
    (4.2, 3.95),
    (5.8, 4.2),
    (6.75, 4.9),  # shoulder
    (7.0, 5.9),
    (6.95, 6.8),  # elbow
    (7.1, 7.7),
    (6.85, 8.8),  # wrist
    (7.05, 9.8),
    (6.9, 10.8),
    (6.3, 11.5),  # fingertips
    (5.75, 11.3),
    (5.45, 10.9),
    (5.05, 11.2),
    (4.5, 10.9),  # thumb
    (4.35, 10.1),
    (4.6, 9.3),
    (5.15, 8.8),
    (4.85, 8.2),
    (4.6, 7.5),
    (4.8, 6.8),
    (4.7, 5.8),  # armpit
    (4.0, 6.4),
    (3.5, 7.6),
    (3.4, 8.4),  # waist
    (3.9, 9.4),
    (4.2, 10.6),  # hip
    (3.95, 12.0),
    (3.2, 13.1),  # knee
    (3.2, 14.0),
    (2.8, 15.0),
    (2.5, 15.9),  # ankle
    (3.1, 16.5),
    (2.7, 16.95),
    (1.5, 16.9),  # foot
    (1.3, 16.0),
    (0.9, 15.0),
    (0.7, 14.0),
    (0.8, 13.1),
    (0.5, 12.2),
    (0.25, 11.0),  # crotch
)

USUAL: Spot = (0.5, 0.5)
"""Half the width and half the height of a region."""

SIZES: dict[Place, Spot] = {
    Place("front", 4, 3): (0.9, 0.5),
    Place("front", 5, 6): (0.6, 0.9),
    Place("back", 5, 6): (0.6, 0.9),
    Place("back", 6, 3): (0.8, 0.7),
    Place("back", 7, 6): (0.6, 0.5),
    Place("front", 7, 5): (0.4, 0.5),
    Place("front", 7, 6): (0.6, 0.5),
    Place("front", 12, 2): (0.5, 0.9),
    Place("front", 12, 3): (0.5, 0.9),
    Place("front", 11, 1): (0.5, 0.7),
    Place("front", 14, 2): (0.6, 0.8),
    Place("back", 12, 2): (0.9, 0.6),
    Place("back", 13, 2): (0.9, 0.5),
}
"""Where there is room for more than the usual."""

_PARTS = 4
"""Pieces of the curve between two corners."""


def smooth(corners: Sequence[Spot]) -> list[Spot]:
    """Put a closed curve through the corners: Catmull and Rom's spline, in straight pieces."""
    count = len(corners)
    made: list[Spot] = []
    for n in range(count):
        before, start, end, after = (corners[(n + k) % count] for k in (-1, 0, 1, 2))
        for part in range(_PARTS):
            t = part / _PARTS
            x, y = (_between(before[i], start[i], end[i], after[i], t) for i in (0, 1))
            made.append((x, y))
    return made


def _between(a: float, b: float, c: float, d: float, t: float) -> float:
    return 0.5 * (
        2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * (b - c) + d - a) * t**3
    )
