"""The fall: against published figures, against scipy, and against the laws it must obey."""

from __future__ import annotations

from math import cos, pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.fall import Arc, Fall, fall, fall_of_muscle, share_of_arc
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.segments import combined, shipped_segments
from scipy.integrate import solve_ivp
from scipy.special import ellipk, ellipkinc, ellipkm1

SEGMENTS = tuple(shipped_segments().segments)
TABLES = tuple(shipped_segments().tables)


def arc(start: float, end: float) -> Arc:
    """The fall of a hand, made free of its size."""
    one = fell("hand", "winter", start, end, height_m=1.7)
    speeds = (one.end_speed_deg_s, one.mean_speed_deg_s, one.peak_speed_deg_s)
    return Arc(one.time_s * one.w0_rad_s, *(radians(speed) / one.w0_rad_s for speed in speeds))


def fell(*given: object, **lengths: float) -> Fall:
    found = fall(*given, **lengths)  # type: ignore[arg-type]
    assert isinstance(found, Fall), found
    return found


# The pendulum -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("start", "end", "time", "speed", "mean"),
    [
        (90, 0, 1.854074677, 1.414213562, 0.847213085),
        (90, 30, 1.474941541, 1.316074013, 0.709992581),
        (90, 60, 1.028056801, 1.000000000, 0.509309189),
        (60, 0, 1.685750355, 1.000000000, 0.621205594),
    ],
)
def test_dimensionless_values(start, end, time, speed, mean):
    """Worked out beforehand with other means: elliptic integrals, time also by an ODE."""
    found = arc(start, end)
    assert found.time == pytest.approx(time, abs=1e-8)
    assert found.end == pytest.approx(speed, abs=1e-8)
    assert found.mean == pytest.approx(mean, abs=1e-8)


@pytest.mark.parametrize(
    ("start", "ratio"),
    [
        (10, 1.001907),
        (30, 1.017409),
        (45, 1.039973),
        (60, 1.073182),
        (90, 1.180341),
        (120, 1.372881),
        (150, 1.762204),
        (170, 2.439363),
    ],
)
def test_period_grows_with_the_amplitude(start, ratio):
    """A quarter of the period is the fall to the vertical."""
    assert arc(start, 0).time * 4 / (2 * pi) == pytest.approx(ratio, abs=6e-7)


@given(st.floats(0.01, 1.0), st.floats(0.0, 0.9))
def test_small_swings_are_harmonic(start, share):
    """To second order of the amplitude: time is arccos of the share, speed its sine."""
    found = arc(start, start * share)
    slack = radians(start) ** 2
    assert found.time == pytest.approx(np.arccos(share), rel=slack + 1e-9)
    assert found.end == pytest.approx(radians(start) * np.sqrt(1 - share**2), rel=slack + 1e-9)


@given(st.floats(0.1, 179.99), st.floats(-0.98, 0.98))
def test_time_is_the_elliptic_integral(start, share):
    """SciPy's own, at its own accuracy: it takes m and loses digits where m nears 1."""
    end = start * share
    m = np.sin(radians(start) / 2) ** 2
    phi = np.arcsin(np.sin(radians(end) / 2) / np.sin(radians(start) / 2))
    rest = np.cos(radians(start) / 2) ** 2
    expected = ellipkm1(rest) - ellipkinc(phi, m)
    assert arc(start, end).time == pytest.approx(expected, rel=1e-12 + 1e-16 / rest)


@given(st.floats(0.1, 179.99999))
def test_time_to_the_vertical_is_exact_up_to_the_top(start):
    """With 1 - m given apart, SciPy keeps its digits there too."""
    expected = ellipkm1(np.cos(radians(start) / 2) ** 2)
    assert arc(start, 0).time == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("start", [5, 60, 90, 130, 170, 179])
@pytest.mark.parametrize("share", [0.9, 0.4, 0.0, -0.5])
def test_against_the_equation_of_motion(start, share):
    """Integrated step by step, the pendulum reaches the same angle and speed at that time."""
    end = start * share
    found = arc(start, end)
    solved = solve_ivp(
        lambda _, y: [y[1], -np.sin(y[0])],
        (0, found.time),
        [radians(start), 0.0],
        method="DOP853",
        rtol=1e-12,
        atol=1e-13,
    )
    assert solved.y[0][-1] == pytest.approx(radians(end), abs=1e-6)
    assert -solved.y[1][-1] == pytest.approx(found.end, abs=1e-6)


