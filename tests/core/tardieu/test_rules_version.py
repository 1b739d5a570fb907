"""The rules are those of RULES_VERSION: what they say of a fixed grid of readings is stored.

A session keeps the version it was entered under, so the same version must always mean the same
flags, to the word: an accepted flag is known again by its text. What is stored are digests, so
names inside the code may change freely.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import astuple, replace
from itertools import product

from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.checks import (
    CLONUS_LIMIT_S,
    RULES,
    RULES_VERSION,
    CheckContext,
    Limits,
    check_reading,
)
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.core.tardieu.reference import Reference

from tests.support.stations import DEFICIT, NEUTRAL, STRAIGHT

DIGESTS = {
    4: "9e84f0a958fb6519f52126cf5f7e930ec2896998c16b1cdac4ce3d43516d54ab",
    3: "d1e3d74f5c98471337b15275a95044c5efe05731986c7f5010e999d942e05fb3",
    2: "e3639c0037a47f4c8727f2f6c48932311fe22da903dae9540cc9c95c3ad7dd31",
}
"""By version. A version that was released keeps its line; another meaning is a new version."""

SOLEUS = replace(shipped_muscles()["soleus"], name="Soleus", low=-60, high=60, gravity=True)
"""The muscle of the grid, whatever the data say of it."""

Case = tuple[Reading, CheckContext, bool]


def reading(**values: object) -> Reading:
    made = Reading("soleus", Side.LEFT, "supine", NEUTRAL, **values)  # type: ignore[arg-type]
    if "r1_tries" not in values and made.r1 is not None:
        made = replace(made, r1_tries=(made.r1,))
    return made


def grades_and_catches() -> Iterator[Case]:
    for r1, quality, tries, not_tested, error in product(
        (None, *range(10, 31)), (None, *range(6)), ((), (None,)), ("", "pain"), (5, 7)
    ):
        one = reading(r1=r1, r2=20, quality=quality, not_tested=not_tested)
        one = replace(one, r1_tries=tries if r1 is None else (r1,))
        yield one, CheckContext(SOLEUS, Limits(reading_error=error)), True


def joint_limits_and_clonus() -> Iterator[Case]:
    for scale, stretch in product((NEUTRAL, DEFICIT, STRAIGHT), (-61, -60, 0, 60, 61)):
        typed = scale.typed(stretch)
        for values in ({"r1": typed}, {"r2": typed}, {"r2": typed, "r2_tries": (0, typed)}):
            yield replace(reading(**values), scale=scale), CheckContext(SOLEUS), True
    for seconds, quality in product((None, 0, *range(8, 13), 60, 99, 100), (None, *range(6))):
        yield reading(r1=5, r2=20, quality=quality, clonus_s=seconds), CheckContext(SOLEUS), True


def last_values() -> Iterator[Case]:
    limits = (Limits(), Limits(reading_error=7), Limits(change=10))
    thens = (-45, -27, -12, 0, 3, 8, 12, 27, 33, 45, 115, 120)
    for now, then, figures in product(range(-50, 126), thens, limits):
        last = reading(r1=then, r2=then)
        yield reading(r2=now), CheckContext(SOLEUS, figures, last=last), True
        deficit = replace(reading(r1=now), scale=DEFICIT)
        yield deficit, CheckContext(SOLEUS, figures, last=last), True


def tries_and_steps() -> Iterator[Case]:
    for apart, error in product(range(10, 25), (5, 7)):
        context = CheckContext(SOLEUS, Limits(reading_error=error))
        for tries in ((0, apart), (apart, 0), (3, apart, 0)):
            yield reading(r2=tries[0], r2_tries=tries), context, True
            yield reading(r1=tries[0], r1_tries=(None, *tries)), context, True
    for step, angle in product((1, 2, 5, 10), range(-11, 12)):
        context = CheckContext(SOLEUS, Limits(reading_step=step))
        yield reading(r1=0, r1_tries=(angle, 1), r2=angle, r2_tries=(1, angle)), context, True


def references_and_velocities() -> Iterator[Case]:
    for r2, sd, most in product(range(15, 46), (None, 4.0, 5.5), (1, 2, 2.5)):
        reference = Reference(
            "m", 20.0, sd, None, None, 0, 99, "any", "passive", "", "invented", "invented"
        )
        yield reading(r2=r2), CheckContext(SOLEUS, Limits(reference_sd=most), reference), True
    for mine, other, r1, gravity in product(("V2", "V3"), ("V2", "V3"), range(7), (True, False)):
        context = CheckContext(
            replace(SOLEUS, gravity=gravity), other_velocity=reading(r1=3, fast_velocity=other)
        )
        yield reading(r1=r1, fast_velocity=mine), context, True
        yield reading(fast_velocity=mine), context, True


def both_sides() -> Iterator[Case]:
    for r1, r2, quality, whole in product((None, 5, 6), (None, 20, 21), (2, 3), (True, False)):
        other = replace(reading(r1=5, r2=20, quality=2), side=Side.RIGHT)
        yield reading(r1=r1, r2=r2, quality=quality), CheckContext(SOLEUS, other_side=other), whole
    right = replace(reading(r1=-10, r2=0), side=Side.RIGHT)
    for r1, r2, then, error in product((None, *range(-12, 4, 3)), range(40), (5, 9), (5, 6)):
        context = CheckContext(
            SOLEUS,
            Limits(reading_error=error, change=180),
            last=reading(r1=-9, r2=0),
            other_side=right,
            other_side_last=replace(reading(r1=-6, r2=then), side=Side.RIGHT),
        )
        yield reading(r1=r1, r2=r2, quality=4), context, True


def signs_and_run_on() -> Iterator[Case]:
    reference = Reference(
        "m", 20.0, 5.0, None, None, 0, 99, "any", "passive", "", "invented", "invented"
    )
    uneven = replace(SOLEUS, low=-90)
    for scale, angle, known in product((NEUTRAL, DEFICIT, STRAIGHT), range(-90, 91, 3), (0, 1)):
        context = CheckContext(uneven, reference=reference if known else None)
        typed = scale.typed(angle)
        yield replace(reading(r1=typed, r2=typed), scale=scale), context, True
        yield replace(reading(r2=typed), scale=scale), replace(context, last=reading(r2=9)), True
    for quality, r2, last, order in product(
        (None, *range(6)), range(-9, 10), (None, 0, 14, 45), ("fast-first", "slow-first", "")
    ):
        then = None if last is None else reading(r2=last)
        context = CheckContext(SOLEUS, reference=reference, last=then, typed_in=order)
        yield reading(r2=r2, r2_tries=(r2,), quality=quality), context, True


def first_values() -> Iterator[Case]:
    dial = AngleScale("dial-90", 1, -90)
    for scale, r1, r2 in product((NEUTRAL, STRAIGHT, dial), range(-60, 61, 5), range(-60, 61, 5)):
        typed = {"r1": scale.typed(r1), "r2": scale.typed(r2)}
        uneven = CheckContext(replace(SOLEUS, low=-90))
        yield replace(reading(**typed), scale=scale), uneven, True
        yield replace(reading(**typed), scale=scale), replace(uneven, last=reading(r2=9)), True


GRID = (
    grades_and_catches,
    joint_limits_and_clonus,
    last_values,
    tries_and_steps,
    references_and_velocities,
    both_sides,
    signs_and_run_on,
    first_values,
)


def cases() -> Iterator[Case]:
    for part in GRID:
        yield from part()


def digest() -> str:
    """The digest of the rules, their figures, and every flag of the grid in order."""
    figures = [astuple(Limits()), Limits().apart, CLONUS_LIMIT_S]
    summed = hashlib.sha256(json.dumps([sorted(RULES.items()), figures]).encode())
    for one, context, whole in cases():
        found = [astuple(flag) for flag in check_reading(one, context, whole)]
        summed.update(json.dumps(found).encode())
    return summed.hexdigest()


def test_the_rules_are_those_of_their_version():
    assert DIGESTS.get(RULES_VERSION) == digest(), (
        "the rules, their figures or their words are others than those of this version: "
        "raise RULES_VERSION, say there what changed, and add a digest; keep the old ones"
    )
    assert max(DIGESTS) == RULES_VERSION


def test_the_grid_meets_every_rule_and_its_absence():
    met = dict.fromkeys(RULES, 0)
    count = 0
    for one, context, whole in cases():
        count += 1
        for rule in {flag.rule for flag in check_reading(one, context, whole)}:
            met[rule] += 1
    assert all(0 < times < count for times in met.values()), met
