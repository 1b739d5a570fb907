"""One muscle group: its test position, landmarks, angle scales and place on the body chart."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from ..language import pgettext
from .angles import LEAST_STRETCH, AngleScale
from .reading import FastVelocity

LAST_ROW = 16
"""Rows of a body chart figure are 0 to LAST_ROW, from the head down."""

MIDLINE = 8
"""Midline column of a body chart figure, and so the largest distance from it, in cells."""


def same_group(one: str, other: str) -> bool:
    """Whether two ids are of one muscle group: the same, or one in another test position.

    The id of the latter is that of the group and then the position: hamstrings-hip-40.
    """
    short, long = sorted((one, other), key=len)
    return short == long or long.startswith(f"{short}-")


def one_group(ids: Collection[str]) -> str:
    """Find the muscle group that all these ids are of, in whatever position; "" for several."""
    first = min(ids, key=len, default="")
    return first if all(same_group(first, id_) for id_ in ids) else ""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a muscle group is on the body chart.

    Attributes:
        view: the front or the back figure.
        row: 0 (head) to LAST_ROW (feet).
        lateral: cells from the midline, 1 to MIDLINE; mirrored for the other side.
    """

    view: Literal["front", "back"]
    row: int
    lateral: int


@dataclass(frozen=True, slots=True)
class Muscle:
    """One muscle group and its test.

    Attributes:
        id: name in files.
        name: name on screens.
        abbreviation: at most 8 characters.
        joint: the joint that is read.
        region: "upper" or "lower" limb.
        posture: "sitting", "supine" or "prone".
        position: position of the tested segment and the neighbouring joints.
        movement: the movement that stretches the muscle.
        start: where the stretch starts.
        end: where it ends.
        axis: where the goniometer's axis lies.
        fixed_arm: what its fixed arm follows.
        moving_arm: what its moving arm follows.
        velocity: the customary fast velocity.
        gravity: gravity stretches this muscle in its test position, so that V2 exists.
        zero_words: what 0 on the neutral-zero axis is.
        scales: the angle scales offered.
        default_scale: id of the one used unless the clinic chooses another.
        low: least possible stretch angle, deg.
        high: largest possible stretch angle, deg.
        place: where it is on the body chart.
        reference: motion id in the reference ranges, "" when none fits.
        sources: where the contents come from.
    """

    id: str
    name: str
    abbreviation: str
    joint: str
    region: Literal["upper", "lower"]
    posture: str
    position: str
    movement: str
    start: str
    end: str
    axis: str
    fixed_arm: str
    moving_arm: str
    velocity: FastVelocity
    gravity: bool
    zero_words: str
    scales: tuple[AngleScale, ...]
    default_scale: str
    low: int
    high: int
    place: Place
    reference: str
    sources: tuple[str, ...]

    @property
    def said(self) -> str:
        """Its name in the language that is spoken; a clinic's own name as it was typed."""
        return pgettext("muscle group", self.name)

    @property
    def said_narrowly(self) -> str:
        """The same for a narrow column; in English it is the name."""
        return pgettext("muscle group, narrow", self.name)

    @property
    def posture_words(self) -> str:
        """Posture and test position as screens write them."""
        return f"{self.posture}, {self.position}"

    def scale(self, id: str = "") -> AngleScale:
        """Find the angle scale with this id, the default one for "".

        Raises:
            KeyError: when the muscle does not offer that scale.
        """
        wanted = id or self.default_scale
        for scale in self.scales:
            if scale.id == wanted:
                return scale
        raise KeyError(wanted)

    @property
    def least_stretch(self) -> int | None:
        """The stretch angle of least stretch, deg; None where no scale begins there."""
        scales = (scale for scale in self.scales if scale.id == LEAST_STRETCH)
        return next((scale.stretch(0) for scale in scales), None)

    def example(self, scale_id: str = "") -> str:
        """Explain how a scale is typed, by its zero and by 20 deg on the usual side of it.

        Raises:
            KeyError: when the muscle does not offer that scale.
        """
        scale = self.scale(scale_id)
        stretch, words = (20, "beyond") if self.low + self.high > 0 else (-20, "short of")
        zero = f"{self.zero_words} is {scale.typed(0)}"
        return f"{zero}; 20 deg {words} it is {scale.typed(stretch)}"