@given(st.floats(1, 179.9), st.floats(-0.99, 0.99))
def test_energy_is_kept(start, share):
    """What is lost in height is there in speed; the peak is at the lowest point passed."""
    end = start * share
    found = arc(start, end)
    assert found.end**2 / 2 == pytest.approx(
        cos(radians(end)) - cos(radians(start)), rel=1e-9, abs=1e-12
    )
    lowest = cos(radians(max(0.0, end)))
    assert found.peak**2 / 2 == pytest.approx(lowest - cos(radians(start)), rel=1e-9, abs=1e-12)
    assert found.mean == pytest.approx(radians(start - end) / found.time, rel=1e-12)
    assert 0 < found.mean < found.peak


@given(st.floats(2, 179), st.floats(0.1, 0.9), st.floats(0.1, 0.9))
def test_a_longer_arc_takes_longer(start, one, two):
    nearer, further = sorted((start * one, start * two), reverse=True)
    assert arc(start, further).time >= arc(start, nearer).time


@pytest.mark.parametrize(("start", "end"), [(170, 90), (90, 0), (60, -30)])
def test_share_of_the_arc_follows_the_fall(start, end):
    """Half of the time is less than half of the way, and the way back gives the time."""
    shares = [share_of_arc(start, end, share) for share in (0, 0.25, 0.5, 0.75, 1)]
    assert shares == sorted(shares)
    assert shares[0] == pytest.approx(0, abs=1e-9)
    assert shares[-1] == pytest.approx(1)
    assert shares[2] < 0.5
    half = arc(start, start + (end - start) * shares[2]).time
    assert half == pytest.approx(arc(start, end).time / 2, rel=1e-6)


# Segments ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("segment", "length", "w0", "peak", "mean", "time", "to_45"),
    [
        ("forearm-hand", 0.248, 6.278, 509, 305, 0.295, 428),
        ("leg-foot", 0.418, 5.130, 416, 249, 0.361, 350),
        ("whole-arm", 0.564, 4.706, 381, 228, 0.394, 321),
        ("whole-leg", 0.835, 4.093, 332, 199, 0.453, 279),
    ],
)
def test_winter_at_a_height_of_170(segment, length, w0, peak, mean, time, to_45):
    """Worked out beforehand from Winter's rows; lengths as in second-hand copies."""
    found = fell(segment, "winter", 90, 0, height_m=1.70)
    assert found.length_m == pytest.approx(length, abs=6e-4)
    assert found.w0_rad_s == pytest.approx(w0, abs=6e-4)
    assert found.end_speed_deg_s == pytest.approx(peak, abs=0.6)
    assert found.mean_speed_deg_s == pytest.approx(mean, abs=0.6)
    assert found.time_s == pytest.approx(time, abs=6e-4)
    half = fell(segment, "winter", 90, 45, height_m=1.70)
    assert half.end_speed_deg_s == pytest.approx(to_45, abs=0.6)


@pytest.mark.parametrize(
    ("muscle", "start", "end", "w0t", "ratio", "time", "speed", "mean"),
    [
        ("elbow-flexors", -130, -30, 2.015807, 1.737132, 0.321, 625, 311),
        ("elbow-flexors", -130, -60, 1.695419, 1.511812, 0.270, 544, 259),
        ("knee-extensors", 10, 90, 2.945975, 1.403430, 0.574, 413, 139),
        ("knee-extensors", 30, 120, 2.197175, 1.652892, 0.428, 486, 210),
    ],
)
def test_the_two_classical_tests(muscle, start, end, w0t, ratio, time, speed, mean):
    """Joint angles on the muscle's own axis: extension of the elbow, flexion of the knee."""
    found = fall_of_muscle(muscle, "winter", start, end, height_m=1.70)
    assert isinstance(found, Fall)
    assert found.time_s * found.w0_rad_s == pytest.approx(w0t, abs=6e-7)
    assert radians(found.end_speed_deg_s) / found.w0_rad_s == pytest.approx(ratio, abs=6e-7)
    assert found.time_s == pytest.approx(time, abs=6e-4)
    # The table was worked out with w0 rounded to three places: a whole deg/s of slack.
    assert found.end_speed_deg_s == pytest.approx(speed, abs=1.0)
    assert found.mean_speed_deg_s == pytest.approx(mean, abs=1.0)


def test_wrist_extensors_fall_from_a_level_forearm():
    """Hand in line is level (90 from hanging), bent down 90 it hangs."""
    found = fall_of_muscle("wrist-extensors", "winter", -40, 60, height_m=1.70)
    assert isinstance(found, Fall)
    assert (found.segment, found.start_deg, found.end_deg) == ("hand", 130, 30)


