"""Every rule of the checks, on both sides of its boundary.

The grades and the 10 s of clonus: Held and Pierrot-Deseilligny 1969 and Boyd and Graham 1999,
as quoted in the NINDS common data elements C11964 to C11966. The other boundaries are the
project's own: common practice, no published source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.tardieu.checks import RULES, CheckContext, Limits, check_reading, slip_of
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

from tests.support.stations import DEFICIT, NEUTRAL, STRAIGHT, reference

MUSCLES = shipped_muscles()


def reading(muscle="soleus", side=Side.LEFT, scale=NEUTRAL, **values) -> Reading:
    values.setdefault("quality", 2 if values.get("r1") is not None else 0)
    values.setdefault("r1_tries", (values.get("r1"),))
    return Reading(muscle, side, "supine", scale, **values)


def rules(one: Reading, whole: bool = True, **context) -> list[str]:
    return [
        flag.rule
        for flag in check_reading(one, CheckContext(MUSCLES[one.muscle], **context), whole)
    ]


# Impossible ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("scale", "r1", "r2", "flagged"),
    [
        (NEUTRAL, 20, 20, False),
        (NEUTRAL, 27, 20, False),
        (NEUTRAL, 28, 20, True),
        (DEFICIT, 20, 20, False),
        (DEFICIT, 13, 20, False),
        (DEFICIT, 12, 20, True),
        (DEFICIT, 21, 20, False),
        (STRAIGHT, 160, 160, False),
        (STRAIGHT, 167, 160, False),
        (STRAIGHT, 168, 160, True),
    ],
)
def test_catch_beyond_slow_range_is_one_rule_in_every_scale(scale, r1, r2, flagged):
    muscle = "soleus" if scale is NEUTRAL else "hamstrings"
    found = rules(reading(muscle, scale=scale, r1=r1, r2=r2))
    assert ("r1-beyond-r2" in found) is flagged
    assert ("r1-past-r2" in found) is (not flagged and scale.slope * (r1 - r2) > 0)


@pytest.mark.parametrize(
    ("error", "most"), [(1, 1), (2, 3), (3, 4), (4, 6), (5, 7), (7, 10), (10, 14)]
)
def test_the_error_of_two_readings_asks_and_more_is_impossible(error, most):
    """Errors of independent readings add by their squares: the root of two times that of one."""
    context = CheckContext(MUSCLES["soleus"], Limits(reading_error=error))
    assert context.limits.two_readings == most
    [asked] = check_reading(reading(r1=5 + most, r2=5), context)
    assert (asked.rule, asked.level) == ("r1-past-r2", "unlikely")
    assert f"lies {most} deg beyond R2 5; two readings differ by up to {most} deg" in asked.text
    [stopped] = check_reading(reading(r1=6 + most, r2=5), context)
    assert (stopped.rule, stopped.level) == ("r1-beyond-r2", "impossible")
    assert check_reading(reading(r1=5, r2=5), context) == ()


def test_v2_catch_later_than_r2_is_impossible_too():
    assert "r1-beyond-r2" in rules(
        reading("elbow-flexors", r1=-2, r2=-10, fast_velocity="V2", scale=NEUTRAL)
    )


@pytest.mark.parametrize(
    ("quality", "flagged"), [(1, False), (2, True), (3, True), (4, True), (5, False)]
)
def test_grades_2_to_4_need_a_catch(quality, flagged):
    assert ("catch-missing" in rules(reading(r2=20, quality=quality))) is flagged
    answered = reading(r2=20, quality=quality, r1_tries=())
    assert "catch-missing" not in rules(answered), "R1 was not asked for yet"


@pytest.mark.parametrize(("quality", "flagged"), [(0, True), (1, True), (2, False), (5, False)])
def test_grades_0_and_1_have_no_catch(quality, flagged):
    assert ("catch-unexpected" in rules(reading(r1=20, r2=20, quality=quality))) is flagged


@pytest.mark.parametrize(("r1", "flagged"), [(20, False), (19, True), (None, False)])
def test_grade_5_with_two_angles(r1, flagged):
    assert ("fixed-two-angles" in rules(reading(r1=r1, r2=20, quality=5))) is flagged


@pytest.mark.parametrize("muscle", MUSCLES)
def test_hard_limits_of_every_muscle(muscle):
    found = MUSCLES[muscle]
    for scale in found.scales:
        for typed, flagged in (
            (scale.typed(found.low), False),
            (scale.typed(found.low - 1), True),
            (scale.typed(found.high), False),
            (scale.typed(found.high + 1), True),
        ):
            one = reading(muscle, scale=scale, r2=typed)
            assert ("outside-joint" in rules(one)) is flagged
            catch = reading(muscle, scale=scale, r1=typed)
            assert ("outside-joint" in rules(catch)) is flagged


@pytest.mark.parametrize(
    ("quality", "seconds", "rule"),
    [
        (3, 9, None),
        (3, 10, "clonus-ten"),
        (3, 11, "clonus-too-long"),
        (4, 9, "clonus-too-short"),
        (4, 10, "clonus-ten"),
        (4, 11, None),
        (2, 11, None),
    ],
)
def test_clonus_and_grade(quality, seconds, rule):
    found = rules(reading(r1=5, r2=20, quality=quality, clonus_s=seconds))
    assert found == ([rule] if rule else [])


# Unlikely -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("r2", "flagged"), [(27, False), (28, True), (-17, False), (-18, True)])
def test_big_change_since_last_time(r2, flagged):
    """Last time 5: 22 deg either way is let pass."""
    last = reading(r2=5)
    found = rules(reading(r2=r2), last=last, limits=Limits(reading_error=13))
    assert ("big-change" in found) is flagged


def test_last_time_in_another_scale_is_converted():
    last = reading("hamstrings", scale=STRAIGHT, r2=140)
    assert rules(reading("hamstrings", scale=DEFICIT, r2=41), last=last) == []
    assert rules(reading("hamstrings", scale=DEFICIT, r2=66), last=last) == ["big-change"]


@pytest.mark.parametrize(
    ("then", "now", "flagged"),
    [
        (8, -8, True),
        (8, -7, False),
        (5, 21, False),
        (0, -16, False),
        (11, -6, True),
        (12, -6, False),
        (-20, 25, True),
        (-20, 26, False),
    ],
)
def test_sign_opposite_to_last_time(then, now, flagged):
    """More than three reading errors apart, but no more than one apart without the sign."""
    assert ("sign-opposite" in rules(reading(r2=now), last=reading(r2=then))) is flagged


@pytest.mark.parametrize(
    ("then", "now", "slip"),
    [
        (45, 4, "a dropped digit"),
        (45, 5, "a dropped digit"),
        (45, 6, ""),
        (15, 115, "a doubled digit"),
        (15, 155, "a doubled digit"),
        (15, 145, ""),
        (27, 72, "two digits swapped"),
        (27, 73, ""),
        (120, 102, "two digits swapped"),
        (120, 210, "two digits swapped"),
        (33, 33, ""),
        (33, 3, "a dropped digit"),
        (-27, -72, "two digits swapped"),
    ],
)
def test_slips_of_the_keys(then, now, slip):
    assert slip_of(now, then) == slip


@pytest.mark.parametrize(
    ("then", "now", "flagged"),
    [(12, 21, False), (13, 31, True), (17, 2, False), (17, 1, True)],
)
def test_slip_speaks_only_beyond_three_reading_errors(then, now, flagged):
    found = rules(reading(r2=now), last=reading(r2=then))
    assert ("slip" in found) is flagged


@pytest.mark.parametrize(("r2", "flagged"), [(30, False), (31, True)])
def test_beyond_reference_and_two_sd(r2, flagged):
    assert ("beyond-reference" in rules(reading(r2=r2), reference=reference())) is flagged
    assert "beyond-reference" not in rules(reading(r2=r2), reference=reference(sd=None))


@pytest.mark.parametrize(("sd", "r2", "flagged"), [(3, 35, False), (3, 36, True), (1.5, 28, True)])
def test_a_clinic_sets_how_far_beyond_the_reference(sd, r2, flagged):
    limits = Limits(reference_sd=sd)
    found = check_reading(
        reading(r2=r2), CheckContext(MUSCLES["soleus"], limits=limits, reference=reference())
    )
    found = tuple(flag for flag in found if flag.rule != "sign-missing")
    assert ["beyond-reference"] * flagged == [flag.rule for flag in found]
    assert all(f"more than {sd} SD" in flag.text for flag in found)


@pytest.mark.parametrize(
    ("r1", "r2", "told"),
    [
        ((5, -10), (20,), None),
        ((5, -11), (20,), "R1 tries 5 and -11 are 16 deg apart"),
        ((-11, 5), (20,), "R1 tries -11 and 5 are 16 deg apart"),
        ((5, None, -11), (20,), "R1 tries 5 and -11 are 16 deg apart"),
        ((5, None), (20,), None),
        ((5,), (20, 35), None),
        ((5,), (20, 28, 36), "R2 tries 20 and 36 are 16 deg apart"),
    ],
)
def test_tries_apart(r1, r2, told):
    """Three reading errors, 15 deg, are let pass; both tries are named in their order."""
    one = reading(r1=r1[0], r2=r2[0], r1_tries=r1, r2_tries=r2)
    found = check_reading(one, CheckContext(MUSCLES["soleus"]))
    assert [flag.text for flag in found] == ([told] if told else [])
    assert all((flag.rule, flag.level) == ("tries-apart", "unlikely") for flag in found)
    wider = CheckContext(MUSCLES["soleus"], Limits(reading_error=6))
    assert check_reading(one, wider) == ()


@given(st.lists(st.integers(-30, 40), min_size=1, max_size=5), st.integers(1, 12))
def test_tries_apart_says_the_widest_pair_in_any_order(tries, error):
    one = reading(quality=1, r2=tries[0], r2_tries=tuple(tries))
    context = CheckContext(MUSCLES["soleus"], Limits(reading_error=error))
    found = [flag for flag in check_reading(one, context) if flag.rule == "tries-apart"]
    apart = max(tries) - min(tries)
    assert bool(found) is (apart > 3 * error)
    assert all(f"{apart} deg apart" in flag.text for flag in found)


@given(st.lists(st.integers(-30, 40), min_size=1, max_size=3), st.sampled_from((1, 2, 5, 10)))
def test_an_angle_between_the_steps_that_are_read_is_asked_about(tries, step):
    one = reading(quality=1, r2=tries[0], r2_tries=tuple(tries))
    context = CheckContext(MUSCLES["soleus"], Limits(reading_step=step))
    found = [flag for flag in check_reading(one, context) if flag.rule == "between-steps"]
    between = [angle for angle in tries if angle not in range(-30, 41, step)]
    assert [flag.text for flag in found] == [
        f"R2 {angle}: angles are read to {step} deg here" for angle in between[-1:]
    ]


@pytest.mark.parametrize(("v2", "flagged"), [(-40, False), (-41, True)])
def test_v2_catch_earlier_than_v3_catch(v2, flagged):
    v3 = reading("elbow-flexors", r1=-40, r2=-10)
    slow = reading("elbow-flexors", r1=v2, r2=-10, fast_velocity="V2")
    assert ("v2-order" in rules(slow, other_velocity=v3)) is flagged
    assert ("v2-order" in rules(v3, other_velocity=slow)) is flagged


def test_v2_order_says_by_how_much():
    v3 = reading("elbow-flexors", r1=-40, r2=-10)
    v2 = reading("elbow-flexors", r1=-43, r2=-10, fast_velocity="V2")
    for one, other in ((v2, v3), (v3, v2)):
        context = CheckContext(MUSCLES["elbow-flexors"], other_velocity=other)
        [flag] = [flag for flag in check_reading(one, context) if flag.rule == "v2-order"]
        assert flag.text == "the V2 catch comes 3 deg earlier than the V3 catch"


@pytest.mark.parametrize("muscle", MUSCLES)
def test_v2_only_where_gravity_stretches(muscle):
    found = rules(reading(muscle, scale=MUSCLES[muscle].scale(), r2=0, fast_velocity="V2"))
    assert ("v2-no-gravity" in found) is not MUSCLES[muscle].gravity


@pytest.mark.parametrize(
    ("r1", "r2", "quality", "flagged"),
    [(5, 20, 2, True), (6, 20, 2, False), (5, 21, 2, False), (5, 20, 3, False)],
)
def test_both_sides_equal_in_every_field(r1, r2, quality, flagged):
    other = reading(side=Side.RIGHT, r1=5, r2=20, quality=2)
    mine = reading(r1=r1, r2=r2, quality=quality)
    assert ("sides-equal" in rules(mine, other_side=other)) is flagged
    assert "sides-equal" not in rules(mine, whole=False, other_side=other)


def test_sides_equal_needs_a_catch():
    """Two sides without a catch and with one range are nothing unusual."""
    other = reading(side=Side.RIGHT, r2=20)
    assert rules(reading(r2=20), other_side=other) == []


@pytest.mark.parametrize(
    ("left", "right", "flagged"),
    [
        ((2, 25), (-20, 5), True),  # each as the other was
        ((12, 35), (-10, 15), True),  # all 10 deg further, still much nearer to the other
        ((-9, 15), (-9, 15), False),  # half-way between
        ((-20, 5), (2, 25), False),  # as last time
    ],
)
def test_sides_swapped_against_last_time(left, right, flagged):
    last_left = reading(r1=-20, r2=5)
    last_right = reading(side=Side.RIGHT, r1=2, r2=25)
    found = rules(
        reading(side=Side.RIGHT, r1=right[0], r2=right[1]),
        last=last_right,
        other_side=reading(r1=left[0], r2=left[1]),
        other_side_last=last_left,
        limits=Limits(change=180),
    )
    assert ("sides-swapped" in found) is flagged


def test_sides_alike_last_time_cannot_be_swapped():
    """By one field alike otherwise: 2 * 11 ** 2 is less than ten squared reading errors, 250."""
    for apart, flagged in ((11, False), (12, True)):
        last_left, last_right = reading(r2=5), reading(side=Side.RIGHT, r2=5 + apart)
        found = rules(
            reading(side=Side.RIGHT, r2=5),
            last=last_right,
            other_side=reading(r2=5 + apart),
            other_side_last=last_left,
        )
        assert ("sides-swapped" in found) is flagged


@pytest.mark.parametrize(
    ("now", "then", "error", "flagged"),
    [(25, 5, 5, False), (14, 9, 5, True), (20, 9, 6, False), (26, 7, 6, True)],
)
def test_sides_swapped_begins_above_ten_squared_reading_errors(now, then, error, flagged):
    """The sums differ by 2 * now * then: 250, 252, 360 and 364, against 250 and 360."""
    found = rules(
        reading(side=Side.RIGHT, r2=0),
        last=reading(side=Side.RIGHT, r2=then),
        other_side=reading(r2=now),
        other_side_last=reading(r2=0),
        limits=Limits(reading_error=error, change=180),
    )
    assert ("sides-swapped" in found) is flagged


def test_one_side_without_a_catch_is_compared_by_its_slow_range_only():
    """The catch of the other side moved, but no field tells that the sides were swapped."""
    found = rules(
        reading(side=Side.RIGHT, r1=-9, r2=20),
        last=reading(side=Side.RIGHT, r1=-20, r2=20),
        other_side=reading(r2=21),
        other_side_last=reading(r2=21),
    )
    assert found == []


# In general ---------------------------------------------------------------------------------


FIRST = {"hardly-stretched", "wide-gap", "other-row"}


def first_asked(muscle: str, scale: str, r1: int | None, r2: int | None, **context) -> list[str]:
    """What of a first visit's values is asked about as such."""
    one = reading(muscle, scale=MUSCLES[muscle].scale(scale), r1=r1, r2=r2)
    return [rule for rule in rules(one, **context) if rule in FIRST]


