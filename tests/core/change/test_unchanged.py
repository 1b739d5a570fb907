"""Simulated patients: what does not change looks unchanged, what changes a lot is seen.

Every reading errs with a standard deviation of 5 deg (Fosang et al. 2003, the standard error of
the scale in the clinic), as normal draws rounded to whole degrees.
"""

from __future__ import annotations

import random
from collections import Counter
from math import sqrt

import pytest
from limbscribe.core.change.compare import Basis, Comparison, compare
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.tardieu.muscle import Muscle
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.sizes import size

SEM = 5
PLANTED = 25
"""deg; a change that must be seen."""
PATIENTS = size(60, 60, 1000)
MUSCLES = shipped_muscles()
CALF = ("gastrocnemius", "soleus")
GROUPS = {
    "arm": [m for m in MUSCLES.values() if m.region == "upper"],
    "calf": [MUSCLES[id_] for id_ in CALF],
    "other leg": [m for m in MUSCLES.values() if m.region == "lower" and m.id not in CALF],
}
STROKE = Patient("P-01", 1958, "female", "stroke", "left")


def reading(muscle: Muscle, r1: float, r2: float, rolls: random.Random) -> Reading:
    scale = muscle.scale("")
    typed = [scale.typed(round(rolls.gauss(angle, SEM))) for angle in (r1, r2)]
    return Reading(
        *(muscle.id, Side.LEFT, muscle.posture_words, scale, muscle.velocity),
        r1=typed[0], r2=typed[1], quality=2, r1_tries=(typed[0],), r2_tries=(typed[1],),
    )  # fmt: skip


def visits(
    muscles: list[Muscle], raters: str, later: tuple[int, int], rolls: random.Random
) -> Comparison:
    """Two sessions of one patient; R1 and R2 truly differ by ``later``, stretch angles, deg."""
    items = tuple(Item(muscle.id) for muscle in muscles)
    truly = [(rolls.uniform(-40, -10), rolls.uniform(0, 30)) for _ in muscles]
    found: list[Session] = []
    for at, (d1, d2) in (("2026-03-02", (0, 0)), ("2026-05-04", later)):
        readings = tuple(
            reading(muscle, r1 + d1, r2 + d2, rolls)
            for muscle, (r1, r2) in zip(muscles, truly, strict=True)
        )
        who = "EX" if raters == "same" or not found else "QQ"
        started = f"{at}T10:00:00+01:00"
        found.append(Session(at, started, who, "RE", Checklist("c", "C", items), readings=readings))
    return compare(STROKE, *found, (), Basis(MUSCLES))


def called(group: str, raters: str, later: tuple[int, int]) -> Counter[str]:
    """How often R1 and R2 of a group were called larger, within, or had no figure."""
    rolls = random.Random(f"{group} {raters} {later}")
    found: Counter[str] = Counter()
    for _ in range(PATIENTS):
        for row in visits(GROUPS[group], raters, later, rolls).rows:
            for angle in (row.change.r1, row.change.r2):
                found[f"{angle.name} {angle.verdict}"] += 1
    return found


def larger(found: Counter[str], *names: str) -> float:
    """Share called larger of the numbers that have a figure."""
    hits = sum(found[f"{name} larger"] for name in names)
    return hits / (hits + sum(found[f"{name} within"] for name in names))


@pytest.mark.parametrize("raters", ["same", "different"])
@pytest.mark.parametrize("group", GROUPS)
def test_an_unchanged_patient_looks_unchanged(group: str, raters: str) -> None:
    found = called(group, raters, (0, 0))
    assert larger(found, "R1", "R2") <= 0.08
    no_figure = found["R2 cannot say"] / sum(n for name, n in found.items() if "R2" in name)
    assert no_figure <= 0.1


@pytest.mark.parametrize("raters", ["same", "different"])
@pytest.mark.parametrize("group", ["calf", "other leg"])
def test_a_large_change_is_seen_in_the_leg(group: str, raters: str) -> None:
    for sign in (1, -1):
        found = called(group, raters, (sign * PLANTED, sign * PLANTED))
        assert larger(found, "R1", "R2") >= 0.8


def test_the_arm_needs_more_as_its_published_figures_are_wider() -> None:
    """MDC 22 and 38 deg: of 25 deg about two in three are seen, of 35 deg of R2 nearly all."""
    assert 0.5 < larger(called("arm", "same", (PLANTED, PLANTED)), "R2") < 0.8
    assert larger(called("arm", "same", (35, 35)), "R2") >= 0.95


def test_the_planted_change_can_be_missed() -> None:
    """The check of the two tests above can fail: half the change is mostly not seen."""
    assert larger(called("calf", "same", (12, 12)), "R1", "R2") < 0.4


def test_a_gap_that_shrinks_by_a_lost_range_is_said_at_hardly_any_unchanged_station() -> None:
    rolls = random.Random(5)
    leg = GROUPS["calf"] + GROUPS["other leg"]
    rows = [row for _ in range(5 * PATIENTS) for row in visits(leg, "same", (0, 0), rolls).rows]
    said = sum(bool(row.change.pattern.warning) for row in rows)
    assert said / len(rows) < 0.01
    fallen = visits(leg, "same", (0, -40), rolls)
    assert sum(bool(row.change.pattern.warning) for row in fallen.rows) > len(leg) / 2


def test_what_chance_would_call_larger_is_right_where_the_figure_is() -> None:
    """With a figure of the very error, 5 % of all numbers, within four binomial errors.

    Rounding to whole degrees makes it a little more: 13.86 cuts between 13 and 14, and the
    rounded difference varies by 2 * (25 + 1 / 12), so 5.7 % are expected.
    """
    rolls = random.Random(3)
    said = hits = numbers = 0.0
    for _ in range(4 * PATIENTS):
        found = visits(GROUPS["other leg"], "same", (0, 0), rolls)
        figures = [row.change for row in found.rows]
        limit = 1.96 * sqrt(2) * SEM
        hits += sum(abs(c.change or 0) > limit for one in figures for c in (one.r1, one.r2))
        numbers += found.compared
        said += found.by_chance
    share, told = hits / numbers, said / numbers
    assert told == pytest.approx(0.05)
    error = sqrt(0.05 * 0.95 / numbers)
    assert abs(share - told) < 4 * error + 0.01
