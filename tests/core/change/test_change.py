"""Change of a station: hand-worked comparisons of each pattern in three angle scales.

All with an invented figure of SEM 5 deg, so MDC95 13.9: 13 deg is within it, 14 is larger.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from limbscribe.core.change.change import ChangeLimits, StationChange, change_of
from limbscribe.core.tardieu.angles import AngleScale
from limbscribe.core.tardieu.measurement_error import NoFigure
from limbscribe.core.tardieu.reading import Reading

from tests.support.change_cases import (
    ASKED,
    DEFICIT,
    FIGURE,
    GAP_FIGURE,
    NEUTRAL,
    SCALES,
    STRAIGHT,
    reading,
)

LIMITS = ChangeLimits(ASKED, (FIGURE, GAP_FIGURE))
NO_FIGURE = ChangeLimits(ASKED, (), reading_error=5)


def changed(
    before: Reading | None,
    after: Reading | None,
    limits: ChangeLimits = LIMITS,
    short: tuple[int | None, int | None] = (None, None),
) -> StationChange:
    return change_of(before, after, limits, short)


@pytest.mark.parametrize(("old", "new"), [*product(SCALES, SCALES)])
@pytest.mark.parametrize(
    ("then", "now", "pattern", "r1", "r2", "gap"),
    [
        ((-60, -30), (-40, -28), "catch-later", 20, 2, -18),
        ((-45, -30), (-65, -30), "catch-earlier", -20, 0, 20),
        ((-60, -40), (-40, -20), "both-longer", 20, 20, 0),
        ((-40, -20), (-60, -35), "both-shorter", -20, -15, 5),
        ((-60, -40), (-58, -20), "range-longer", 2, 20, 18),
        ((-60, -20), (-60, -40), "range-shorter-gap-shrinks", 0, -20, -20),
        ((-60, -20), (-40, -35), "catch-later-range-shorter", 20, -15, -35),
        ((-40, -38), (-60, -20), "catch-earlier-range-longer", -20, 18, 38),
        ((-60, -30), (-47, -17), "unchanged", 13, 13, 0),
    ],
)
def test_each_pattern_in_three_angle_scales(
    old: AngleScale,
    new: AngleScale,
    then: tuple[int, int],
    now: tuple[int, int],
    pattern: str,
    r1: int,
    r2: int,
    gap: int,
) -> None:
    found = changed(reading(*then, old), reading(*now, new))
    assert found.pattern.id == pattern
    assert (found.r1.change, found.r2.change, found.gap.change) == (r1, r2, gap)
    assert (found.r1.before, found.r1.after) == (then[0], now[0])


def test_a_deficit_that_falls_is_more_stretch() -> None:
    """Popliteal angle typed 60 and 40 deg short of straight: 20 deg more stretch, not less."""
    then = replace(reading(0, 0, DEFICIT), r1=75, r2=60)
    now = replace(reading(0, 0, DEFICIT), r1=50, r2=40)
    found = changed(then, now)
    assert (found.r1.change, found.r2.change, found.gap.change) == (25, 20, -5)
    assert found.pattern.id == "both-longer"
    assert found.pattern.warning == ""


def test_the_same_joint_typed_in_two_scales_is_no_change() -> None:
    """26 short of straight: -26, 26 and 154 are one angle."""
    for one, other in product((-26, 26, 154), repeat=2):
        scales = {-26: NEUTRAL, 26: DEFICIT, 154: STRAIGHT}
        then = replace(reading(None, 0, scales[one]), r2=one)
        now = replace(reading(None, 0, scales[other]), r2=other)
        assert changed(then, now).r2.change == 0


def test_the_verdict_turns_at_the_smallest_detectable_change() -> None:
    """MDC95 of SEM 5 is 13.9, MDC90 11.6."""
    within = changed(reading(-60, -30), reading(-47, -30)).r1
    larger = changed(reading(-60, -30), reading(-46, -30)).r1
    assert (within.change, within.verdict) == (13, "within")
    assert (larger.change, larger.verdict) == (14, "larger")
    assert within.words == "R1 +13 deg: within MDC95 13.9 deg"
    assert larger.words == "R1 +14 deg: larger than MDC95 13.9 deg"
    at_90 = changed(reading(-60, -30), reading(-47, -30), ChangeLimits(ASKED, (FIGURE,), 90)).r1
    assert at_90.words == "R1 +13 deg: larger than MDC90 11.6 deg"


def test_a_closest_figure_is_said_to_be_one() -> None:
    limits = ChangeLimits(replace(ASKED, population="stroke"), (FIGURE,))
    found = changed(reading(-60, -30), reading(-40, -30), limits)
    assert found.r1.words == "R1 +20 deg: larger than MDC95 13.9 deg (other people)"


def test_without_a_figure_there_is_no_pattern() -> None:
    """Two readings of SEM 5 differ by up to root 2 * 5 = 7, two gaps by up to 10."""
    small = changed(reading(-60, -30), reading(-53, -30), NO_FIGURE)
    assert small.r1.verdict == "cannot say"
    assert small.r1.words == "R1 +7 deg: within reading error, no published figure"
    assert small.pattern.id == "no-figure"
    assert small.pattern.words == (
        "catch 7 later (no published figure), range as it was (no published figure)"
    )
    assert small.size is None
    assert isinstance(small.r1.found, NoFigure)
    assert not small.r1.beyond_reading
    large = changed(reading(-60, -30), reading(-52, -30), NO_FIGURE)
    assert large.r1.beyond_reading
    assert large.r1.words == "R1 +8 deg: beyond reading error, no published figure"
    assert not large.gap.beyond_reading
    assert changed(reading(-60, -30), reading(-49, -30), NO_FIGURE).gap.beyond_reading
    assert not changed(reading(-60, -30), reading(-20, -30)).r1.beyond_reading, "it has a figure"


def test_a_pattern_needs_a_figure_of_both_angles() -> None:
    limits = ChangeLimits(ASKED, (replace(FIGURE, quantities=("R2",)),))
    found = changed(reading(-60, -30), reading(-40, -10), limits)
    assert found.pattern.words == "catch 20 later (no published figure), range longer"
    assert found.pattern.basis == "unchanged means: R2 within MDC95 13.9 deg"


def test_the_gap_errs_as_both_angles_do() -> None:
    """Root of 5 * 5 + 5 * 5 is 7.07, times 2.772: 19.6 deg, worked by hand."""
    limits = ChangeLimits(ASKED, (FIGURE,))
    gap = changed(reading(-60, -30), reading(-40, -30), limits).gap
    assert gap.mdc == pytest.approx(19.6, abs=0.05)
    assert (gap.change, gap.verdict) == (-20, "larger")
    alone = ChangeLimits(ASKED, (replace(FIGURE, quantities=("R2",)),))
    assert changed(reading(-60, -30), reading(-40, -30), alone).gap.mdc is None


def test_readings_to_a_step_need_more() -> None:
    """25 + 25 / 12 = 27.08, its root 5.204, times 2.772: 14.4; the gap 20.4; worked by hand."""
    found = changed(
        reading(-60, -30), reading(-45, -30), ChangeLimits(ASKED, (FIGURE,), reading_step=5)
    )
    assert found.r1.mdc == pytest.approx(14.42, abs=0.01)
    assert found.gap.mdc == pytest.approx(20.40, abs=0.01)
    assert LIMITS.reading_step == 1
    assert changed(reading(-60, -30), reading(-45, -30)).r1.mdc == pytest.approx(13.86, abs=0.01)


@pytest.mark.parametrize(
    ("then", "now", "limits", "said"),
    [
        ((-60, -20), (-60, -40), LIMITS, "the gap shrank by 20: catch as it was, range 20 shorter"),
        ((-60, -20), (-48, -35), LIMITS, "the gap shrank by 27: catch 12 later, range 15 shorter"),
        ((-40, -10), (-45, -40), LIMITS, "the gap shrank by 25: catch 5 earlier, range 30 shorter"),
        ((-60, -20), (-40, -35), LIMITS, ""),  # R2 fell by 15, but the catch makes more of it
        ((-60, -20), (-60, -28), LIMITS, ""),  # R2 within its figure
        ((-60, -20), (-40, -20), LIMITS, ""),  # R2 as it was
        ((-40, -20), (-60, -35), LIMITS, ""),  # both shorter, the gap grew
        ((-60, -20), (-60, -50), NO_FIGURE, ""),  # nothing says that R2 fell
    ],
)
def test_a_gap_that_shrinks_mainly_because_r2_fell_is_told_as_that(
    then: tuple[int, int], now: tuple[int, int], limits: ChangeLimits, said: str
) -> None:
    for scale in SCALES:
        assert changed(reading(*then, scale), reading(*now, scale), limits).pattern.warning == said


def test_no_catch_is_no_angle_and_no_gap() -> None:
    gone = changed(reading(-60, -30), reading(None, -30, quality=1))
    assert gone.pattern.id == "catch-gone"
    assert gone.pattern.words == "catch gone (quality 2 then, 1 now), range unchanged"
    assert (gone.r1.change, gone.gap.change, gone.r1.verdict) == (None, None, "cannot say")
    assert gone.r1.words == "R1: no change to report, not there now"
    new = changed(reading(None, -30, quality=0), reading(-60, -50))
    assert (new.pattern.id, new.pattern.words) == (
        "catch-new",
        "catch now, none then, range shorter",
    )
    neither = changed(reading(None, -30, quality=0), reading(None, -10, quality=1))
    assert neither.pattern.words == "no catch then or now, range longer"
    tried = reading(None, -30, quality=None, r1_tries=(None,))
    assert changed(reading(-60, -30), tried).pattern.id == "catch-gone"


def test_what_was_not_measured_is_not_taken_for_no_catch() -> None:
    missing = reading(None, None, quality=None, not_tested="pain")
    found = changed(reading(-60, -30), missing)
    assert found.pattern.id == "fast-not-measured"
    assert found.pattern.words == (
        "fast stretch not measured now (pain), slow range not measured now (pain)"
    )
    no_range = changed(reading(-60, None), reading(-40, -30))
    assert no_range.pattern.words == "catch later, slow range not measured then"
    assert changed(None, reading(-60, -30)).pattern.words == "measured now only"
    assert changed(reading(-60, -30), None).pattern.words == "measured then only"


def test_quality_is_an_order_and_never_a_difference() -> None:
    found = changed(reading(-60, -30, quality=3), reading(-60, -30, quality=2)).quality
    assert (found.words, found.changed) == ("grade 3 to 2", True)
    same = changed(reading(-60, -30), reading(-60, -30)).quality
    assert (same.words, same.changed) == ("grade 2 then and now", False)
    lacking = changed(reading(-60, -30, quality=None), reading(-60, -30)).quality
    assert (lacking.words, lacking.changed) == ("grade not recorded then, 2 now", None)


def test_a_smaller_shortfall_is_more_stretch_and_errs_as_r2_does() -> None:
    found = changed(reading(-60, -30), reading(-60, -15), short=(30, 15)).shortfall
    assert (found.before, found.after, found.change) == (30, 15, 15)
    assert found.words.startswith("shortfall -15 deg: larger"), "in words it is now less then"
    assert found.mdc == pytest.approx(13.859, abs=0.001)
    assert found.verdict == "larger"


def test_size_is_that_of_the_most_changed_of_r1_and_r2() -> None:
    """20 / 13.859 = 1.443 by hand; the gap does not count."""
    found = changed(reading(-60, -30), reading(-50, -50))
    assert found.size == pytest.approx(1.443, abs=0.001)
    assert found.gap.change == -30


def test_an_unfair_difference_is_attached_to_what_it_touches() -> None:
    unfair = {"R1": ("fast velocity: V2 then, V3 now",)}
    found = change_of(reading(-60, -30), reading(-40, -30), LIMITS, unfair=unfair)
    assert found.r1.unfair == ("fast velocity: V2 then, V3 now",)
    assert found.r2.unfair == ()
    assert found.r1.verdict == "larger"