@pytest.mark.parametrize("muscle", [m.id for m in MUSCLES.values() if "straight-180" in str(m)])
def test_a_first_slow_range_on_the_other_row_of_the_dial_is_asked_about(muscle: str):
    """Read on the wrong end: 10 for 170. In the middle both rows show what can be honest."""
    joint, scale = MUSCLES[muscle], MUSCLES[muscle].scale("straight-180")
    quarter = joint.low + (joint.high - joint.low) / 4
    for truth in range(0, 181, 5):
        typed, meant = scale.stretch(180 - truth), scale.stretch(truth)
        asked = first_asked(muscle, "straight-180", None, 180 - truth)
        assert asked == (["hardly-stretched"] if typed < quarter <= meant else []), truth
    assert first_asked("elbow-flexors", "straight-180", None, 10) == ["hardly-stretched"]
    assert first_asked("elbow-flexors", "straight-180", None, 59) == ["hardly-stretched"]
    assert first_asked("elbow-flexors", "straight-180", None, 60) == []


@pytest.mark.parametrize(
    ("scale", "typed"),
    [("neutral-zero", -160), ("deficit", 160), ("minimal-stretch", 20), ("straight-180", 15)],
)
def test_a_first_slow_range_is_asked_about_alike_on_every_scale(scale: str, typed: int):
    assert first_asked("elbow-flexors", scale, None, typed) == ["hardly-stretched"]


