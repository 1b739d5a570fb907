"""Pacing a stretch by a cue, and timing one by two taps.

The speeds of the scale are named and not measured. A cue lets examiners practise them; two
taps around a stretch of known arc give its mean speed, as well as a hand can tap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt
from typing import Literal

from ..problem import Problem
from .fall import share_of_arc

TAP_SD_S = 0.05
"""s; spread of one tap about its moment: common practice, no published source."""

LEAD_S = 1.0
"""s from the key to the start of a cue, so that the hands are ready; our own choice."""

FRAME_S = 0.05
"""s between two positions of the moving bar."""

V1_SECONDS = (1, 60)
"""Shortest and longest V1 cue, s."""

USUAL_V1_SECONDS = 5
"""s offered for a V1 cue: common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Cue:
    """A cue that runs: a bell at its start and at its end, a bar between them.

    Attributes:
        velocity: V1, at an even pace, or V2, as the segment falls.
        starts: moment of the first bell, s on the monotonic clock.
        seconds: from the first bell to the second, s.
        arc: angles from hanging of a fall, deg; None for an even pace.
        rung: bells rung so far.
    """

    velocity: Literal["V1", "V2"]
    starts: float
    seconds: float
    arc: tuple[float, float] | None = None
    rung: int = 0


def ticked(cue: Cue, ticks: float) -> tuple[Cue | None, int]:
    """Find the cue at a moment (None once it is over), and the bells due since last asked."""
    due = (ticks >= cue.starts) + (ticks >= cue.starts + cue.seconds)
    bells = max(0, due - cue.rung)
    return (None if due == 2 else replace(cue, rung=due)), bells


def until_next(cue: Cue, ticks: float) -> float:
    """Count the seconds until the bar has moved or a bell is due, whichever is first."""
    moments = (cue.starts, cue.starts + cue.seconds)
    return min([FRAME_S, *(moment - ticks for moment in moments if moment > ticks)])


def share_done(cue: Cue, ticks: float) -> float:
    """Compute how far the limb should be along its arc, 0 to 1."""
    share = min(1.0, max(0.0, (ticks - cue.starts) / cue.seconds))
    return share if cue.arc is None else share_of_arc(*cue.arc, share)


@dataclass(frozen=True, slots=True)
class Tapped:
    """A stretch timed by two taps.

    Attributes:
        seconds: between the taps, s.
        error_s: standard error of that, s.
        speed: mean speed over the arc, deg/s.
        slowest: the speed if the time was longer by the error, deg/s.
        fastest: the speed if it was shorter, deg/s.
    """

    seconds: float
    error_s: float
    speed: int
    slowest: int
    fastest: int


def tapped(arc: int, seconds: float, sd: float = TAP_SD_S) -> Tapped | Problem:
    """Compute the mean speed of a stretch from the time between two taps.

    The errors of the two taps are independent, so the time has one of sqrt(2) times theirs.

    Args:
        arc: deg towards more stretch.
        seconds: between the taps, s.
        sd: of one tap, s.
    """
    error = sqrt(2) * sd
    if arc <= 0:
        return Problem("arc", f"from start to end is {arc} deg of stretch", "the end lies further")
    if seconds <= error:
        what = f"{seconds:.2f} s between the taps is within their error of {error:.2f} s"
        return Problem("taps", what, "tap again")
    speed = round(arc / seconds)
    if not speed:
        return Problem("taps", f"{arc} deg in {seconds:.0f} s is under 1 deg/s", "tap again")
    slowest, fastest = round(arc / (seconds + error)), round(arc / (seconds - error))
    return Tapped(seconds, error, speed, slowest, fastest)


@dataclass(frozen=True, slots=True)
class Measured:
    """How fast clinicians stretched one muscle group: mean of their peak speeds, deg/s.

    Attributes:
        muscle: id of the muscle group.
        name: with the test position, where that differs.
        v1: at V1.
        v3: at V3.
        note: how a figure came about, "" when it is as printed.
    """

    muscle: str
    name: str
    v1: float
    v3: float
    note: str = ""


MEASURED = (
    Measured("gastrocnemius", "gastrocnemius", 37.7, 347.4),
    Measured("soleus", "soleus", 44.3, 404.4),
    Measured("hamstrings-hip-40", "hamstrings, hip 40", 56.2, 319.7),
    Measured("hamstrings", "hamstrings, hip 90", 59.1, 350.9),
    Measured(
        "knee-extensors", "knee extensors", 72.1, 348, "V3 worked out: 64.3 is 18.5 % of the mean"
    ),
)
MEASURED_SOURCE = (
    "Banky 2019, J Rehabil Med 51, Table III: peak speeds, 34 clinicians, 35 patients; columns "
    "of the table checked against the abstract"
)
"""Peaks, by instrument; taps give a mean, which is lower."""
