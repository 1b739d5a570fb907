"""Angle scales and the one map from what is typed to the stretch angle.

A clinic reads each joint in its own angle scale. Inside, every reading becomes a
**stretch angle**: degrees along the neutral-zero axis, signed so that larger always
means that the tested muscle is longer. ``stretch = slope * typed + offset`` with a slope
of +1 or -1, so the gap R2 - R1 is the same number in every scale and "the fast catch lies
beyond the slow range" is one rule for all joints.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..problem import Problem

SCALES = {
    "neutral-zero": "signed from the anatomical zero, towards more stretch positive",
    "deficit": "degrees short of zero, larger is less stretch",
    "straight-180": "included angle, straight is 180",
    "plantigrade-90": "ankle, foot at a right angle is 90, less is more dorsiflexed",
    "dial-90": "hip abduction on a dial that shows 90 in the anatomical zero",
    "minimal-stretch": "from the position of least stretch of the muscle, which is 0",
}
"""Every angle scale: id -> what is typed, for every place that says it."""

SCALE_IDS = tuple(SCALES)

LEAST_STRETCH = "minimal-stretch"
"""The scale in which ratios of angles have a meaning: its 0 is no stretch at all."""

_INTEGER = re.compile(r"-?[0-9]{1,3}", re.ASCII)


@dataclass(frozen=True, slots=True)
class AngleScale:
    """How one clinic reads one joint.

    Attributes:
        id: one of SCALE_IDS.
        slope: +1 when a larger typed number means more stretch, -1 when less.
        offset: deg, the stretch angle of a typed 0.
        presign: customary readings are negative, so the field starts with a minus.
    """

    id: str
    slope: int
    offset: int
    presign: bool = False

    def __post_init__(self) -> None:
        if self.slope not in (1, -1):
            raise ValueError(f"slope must be 1 or -1, not {self.slope}")

    def stretch(self, typed: int) -> int:
        """Turn a typed angle (deg) into a stretch angle (deg)."""
        return self.slope * typed + self.offset

    def typed(self, stretch: int) -> int:
        """Turn a stretch angle (deg) into the angle as this scale writes it (deg)."""
        return self.slope * (stretch - self.offset)


def parse_angle(text: str) -> int | Problem:
    """Read a typed angle: an optional minus and one to three ASCII digits, nothing else.

    ``-0`` is 0. Python's own int() also takes ``1_0`` and digits of other scripts, which
    a reader could take for something else, so they are refused here.
    """
    if not _INTEGER.fullmatch(text):
        return Problem("", f"not a whole number of degrees: {text!r}", "type digits 0-9, e.g. -35")
    return int(text)


def show_angle(value: int | None) -> str:
    """Write an angle as screens and files do: a whole number, "" when absent."""
    return "" if value is None else str(value)
