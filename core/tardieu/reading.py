"""What was entered at one station: the reading, its sides, velocities and reasons."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from sys import intern
from typing import Any, Literal

from ..language import N_, gettext
from ..typed import as_doc, doc_of_many
from .angles import AngleScale

FastVelocity = Literal["V2", "V3"]
"""Of a fast stretch; what each means is in glossary.SPEEDS."""

Counts = Literal["first", "mean", "worst"]
"""Which of several tries is the reading: the first, the mean, or the least stretch."""

MAX_TEXT = 500
"""Longest comment, reason or posture text, in characters."""

MAX_CLONUS_S = 999
"""Longest clonus that is kept, s."""


class Side(StrEnum):
    """A side of the body. Screens always show it in full."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Side:
        """The opposite side."""
        return Side.LEFT if self is Side.RIGHT else Side.RIGHT

    @property
    def word(self) -> str:
        """The side in full."""
        return gettext("Left") if self is Side.LEFT else gettext("Right")


StationKey = tuple[str, Side, FastVelocity]
"""Muscle group, side and fast velocity: what makes a station one of a kind in a session."""

NOT_TESTED = {
    "pain": N_("pain"),
    "refused": N_("refused"),
    "contraindicated": N_("contraindicated"),
    "resisted": N_("resisted the movement"),
    "joint-fixed": N_("joint fixed"),
    "no-time": N_("no time"),
    "other": N_("other"),
}
"""Reasons why a test, or the rest of it, was not done: id as stored -> words."""


@dataclass(frozen=True, slots=True)
class Flag:
    """A remark of the checks about a reading.

    Attributes:
        rule: id of the rule, see checks.RULES.
        level: "impossible" stops the entry, "unlikely" speaks once.
        field: "r1", "quality", "r2", "clonus" or "station": where to look first.
        text: one sentence for the screen.
    """

    rule: str
    level: Literal["impossible", "unlikely"]
    field: str
    text: str


@dataclass(frozen=True, slots=True)
class Override:
    """An impossible flag that a person overrode, with the reason as typed."""

    rule: str
    reason: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One station as it was entered. Angles are as typed, in ``scale``; deg.

    Attributes:
        muscle: id of the muscle group.
        side: side of the body.
        posture: posture and test position in words; the muscle's own text when standard.
        scale: the angle scale, carried whole so that a later change of a clinic's zero
            never alters an old reading.
        fast_velocity: "V3" or "V2", the velocity R1 was read at.
        r1: angle of catch at the fast stretch that counts, None when there was no catch
            or no test.
        r2: end of the slow passive range (V1) that counts, None when not measured.
        quality: quality of muscle reaction, 0 to 5, None when not tested.
        r1_tries: every fast try in order, None for a try without a catch.
        r2_tries: every slow try in order.
        clonus_s: duration of clonus in whole s.
        pain: 0 to 10.
        not_tested: key of NOT_TESTED, "" when tested.
        not_tested_note: the reason in words for "other".
        comment: free text.
        flags: what the checks said when the reading was accepted.
        overrides: impossible flags that were overridden, with reasons.
        entered: ISO 8601 time with offset of the acceptance, "" when imported.
        speed_deg_s: mean speed over the arc of a fast stretch, deg/s, as timed by hand;
            None when it was not timed.
    """

    muscle: str
    side: Side
    posture: str
    scale: AngleScale
    fast_velocity: FastVelocity = "V3"
    r1: int | None = None
    r2: int | None = None
    quality: int | None = None
    r1_tries: tuple[int | None, ...] = ()
    r2_tries: tuple[int, ...] = ()
    clonus_s: int | None = None
    pain: int | None = None
    not_tested: str = ""
    not_tested_note: str = ""
    comment: str = ""
    flags: tuple[Flag, ...] = ()
    overrides: tuple[Override, ...] = ()
    entered: str = ""
    speed_deg_s: int | None = None

    @property
    def r1_stretch(self) -> int | None:
        """Stretch angle of R1, deg."""
        return None if self.r1 is None else self.scale.stretch(self.r1)

    @property
    def r2_stretch(self) -> int | None:
        """Stretch angle of R2, deg."""
        return None if self.r2 is None else self.scale.stretch(self.r2)

    @property
    def gap(self) -> int | None:
        """R2 - R1 towards more stretch, deg.

        None without a catch or a slow range: quality grades 0 and 1 have no catch angle, which
        makes the gap undefined and not zero.
        """
        r1, r2 = self.r1_stretch, self.r2_stretch
        return None if r1 is None or r2 is None else r2 - r1

    @property
    def station(self) -> StationKey:
        """The station it belongs to."""
        return (self.muscle, self.side, self.fast_velocity)


def reading_to_doc(reading: Reading) -> dict[str, Any]:
    """Write the reading as a JSON document.

    Raises:
        KeyError: when it could not be read again.
    """
    doc = as_doc(reading) | {
        "side": reading.side.value,
        "scale": doc_of_many(reading.scale),
        "fast_velocity": _FAST[reading.fast_velocity],
        "r1_tries": list(reading.r1_tries),
        "r2_tries": list(reading.r2_tries),
        "flags": [as_doc(flag) for flag in reading.flags],
        "overrides": [as_doc(override) for override in reading.overrides],
    }
    # Only when timed: the document of every other reading, and so its seal, stays as it was
    # before there was a speed.
    if reading.speed_deg_s is None:
        del doc["speed_deg_s"]
    return doc


def reading_from_doc(doc: dict[str, Any]) -> Reading:
    """Read the reading in a JSON document.

    Raises:
        KeyError, TypeError, ValueError: when the document is not a reading.
    """
    # By place, and words that are in many readings once: a chart of years has thousands.
    return Reading(
        intern(doc["muscle"]),
        _SIDES[doc["side"]],
        intern(doc["posture"]),
        scale_from_doc(doc["scale"]),
        _FAST[doc["fast_velocity"]],
        doc["r1"],
        doc["r2"],
        doc["quality"],
        tuple(doc["r1_tries"]),
        tuple(doc["r2_tries"]),
        doc["clonus_s"],
        doc["pain"],
        doc["not_tested"],
        doc["not_tested_note"],
        doc["comment"],
        tuple([Flag(**flag) for flag in doc["flags"]]),
        tuple([Override(**override) for override in doc["overrides"]]),
        doc["entered"],
        doc.get("speed_deg_s"),
    )


_SIDES = {side.value: side for side in Side}
_FAST: dict[str, FastVelocity] = {"V2": "V2", "V3": "V3"}


def scale_from_doc(doc: dict[str, Any]) -> AngleScale:
    """Read the angle scale in a JSON document."""
    return _scale(doc["id"], doc["slope"], doc["offset"], doc["presign"])


_scale = lru_cache(maxsize=256, typed=True)(AngleScale)
"""The same few scales are in every reading: each is made once."""
