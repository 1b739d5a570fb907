"""Why a value is there or not: "no catch" is not "not tested", and neither is zero."""

from __future__ import annotations

from typing import Literal

from ..language import N_
from .reading import Reading

State = Literal["measured", "no-catch", "not-tested", "not-recorded"]

STATES: dict[State, str] = {
    "measured": "the angle was read",
    "no-catch": "the stretch was made and met no catch, so there is no angle",
    "not-tested": "the stretch was not made, for the reason stated",
    "not-recorded": "nothing was recorded, and no reason",
}
"""Every state -> what it means."""

CELLS: dict[State, str] = {
    "measured": "",
    "no-catch": N_("none"),
    "not-tested": N_("n.t."),
    "not-recorded": ".",
}
"""State -> what stands in a narrow cell without an angle; "" where the angle itself does."""


def fast_state(reading: Reading) -> State:
    """Say what became of the fast stretch (R1)."""
    if reading.r1 is not None:
        return "measured"
    # Grades 2 to 4 had a catch, and with 5 the joint cannot be moved: there the angle is missing.
    if reading.quality in (0, 1) or (reading.quality is None and reading.r1_tries):
        return "no-catch"
    return "not-tested" if reading.not_tested else "not-recorded"


def catch_of(reading: Reading | None) -> bool | None:
    """Say whether there was a catch; None where its angle is missing or it was not tested."""
    if reading is None:
        return None
    return {"measured": True, "no-catch": False}.get(fast_state(reading))


def slow_state(reading: Reading) -> State:
    """Say what became of the slow stretch (R2)."""
    if reading.r2 is not None:
        return "measured"
    return "not-tested" if reading.not_tested else "not-recorded"
