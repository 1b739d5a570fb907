"""Angle scales: one map for all joints, and what may be typed."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.angles import SCALE_IDS, AngleScale, parse_angle, show_angle
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Reading, Side

# Every scale the program offers, by muscle group.
OFFERED = [
    pytest.param(muscle, scale, id=f"{muscle.id}-{scale.id}")
    for muscle in shipped_muscles().values()
    for scale in muscle.scales
]
scales = st.builds(
    AngleScale, st.sampled_from(SCALE_IDS), st.sampled_from((1, -1)), st.integers(-360, 360)
)
angles = st.integers(-400, 400)


def gap(scale: AngleScale, r1: int | None, r2: int | None) -> int | None:
    """The gap of a reading typed in a scale."""
    return Reading("soleus", Side.LEFT, "", scale, r1=r1, r2=r2).gap


def offered(muscle: str, scale: str) -> AngleScale:
    return shipped_muscles()[muscle].scale(scale)


@given(scales, angles)
def test_going_to_the_stretch_angle_and_back_changes_nothing(scale: AngleScale, angle: int):
    assert scale.typed(scale.stretch(angle)) == angle
    assert scale.stretch(scale.typed(angle)) == angle


@given(scales, angles, angles)
def test_gap_is_the_same_in_every_scale(scale: AngleScale, r1: int, r2: int):
    """r1 and r2 are stretch angles here; typed in any scale they give r2 - r1."""
    assert gap(scale, scale.typed(r1), scale.typed(r2)) == r2 - r1


@given(scales, angles, angles)
def test_more_stretch_is_larger_in_every_scale(scale: AngleScale, a: int, b: int):
    assume(a != b)
    assert (scale.stretch(a) > scale.stretch(b)) == ((a > b) == (scale.slope == 1))


@pytest.mark.parametrize(("muscle", "scale"), OFFERED)
def test_shipped_scales_agree_on_one_pair_of_readings(muscle, scale):
    slow, fast = muscle.high - 40, muscle.high - 65
    assert gap(scale, scale.typed(fast), scale.typed(slow)) == 25


@given(st.integers(0, 170), st.integers(0, 170))
def test_deficit_form_gives_no_negative_gap_for_possible_readings(r1: int, r2: int):
    """Possible: the catch leaves the knee at least as many degrees short as the slow range."""
    assume(r1 >= r2)
    found = gap(offered("hamstrings", "deficit"), r1, r2)
    assert found is not None
    assert found >= 0


@pytest.mark.parametrize(
    ("muscle", "scale", "r1", "r2", "expected"),
    [
        # common practice, no published source
        ("elbow-flexors", "straight-180", 120, 180, 60),
        ("hamstrings", "neutral-zero", -45, -10, 35),
        ("hamstrings", "deficit", 45, 10, 35),
        ("hamstrings", "straight-180", 135, 170, 35),
        ("hamstrings", "minimal-stretch", 135, 170, 35),
        ("gastrocnemius", "neutral-zero", -15, 5, 20),
        ("gastrocnemius", "plantigrade-90", 105, 85, 20),
        ("knee-extensors", "straight-180", 110, 60, 50),
    ],
)
def test_gap_of_known_readings(muscle: str, scale: str, r1: int, r2: int, expected: int):
    assert gap(offered(muscle, scale), r1, r2) == expected


@pytest.mark.parametrize(("r1", "r2"), [(None, 10), (10, None), (None, None)])
def test_gap_without_a_catch_or_slow_range_is_undefined_not_zero(r1, r2):
    assert gap(offered("soleus", "neutral-zero"), r1, r2) is None


@pytest.mark.parametrize(
    ("deficit", "included"),
    [
        (26, 154),  # Katz, Rosenthal and Yosipovitch 1992: mean popliteal angle 26 from 5 years
        (25, 155),  # Kuo 1997: hamstring index about 155 by 6 years
        (55, 125),  # Kuo 1997: below 125 is called tight
        (0, 180),  # Kuo 1997: 180 until 2 years
    ],
)
def test_one_knee_has_one_stretch_angle_however_it_is_written(deficit: int, included: int):
    stretch = offered("hamstrings", "deficit").stretch(deficit)
    assert stretch == -deficit
    assert offered("hamstrings", "straight-180").stretch(included) == stretch
    assert offered("hamstrings", "neutral-zero").stretch(-deficit) == stretch


@pytest.mark.parametrize(
    ("muscle", "typed", "stretch"),
    [
        # conversions: common practice, no published source
        ("soleus", 80, 10),
        ("gastrocnemius", 90, 0),
        ("gastrocnemius", 100, -10),
    ],
)
def test_ankle_angle_falls_as_dorsiflexion_rises(muscle: str, typed: int, stretch: int):
    assert offered(muscle, "plantigrade-90").stretch(typed) == stretch


@pytest.mark.parametrize("slope", [0, 2, -2])
def test_a_scale_that_stretches_the_degrees_is_refused(slope: int):
    with pytest.raises(ValueError, match="slope"):
        AngleScale("deficit", slope, 0)


@pytest.mark.parametrize(
    ("text", "angle"), [("0", 0), ("-0", 0), ("007", 7), ("-35", -35), ("180", 180), ("-999", -999)]
)
def test_whole_numbers_are_read(text: str, angle: int):
    assert parse_angle(text) == angle
    assert show_angle(angle) == str(angle)
    assert not show_angle(parse_angle("-0")).startswith("-")


@pytest.mark.parametrize(
    "text",
    [
        *("", "-", "--5", "5-", "+5", "1e2", "1_0", "1234", "-1234", "3.0", "3,5", "0x1"),
        *(" 5", "5 ", "5\n", "1 0", "abc", "\u221235", "26\u00b0"),
        "\uff11\uff10",  # full-width 10
        "\u0664\u0665",  # Arabic-Indic 45
        "\u00b2",  # superscript two
    ],
)
def test_anything_else_is_refused_and_told_how_to_mend(text: str):
    found = parse_angle(text)
    assert isinstance(found, Problem)
    assert repr(text) in found.what
    assert found.mend


@given(st.text(max_size=5))
def test_parse_angle_takes_only_what_show_angle_could_have_written(text: str):
    found = parse_angle(text)
    if isinstance(found, int):
        digits = text.removeprefix("-").lstrip("0") or "0"
        sign = "-" if text.startswith("-") and digits != "0" else ""
        assert show_angle(found) == sign + digits


@given(st.integers(-999, 999))
def test_shown_angles_read_back(angle: int):
    assert parse_angle(show_angle(angle)) == angle


def test_an_absent_angle_shows_nothing():
    assert show_angle(None) == ""
