"""Simulated patients: what does not change looks unchanged, what changes a lot is seen.

Every reading errs with a standard deviation of 5 deg (Fosang et al. 2003, the standard error of
the scale in the clinic), as normal draws rounded to whole degrees.
"""

from __future__ import annotations

import random
from collections import Counter
from math import sqrt
from statistics import NormalDist

import pytest
from limbscribe.core.change.compare import Basis, Comparison, compare
from limbscribe.core.change.marks import BEYOND, angle_mark
from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.session import Session
from limbscribe.core.config.settings import Settings
from limbscribe.core.tardieu.measurement_error import Level, MeasurementError
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
PUBLISHED = Basis(MUSCLES)


def own_figure(sem: float, **settings: object) -> Basis:
    """A clinic with one figure of its own that fits every station of the leg in every respect."""
    figure = MeasurementError(
        *("ours", ("R1", "R2"), (), "lower", ("any",), "any", "any", "any", "", "any"),
        *(sem, f"SEM {sem}", "invented", "invented"),
        own=True,
    )
    return Basis(MUSCLES, Settings(own_measurement_error=True, **settings), (figure,))  # type: ignore[arg-type]


def reading(
    muscle: Muscle, angles: tuple[float, float], rolls: random.Random, sem: float, step: int
) -> Reading:
    """A reading of R1 and R2, stretch angles, that err by so much, read to so many deg."""
    scale = muscle.scale("")
    typed = [scale.typed(step * round(rolls.gauss(angle, sem) / step)) for angle in angles]
    return Reading(
        *(muscle.id, Side.LEFT, muscle.posture_words, scale, muscle.velocity),
        r1=typed[0], r2=typed[1], quality=2, r1_tries=(typed[0],), r2_tries=(typed[1],),
    )  # fmt: skip


def visits(
    muscles: list[Muscle],
    raters: str,
    later: tuple[int, int],
    rolls: random.Random,
    basis: Basis = PUBLISHED,
    sem: float = SEM,
) -> Comparison:
    """Two sessions of one patient; R1 and R2 truly differ by ``later``, stretch angles, deg."""
    step = basis.settings.reading_step
    items = tuple(Item(muscle.id) for muscle in muscles)
    truly = [(rolls.uniform(-40, -10), rolls.uniform(0, 30)) for _ in muscles]
    found: list[Session] = []
    for at, (d1, d2) in (("2026-03-02", (0, 0)), ("2026-05-04", later)):
        readings = tuple(
            reading(muscle, (r1 + d1, r2 + d2), rolls, sem, step)
            for muscle, (r1, r2) in zip(muscles, truly, strict=True)
        )
        who = "EX" if raters == "same" or not found else "QQ"
        started = f"{at}T10:00:00+01:00"
        found.append(Session(at, started, who, "RE", Checklist("c", "C", items), readings=readings))
    return compare(STROKE, *found, (), basis)


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


@pytest.mark.parametrize("group", GROUPS)
def test_a_gap_that_shrinks_by_a_lost_range_is_said_at_hardly_any_unchanged_station(
    group: str,
) -> None:
    rolls, muscles = random.Random(5), GROUPS[group]
    rows = [row for _ in range(5 * PATIENTS) for row in visits(muscles, "same", (0, 0), rolls).rows]
    said = sum(bool(row.change.pattern.warning) for row in rows)
    assert said / len(rows) < 0.01
    fallen = visits(muscles, "same", (0, -45), rolls)
    assert sum(bool(row.change.pattern.warning) for row in fallen.rows) > len(muscles) / 2


def figure_with_limit(limit: float, level: Level, step: int) -> tuple[float, float]:
    """The SEM whose MDC is this limit, and that of the readings behind it without their rounding.

    MDC = z * sqrt(2) * SEM (Weir 2005, J Strength Cond Res 19:231-240).
    """
    whole = limit / ({90: 1.645, 95: 1.96}[level] * sqrt(2))
    return whole, sqrt(whole**2 - step**2 / 12)


@pytest.mark.parametrize(
    ("level", "step", "limit"),
    # A limit half way between two differences that can be read, so that rounding moves nothing.
    [(95, 1, 13.5), (95, 1, 17.5), (90, 1, 11.5), (95, 5, 12.5), (95, 5, 17.5)],
)
def test_what_chance_is_said_to_call_larger_is_what_it_calls(
    level: Level, step: int, limit: float
) -> None:
    """Within three binomial errors of what the comparison says, where the figures hold.

    A figure of an agreement study has the rounding to whole degrees in it; that of a wider step
    is added to it by the program.
    """
    whole, spread = figure_with_limit(limit, level, step)
    basis = own_figure(whole if step == 1 else spread, mdc_level=level, reading_step=step)
    rolls = random.Random(f"{level} {step} {limit}")
    numbers, said, hits = 0, 0.0, 0
    for _ in range(4 * PATIENTS):
        found = visits(GROUPS["other leg"], "same", (0, 0), rolls, basis, spread)
        both = [angle for row in found.rows for angle in (row.change.r1, row.change.r2)]
        hits += sum(angle.verdict == "larger" for angle in both)
        numbers += found.compared
        said += found.by_chance
        words = f"{len(both)} numbers compared; about {round(len(both) * (100 - level) / 100)} "
        assert found.chance_words == f"{words}would be called larger by chance alone"
    share = (100 - level) / 100
    assert said == pytest.approx(share * numbers)
    assert abs(hits - said) < 3 * sqrt(numbers * share * (1 - share))


def test_a_wide_step_that_is_not_told_makes_more_of_chance() -> None:
    """Readings to 5 deg, SEM 5.3: 15 is beyond 14.7, the limit without the step, within 15.2."""
    shares: dict[int, float] = {}
    for told in (1, 5):
        basis, rolls, found = own_figure(5.3, reading_step=5), random.Random(8), Counter[str]()
        limits = own_figure(5.3, reading_step=told)
        for _ in range(2 * PATIENTS):
            read = visits(GROUPS["other leg"], "same", (0, 0), rolls, basis, 5.3)
            judged = compare(STROKE, read.before, read.after, (), limits)
            found.update(one.change.r1.verdict for one in judged.rows)
        shares[told] = found["larger"] / (found["larger"] + found["within"])
    assert shares[5] < 0.05 < 0.08 < shares[1]


def test_numbers_without_a_figure_are_marked_as_often_as_two_readings_differ_so() -> None:
    """Beyond root of 2 times 5, that is from 8 deg on: 29 %, which is no judgement of a change."""
    muscles = [muscle for muscle in GROUPS["arm"] if muscle.id != "elbow-flexors"]
    rolls, marks = random.Random(9), Counter[str]()
    for _ in range(4 * PATIENTS):
        rows = visits(muscles, "same", (0, 0), rolls).rows
        marks.update(angle_mark(row.change.r1) for row in rows)
        assert all(row.change.r1.verdict == "cannot say" for row in rows)
    count = sum(marks.values())
    share = 2 * (1 - NormalDist(0, sqrt(2 * (SEM**2 + 1 / 12))).cdf(7.5))
    assert set(marks) == {"", BEYOND}
    assert abs(marks[BEYOND] / count - share) < 3 * sqrt(share * (1 - share) / count)
