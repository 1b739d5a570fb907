"""Invented readings and sessions for the tests of change."""

from __future__ import annotations

from dataclasses import replace

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.session import Conditions, Session
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.measurement_error import Asked, MeasurementError
from limbscribe.core.tardieu.reading import Reading, Side

NEUTRAL = AngleScale("neutral-zero", 1, 0)
DEFICIT = AngleScale("deficit", -1, 0)
STRAIGHT = AngleScale("straight-180", 1, -180)
SCALES = (NEUTRAL, DEFICIT, STRAIGHT)

POSITION = "supine, hip flexed 90, other leg flat"

ASKED = Asked("R1", "hamstrings", "lower", "cerebral-palsy", "children", "same")

FIGURE = MeasurementError(
    name="invented hamstrings",
    quantities=("R1", "R2"),
    muscles=("hamstrings",),
    limb="lower",
    populations=("cerebral-palsy",),
    age="children",
    raters="same",
    interval="different-days",
    position="",
    instrument="goniometer",
    sem=5,
    published="SEM 5",
    source="invented",
    verified="invented",
)
GAP_FIGURE = replace(FIGURE, name="invented gap", quantities=("gap",), sem=7.1)


def reading(
    r1: int | None,
    r2: int | None,
    scale: AngleScale = NEUTRAL,
    quality: int | None = 2,
    **changed: object,
) -> Reading:
    """A reading of the left hamstrings, stretch angles given; typed in ``scale``."""
    found = Reading(
        muscle="hamstrings",
        side=Side.LEFT,
        posture=POSITION,
        scale=scale,
        r1=None if r1 is None else scale.typed(r1),
        r2=None if r2 is None else scale.typed(r2),
        quality=quality,
        r1_tries=() if r1 is None else (scale.typed(r1),),
    )
    return replace(found, **changed)  # type: ignore[arg-type]


def session(
    *readings: Reading,
    started: str = "2026-03-02T10:00:00+01:00",
    checklist: Checklist | None = None,
    conditions: Conditions | None = None,
    **changed: object,
) -> Session:
    """A session of these readings."""
    found = Session(
        id=started,
        started=started,
        examiner="EX",
        recorder="RE",
        checklist=checklist or Checklist("own", "Own", (Item("hamstrings"),)),
        conditions=conditions or Conditions(),
        readings=readings,
    )
    return replace(found, **changed)  # type: ignore[arg-type]
