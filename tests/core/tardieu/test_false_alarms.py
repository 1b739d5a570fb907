"""Simulated readings of unchanged joints: what the checks and the words make of mere error.

Every reading errs as a normal draw with a standard deviation of 5 deg (Fosang et al. 2003, the
standard error of the scale in the clinic), rounded to whole degrees, which adds a variance of 1/12
(uniform distribution). Expected shares are those of the normal distribution.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from math import sqrt
from statistics import NormalDist

import pytest
from limbscribe.core.tardieu.angles import SCALE_IDS, AngleScale
from limbscribe.core.tardieu.checks import check_reading
from limbscribe.core.tardieu.checks_context import CheckContext
from limbscribe.core.tardieu.components import plain_line
from limbscribe.core.tardieu.muscles import Muscle, shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side
from limbscribe.core.tardieu.reference import Reference, find_reference

from tests.support.sizes import size

SEM = 5
DRAWS = size(4000, 4000, 100_000)
JOINTS = size(300, 300, 10_000)
"""Joints on each scale of each muscle group."""
MUSCLES = shipped_muscles()
SOLEUS = MUSCLES["soleus"]
PEOPLE = ((6, "male"), (30, "female"), (65, "male"))


def read(
    muscle: Muscle, scale: AngleScale, r1: float, r2: float, rolls: random.Random, sem: float = SEM
) -> Reading:
    """A reading of a joint whose catch and end truly are at these stretch angles, deg."""
    typed = [scale.typed(round(rolls.gauss(angle, sem))) for angle in (r1, r2)]
    return Reading(
        *(muscle.id, Side.LEFT, muscle.posture_words, scale, muscle.velocity),
        r1=typed[0], r2=typed[1], quality=2, r1_tries=(typed[0],), r2_tries=(typed[1],),
    )  # fmt: skip


def joint(muscle: Muscle, rolls: random.Random) -> tuple[float, float, Reference | None]:
    """Where a joint catches and ends, and the reference of its owner."""
    reference = find_reference(muscle.reference, *rolls.choice(PEOPLE))
    if isinstance(reference, Reference):
        r2, known = reference.mean - rolls.uniform(0, 40), reference
    else:
        r2, known = (muscle.low + muscle.high) / 2 + rolls.uniform(-20, 20), None
    return max(r2 - rolls.uniform(25, 50), muscle.low + 20), r2, known


def alarms(sem: float, joints: int = JOINTS) -> tuple[Counter[str], Counter[str]]:
    """Count flags and angles read by muscle group and by scale, second visits, nothing changed."""
    rolls = random.Random(f"alarms {sem}")
    flags, angles = Counter[str](), Counter[str]()
    for muscle in MUSCLES.values():
        for scale in muscle.scales:
            for _ in range(joints):
                r1, r2, reference = joint(muscle, rolls)
                then, now = (read(muscle, scale, r1, r2, rolls, sem) for _ in range(2))
                context = CheckContext(muscle, reference=reference, last=then)
                for name in (muscle.id, scale.id, "all"):
                    flags[name] += len(check_reading(now, context))
                    angles[name] += 2
    return flags, angles


def test_an_unchanged_joint_raises_few_alarms_on_any_scale() -> None:
    """Under 1 % of all angles, and of each scale and muscle group within binomial error of it."""
    flags, angles = alarms(SEM)
    assert set(SCALE_IDS) <= set(angles)
    assert flags["all"] / angles["all"] < 0.01
    for name, count in angles.items():
        assert flags[name] / count < 0.01 + 3 * sqrt(0.01 * 0.99 / count), name


def test_first_values_of_ordinary_joints_are_hardly_ever_called_far_off() -> None:
    rolls, found, angles = random.Random(6), Counter[str](), 0
    for muscle in MUSCLES.values():
        for scale in muscle.scales:
            for _ in range(JOINTS):
                r1, r2, reference = joint(muscle, rolls)
                one = read(muscle, scale, r1, r2, rolls)
                flags = check_reading(one, CheckContext(muscle, reference=reference))
                found.update(flag.rule for flag in flags)
                angles += 2
    assert found["hardly-stretched"] + found["wide-gap"] < 0.001 * angles
    assert found["sign-missing"]
    assert found["other-row"]


def test_the_other_row_is_asked_about_where_a_minus_would_be() -> None:
    """Where zero reads 90 the other row is what a sign left out is on the plain scale."""
    rolls, asked = random.Random(7), 0
    for muscle in MUSCLES.values():
        plain = muscle.scale("neutral-zero")
        for scale in (scale for scale in muscle.scales if abs(scale.offset) == 90):
            for _ in range(JOINTS):
                r1, r2, reference = joint(muscle, rolls)
                context = CheckContext(muscle, reference=reference)
                one = read(muscle, scale, r1, r2, rolls, 2 * SEM)
                if 90 in (one.r1, one.r2) or 0 in (one.r1, one.r2):
                    continue  # a typed 0 has no sign
                r1, r2 = (plain.typed(scale.stretch(angle)) for angle in (one.r1, one.r2))
                same = replace(one, scale=plain, r1=r1, r2=r2, r1_tries=(r1,), r2_tries=(r2,))
                row, minus = (
                    [flag.field for flag in check_reading(each, context) if flag.rule == rule]
                    for each, rule in ((one, "other-row"), (same, "sign-missing"))
                )
                assert row == minus
                asked += len(row)
    assert asked


def test_readings_that_err_twice_as_much_do_raise_alarms() -> None:
    """The test above can fail."""
    flags, angles = alarms(2 * SEM, JOINTS // 5)
    assert flags["all"] / angles["all"] > 0.03


def beyond(limit: float, readings: int) -> float:
    """Share of sums of so many readings that exceed a limit, whole degrees, on one side."""
    return 1 - NormalDist(0, sqrt(readings * (SEM**2 + 1 / 12))).cdf(limit + 0.5)


def assert_share(hits: int, share: float) -> None:
    """Within four binomial errors."""
    assert abs(hits / DRAWS - share) < 4 * sqrt(share * (1 - share) / DRAWS), hits / DRAWS


def test_a_stiff_joint_is_asked_about_within_the_error_and_impossible_beyond() -> None:
    """R1 and R2 truly alike: the error of two readings is root of 2 times 5, 7 deg."""
    rolls, rules = random.Random(4), Counter[str]()
    for _ in range(DRAWS):
        reading = read(SOLEUS, SOLEUS.scale(), 10, 10, rolls)
        flags = check_reading(reading, CheckContext(SOLEUS))
        rules.update(flag.rule for flag in flags)
        assert len(flags) <= 1, "asked once"
    assert set(rules) == {"r1-past-r2", "r1-beyond-r2"}
    assert_share(rules["r1-beyond-r2"], beyond(7, 2))
    assert_share(rules["r1-past-r2"], beyond(0, 2) - beyond(7, 2))


def test_a_gap_that_is_none_is_over_the_error_as_often_as_chance_has_it() -> None:
    rolls, over, seen = random.Random(5), 0, 0
    for _ in range(DRAWS):
        none, large = (read(SOLEUS, SOLEUS.scale(), r1, 10, rolls) for r1 in (10, -20))
        over += "over the error of two readings, 7" in plain_line(none, "no reference", SEM)
        seen += "over the error of two readings, 7" in plain_line(large, "no reference", SEM)
    assert_share(over, beyond(7, 2))
    assert seen / DRAWS > 0.99, "a gap of 30 is hardly ever missed"


@pytest.mark.parametrize("part", [30, 40])
def test_gap_and_shortfall_that_are_equal_are_mostly_said_to_be(part: int) -> None:
    """Gap less shortfall is R1 and twice R2, which varies as five readings: root of 5 times 5."""
    rolls, words = random.Random(part), Counter[str]()
    found = find_reference("ankle-dorsiflexion-knee-flexed", 18, "male")
    assert isinstance(found, Reference)
    reference = replace(found, mean=20)
    for _ in range(DRAWS):
        reading = read(SOLEUS, SOLEUS.scale(), 20 - 2 * part, 20 - part, rolls)
        words[plain_line(reading, reference, SEM).rsplit("; ", 1)[1]] += 1
    assert_share(words["gap and shortfall about equal"], 1 - 2 * beyond(11, 5))
    assert_share(words["gap is the larger"], beyond(11, 5))
    assert_share(words["shortfall is the larger"], beyond(11, 5))