@pytest.mark.parametrize(
    ("muscle", "scale", "r2"),
    [("finger-flexors", "neutral-zero", -90), ("finger-flexors", "deficit", 90)],
)
def test_a_clenched_fist_is_not_asked_about(muscle: str, scale: str, r2: int):
    assert first_asked(muscle, scale, None, r2) == []


@pytest.mark.parametrize(
    ("r1", "r2", "asked"), [(70, 170, False), (69, 170, True), (14, 150, True), (40, 40, False)]
)
def test_a_first_catch_far_before_the_slow_range_is_asked_about(r1: int, r2: int, asked: bool):
    assert ("wide-gap" in first_asked("elbow-flexors", "straight-180", r1, r2)) == asked


@pytest.mark.parametrize(
    ("muscle", "scale", "r2", "asked"),
    [
        ("hip-adductors", "dial-90", 130, False),
        ("hip-adductors", "dial-90", 50, True),
        ("hip-adductors", "dial-90", 60, True),
        ("hip-adductors", "dial-90", 71, False),
        ("soleus", "plantigrade-90", 80, False),
        ("soleus", "plantigrade-90", 60, True),
        ("tibialis-anterior", "plantigrade-90", 55, True),
    ],
)
def test_the_other_row_where_zero_is_90(muscle: str, scale: str, r2: int, asked: bool):
    assert first_asked(muscle, scale, None, r2) == (["other-row"] if asked else [])


