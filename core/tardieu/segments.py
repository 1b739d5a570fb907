"""Limb segments as rigid bodies that swing about a joint: their figures and where they hang.

From ``data/segments.toml``, each table with its source. A body is known by two lengths: from
the joint to the centre of mass, and the radius of gyration about the joint, both as fractions
of a length that can be measured on the person or taken from the height. Mass cancels out of
its fall.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import hypot, sqrt
from typing import Any

from ..tomlfile import DATA

LENGTHS_SOURCE = "Drillis and Contini 1966 as in Winter; second-hand copies seen"


@dataclass(frozen=True, slots=True)
class Segment:
    """A limb segment.

    Attributes:
        id: name in files and on the command line.
        name: name on screens.
        axis: the joint it turns about.
    """

    id: str
    name: str
    axis: str


@dataclass(frozen=True, slots=True)
class Body:
    """One segment by one author's figures.

    Attributes:
        ends: what its length is measured between.
        height_fraction: that length as a fraction of body height.
        centre: from the joint to the centre of mass, fraction of the length.
        gyration: radius of gyration about the joint, fraction of the length.
        remark: what had to be assumed, "" when nothing.
    """

    ends: str
    height_fraction: float
    centre: float
    gyration: float
    remark: str = ""


@dataclass(frozen=True, slots=True)
class SegmentTable:
    """One author's figures.

    Attributes:
        id: name on the command line.
        name: name on screens.
        source: the publication.
        verified: how far the figures were checked against it.
        bodies: by segment id.
    """

    id: str
    name: str
    source: str
    verified: str
    bodies: Mapping[str, Body]


@dataclass(frozen=True, slots=True)
class GravityTest:
    """A muscle's test in which the fall of one segment stretches the muscle.

    Attributes:
        muscle: id of the muscle group.
        segment: id of the segment that falls.
        hangs_at: joint angle on the muscle's neutral-zero axis, deg, at which the segment
            hangs straight down.
        setting: what has to be so for that to hold.
        source: where this comes from.
    """

    muscle: str
    segment: str
    hangs_at: int
    setting: str
    source: str

    def from_hanging(self, joint: float) -> float:
        """Turn a joint angle, deg, into the angle from hanging vertical, deg; also the way back."""
        return self.hangs_at - joint


@dataclass(frozen=True, slots=True)
class Segments:
    """Everything in the file.

    Attributes:
        segments: by id.
        tables: by id.
        tests: by muscle id.
    """

    segments: Mapping[str, Segment]
    tables: Mapping[str, SegmentTable]
    tests: Mapping[str, GravityTest]


@cache
def shipped_segments() -> Segments:
    """Load the segments, tables and tests that come with the program."""
    data = tomllib.loads((DATA / "segments.toml").read_text("utf-8"))
    return Segments(
        {entry["id"]: Segment(**entry) for entry in data["segment"]},
        {entry["id"]: _table(entry, data["chain"]) for entry in data["table"]},
        {entry["muscle"]: GravityTest(**entry) for entry in data["test"]},
    )


def _table(entry: dict[str, Any], chains: list[dict[str, Any]]) -> SegmentTable:
    if "body" in entry:
        bodies = {body.pop("segment"): Body(**body) for body in entry["body"]}
    else:
        bodies = {chain["segment"]: combined(chain, entry["part"]) for chain in chains}
    return SegmentTable(entry["id"], entry["name"], entry["source"], entry["verified"], bodies)


def combined(chain: dict[str, Any], parts: Mapping[str, dict[str, float]]) -> Body:
    """Put a body together from its parts, for a person of height 1.

    The centre of mass is the mean of the parts' centres weighted by mass; the moment of
    inertia about the joint is the sum of each part's own about its centre plus mass times
    its centre's distance from the joint squared (parallel axes). The angle of the whole is
    that of the line from the joint to the common centre of mass; the foot stands forward,
    so for a leg this line is up to 3 deg ahead of the bone, which is left out.

    Args:
        chain: a [[chain]] of the file.
        parts: by name: mass, length, centre and gyration of each.
    """
    mass = along = forward = inertia = 0.0
    for placed in chain["parts"]:
        part = parts[placed["part"]]
        reach = part["centre"] * part["length"]
        turned = placed["part"] == "foot"
        x = placed["at"][0] + (0 if turned else reach)
        y = placed["at"][1] + (reach if turned else 0)
        mass += part["mass"]
        along += part["mass"] * x
        forward += part["mass"] * y
        inertia += part["mass"] * ((part["gyration"] * part["length"]) ** 2 + x * x + y * y)
    length = chain["height_fraction"]
    centre = hypot(along, forward) / mass
    gyration = sqrt(inertia / mass)
    return Body(chain["ends"], length, centre / length, gyration / length, chain.get("remark", ""))