def test_only_muscles_that_gravity_stretches_have_a_fall():
    """And of those, hip flexors have none, with the reason in words."""
    stretched = {id_ for id_, muscle in shipped_muscles().items() if muscle.gravity}
    tests = set(shipped_segments().tests)
    assert tests == stretched - {"hip-flexors"}
    for muscle in shipped_muscles().keys() - tests:
        assert isinstance(fall_of_muscle(muscle, "winter", 0, 30, height_m=1.7), Problem)
    refused = fall_of_muscle("hip-flexors", "winter", 0, 30, height_m=1.7)
    assert "knee hangs loose" in str(refused)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("segment", SEGMENTS)
def test_every_segment_in_every_table(segment, table):
    """Shorter is faster, as 1 / sqrt(length); measured and from height agree; sources named."""
    tall = fell(segment, table, 90, 0, height_m=1.80)
    small = fell(segment, table, 90, 0, height_m=0.90)
    assert small.end_speed_deg_s == pytest.approx(tall.end_speed_deg_s * 2**0.5)
    measured = fell(segment, table, 90, 0, length_m=tall.length_m)
    assert measured.w0_rad_s == pytest.approx(tall.w0_rad_s)
    assert measured.length_from == "measured"
    assert "second-hand copies seen" in tall.length_from
    assert "read in a reprint" in tall.source
    words = " ".join(tall.remarks)
    assert "upper bound" in words
    assert "not for children" in words


@pytest.mark.parametrize("table", ["deleva-male", "deleva-female"])
@pytest.mark.parametrize("segment", ["forearm-hand", "leg-foot", "whole-arm", "whole-leg"])
def test_authors_agree(segment, table):
    """Composites of de Leva's parts fall within 4 % of Winter's own rows."""
    winter = fell(segment, "winter", 90, 0, height_m=1.70)
    deleva = fell(segment, table, 90, 0, height_m=1.70)
    assert deleva.end_speed_deg_s == pytest.approx(winter.end_speed_deg_s, rel=0.04)


@pytest.mark.parametrize(
    ("table", "forearm", "leg"), [("deleva-male", 500, 422), ("deleva-female", 510, 425)]
)
def test_de_leva_near_figures_of_others(table, forearm, leg):
    """Approximate figures worked out elsewhere, with lengths and foot placed by memory."""
    for segment, speed, slack in (("forearm-hand", forearm, 0.045), ("leg-foot", leg, 0.01)):
        found = fell(segment, table, 90, 0, height_m=1.70)
        assert found.end_speed_deg_s == pytest.approx(speed, rel=slack)


def test_parts_are_combined_about_the_joint():
    """Two point masses and a rod, worked out by hand."""
    parts = {
        "rod": {"mass": 3.0, "length": 2.0, "centre": 0.5, "gyration": (1 / 12) ** 0.5},
        "foot": {"mass": 1.0, "length": 1.0, "centre": 0.5, "gyration": 0.0},
    }
    chain = {
        "ends": "here to there",
        "height_fraction": 2.0,
        "parts": [{"part": "rod", "at": [0, 0]}, {"part": "foot", "at": [2.0, -0.5]}],
    }
    body = combined(chain, parts)
    assert body.centre == pytest.approx((3 * 1 + 1 * 2) / 4 / 2)
    assert (body.gyration * 2) ** 2 == pytest.approx((3 * (4 / 12 + 1) + 4) / 4)


def test_winter_hand_ends_at_the_knuckle():
    """Both of de Leva's hand rows, to the knuckle and to the fingertip, give one share."""
    shares = (0.3624 / 0.7900, 0.3427 / 0.7474)
    body = shipped_segments().tables["winter"].bodies["hand"]
    for share in shares:
        assert body.height_fraction == pytest.approx(0.108 * share, abs=1e-4)


def test_winter_radii_fit_together():
    """About the end squared is about the centre squared plus the distance squared.

    The radii about the centre are Winter's, as printed beside the others.
    """
    about_centre = {"forearm-hand": 0.468, "leg-foot": 0.416, "hand": 0.297, "foot": 0.475}
    about_centre |= {"whole-arm": 0.368, "whole-leg": 0.326}
    for segment, body in shipped_segments().tables["winter"].bodies.items():
        about_end = (about_centre[segment] ** 2 + body.centre**2) ** 0.5
        assert body.gyration == pytest.approx(about_end, abs=0.008)


def test_scipy_takes_m():
    """Guards the comparison above: K of m = 1/2 is the fall from 90."""
    assert ellipk(0.5) == pytest.approx(arc(90, 0).time, rel=1e-13)