def test_first_values_are_compared_with_the_last_ones_where_there_are_any():
    scale = MUSCLES["elbow-flexors"].scale("straight-180")
    before = reading("elbow-flexors", scale=scale, r1=15, r2=150)
    assert first_asked("elbow-flexors", "straight-180", 15, 150, last=before) == []
    without = reading("elbow-flexors", scale=scale, r2=150)
    assert first_asked("elbow-flexors", "straight-180", 15, 150, last=without) == ["wide-gap"]
    assert first_asked("elbow-flexors", "straight-180", None, 15, last=without) == []


def test_impossible_comes_first_and_levels_are_those_of_the_rules():
    last = reading(r1=-40, r2=-30)
    found = check_reading(reading(r1=48, r2=40), CheckContext(MUSCLES["soleus"], last=last))
    levels = [flag.level for flag in found]
    assert levels == sorted(levels)
    assert levels[0] == "impossible"
    assert {flag.rule for flag in found} <= set(RULES)


angles = st.none() | st.integers(-400, 400)


@given(angles, angles, st.none() | st.integers(0, 5), st.none() | st.integers(0, 60))
def test_any_partial_reading_can_be_checked(r1, r2, quality, clonus):
    one = replace(reading(r1=r1, r2=r2), quality=quality, clonus_s=clonus)
    for flag in check_reading(one, CheckContext(MUSCLES["soleus"], last=one, other_side=one)):
        assert flag.text
        assert RULES[flag.rule][0] == flag.level
