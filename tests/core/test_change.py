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

from .change_cases import (
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
        ((-60, -20), (-40, -35), "range-shorter-gap-shrinks", 20, -15, -35),
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
    assert found.r1.words == "R1 +20 deg: larger than MDC95 13.9 deg, closest figure"


def test_without_a_figure_nothing_is_said_and_unchanged_means_the_reading_error() -> None:
    small = changed(reading(-60, -30), reading(-55, -30), NO_FIGURE)
    assert small.r1.verdict == "cannot say"
    assert small.r1.words == "R1 +5 deg: cannot say, no figure"
    assert small.pattern.id == "unchanged"
    assert "reading error of 5 deg, there is no MDC" in small.pattern.basis
    assert changed(reading(-60, -30), reading(-54, -30), NO_FIGURE).pattern.id == "catch-later"
    assert small.size is None
    assert isinstance(small.r1.found, NoFigure)


def test_what_unchanged_means_is_said_for_each_angle() -> None:
    limits = ChangeLimits(ASKED, (replace(FIGURE, quantities=("R2",)),))
    found = changed(reading(-60, -30), reading(-57, -30), limits)
    assert found.pattern.basis == (
        "unchanged means: R1 within the reading error of 5 deg, there is no MDC; "
        "R2 within MDC95 13.9 deg"
    )


@pytest.mark.parametrize(
    ("then", "now", "limits", "warned"),
    [
        ((-60, -20), (-60, -40), LIMITS, True),  # R2 fell by 20, the gap by 20
        ((-60, -20), (-40, -35), LIMITS, True),  # R2 fell by 15 and R1 rose by 20
        ((-60, -20), (-60, -28), LIMITS, True),  # within the MDC, beyond the reading error
        ((-60, -20), (-60, -24), LIMITS, False),  # 4 deg: the reading alone
        ((-60, -20), (-30, -28), LIMITS, False),  # mainly the catch, R2 within its MDC
        ((-60, -20), (-40, -20), LIMITS, False),  # R2 as it was
        ((-40, -20), (-60, -35), LIMITS, False),  # both shorter, the gap grew
        ((-40, -10), (-55, -40), LIMITS, True),  # both shorter and the gap shrank
        ((-60, -20), (-60, -26), NO_FIGURE, True),
        ((-60, -20), (-60, -25), NO_FIGURE, False),
    ],
)
def test_a_gap_that_shrinks_as_r2_falls_is_warned_of(
    then: tuple[int, int], now: tuple[int, int], limits: ChangeLimits, warned: bool
) -> None:
    for scale in SCALES:
        warning = changed(reading(*then, scale), reading(*now, scale), limits).pattern.warning
        assert ("not an improvement" in warning) is warned


def test_the_warning_tells_both_figures_and_what_it_rests_on() -> None:
    large = changed(reading(-60, -20), reading(-60, -40)).pattern
    assert large.words == "range shorter while the gap shrinks, catch unchanged"
    assert large.warning == "the gap is 20 deg smaller while R2 fell by 20: not an improvement"
    small = changed(reading(-60, -20), reading(-60, -28)).pattern
    assert small.warning.endswith("not an improvement (R2 within MDC95 13.9 deg)")


def test_no_catch_is_no_angle_and_no_gap() -> None:
    gone = changed(reading(-60, -30), reading(None, -30, quality=1))
    assert gone.pattern.id == "no-catch-now"
    assert gone.pattern.words == "no catch now, one then, range unchanged"
    assert (gone.r1.change, gone.gap.change, gone.r1.verdict) == (None, None, "cannot say")
    assert gone.r1.words == "R1: no change to tell, not there now"
    new = changed(reading(None, -30, quality=0), reading(-60, -50))
    assert (new.pattern.id, new.pattern.words) == (
        "no-catch-then",
        "catch now, none then, range shorter",
    )
    neither = changed(reading(None, -30, quality=0), reading(None, -10, quality=1))
    assert neither.pattern.words == "no catch then or now, range longer"
    tried = reading(None, -30, quality=None, r1_tries=(None,))
    assert changed(reading(-60, -30), tried).pattern.id == "no-catch-now"


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
