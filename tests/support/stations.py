"""Small invented plans for the tests of entry and checks."""

from __future__ import annotations

from limbscribe.core.entry.plan import Plan, Station
from limbscribe.core.entry.state import Effect, EntryState, Moment, begin
from limbscribe.core.entry.step import step
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.checks_context import Limits
from limbscribe.core.tardieu.muscles import Muscle, shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.core.tardieu.reference import Reference

NEUTRAL = AngleScale("neutral-zero", 1, 0)
DEFICIT = AngleScale("deficit", -1, 0)
STRAIGHT = AngleScale("straight-180", 1, -180)

NAMED_KEYS = (
    *("enter", "tab", "backspace", "escape", "up", "down", "left", "right"),
    *("pageup", "pagedown", "home", "end"),
)


def station(
    muscle: str = "hamstrings",
    side: Side = Side.LEFT,
    scale: AngleScale = NEUTRAL,
    last: Reading | None = None,
    reference: Reference | str = "no reference",
) -> Station:
    """A station with as little about it as a test needs."""
    found: Muscle = shipped_muscles()[muscle]
    return Station(
        muscle=found,
        side=side,
        posture=found.posture_words,
        remembered="",
        scale=scale,
        velocity=found.velocity,
        last=last,
        last_date="02 May 2026" if last else "",
        reference=reference,
    )


def both_sides(*muscles: str, scale: AngleScale = NEUTRAL) -> tuple[Station, ...]:
    """Each muscle on the left and on the right."""
    return tuple(station(muscle, side, scale) for muscle in muscles for side in Side)


def plan(*stations: Station, **options: object) -> Plan:
    """A plan of these stations, hamstrings and soleus on both sides when none are named."""
    limits = options.pop("limits", Limits())
    return Plan(stations or both_sides("hamstrings", "soleus"), limits=limits, **options)  # type: ignore[arg-type]


def keys_of(script: str) -> list[str]:
    """Keys of a script: named ones in angle brackets, everything else a key each."""
    keys: list[str] = []
    while script:
        if script.startswith("<"):
            name, _, script = script[1:].partition(">")
            keys.append(name)
        else:
            keys.append(script[0])
            script = script[1:]
    return keys


def typed(
    state: EntryState, script: str, ticks: float | None = None, apart: float = 1.0
) -> tuple[EntryState, list[Effect]]:
    """Type a script; all effects in order.

    Args:
        state: the entry.
        script: keys, see keys_of().
        ticks: s, when the first key comes; None for ``apart`` after the last one.
        apart: s between two keys.
    """
    effects: list[Effect] = []
    for key in keys_of(script):
        ticks = state.rhythm.last + apart if ticks is None else ticks
        state, new = step(state, key, Moment(ticks, "2026-11-25T09:41:00+01:00"))
        ticks += apart
        effects += new
    return state, effects


def fresh(*stations: Station, **options: object) -> EntryState:
    """A fresh entry of a plan."""
    return begin(plan(*stations, **options))


def reference(mean=20.0, sd: float | None = 5.0) -> Reference:
    return Reference(
        motion="test",
        mean=mean,
        sd=sd,
        low=None,
        high=None,
        age_from=0,
        age_to=99,
        sex="any",
        kind="passive",
        position="",
        source="invented",
        verified="invented",
    )
