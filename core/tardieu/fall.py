"""How fast a limb segment falls from rest: the speed that V2 means, as an ideal.

The segment is a compound pendulum without friction. Angles are measured from hanging
vertical, deg; g is 9.81 m/s2. With w0 = sqrt(g c / (k^2 L)), c and k the fractions of the
length L to the centre of mass and of gyration about the joint:

    speed at theta:  w0 sqrt(2 (cos theta - cos theta0))
    time to theta:   [K(m) - F(phi, m)] / w0,  m = sin^2(theta0 / 2)

The difference of the two elliptic integrals is itself one integral, taken here by Carlson's
form, so that no digits are lost near the start (Carlson 1995, Numer Algorithms 10:13-26;
the tests compare it with a reference library).

Skin, tendon and muscle resist, so a real limb falls more slowly: an upper bound. The figures
are of young adults.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, degrees, inf, isfinite, radians, sin, sqrt

from ..problem import Problem
from .segments import LENGTHS_SOURCE, Body, GravityTest, shipped_segments

GRAVITY = 9.81
"""m/s2."""

TALLEST_M, SHORTEST_M = 2.5, 0.3
"""Body heights taken, m; a measured length must be that of such a person."""

REMARKS = (
    "An ideal fall without tissue resistance: an upper bound, a real limb falls more slowly.",
    "The figures are of young adults: not for children, nor for a wasted or swollen limb.",
)


@dataclass(frozen=True, slots=True)
class Arc:
    """A fall for any pendulum: multiply the speeds by w0, divide the time by it.

    Attributes:
        time: w0 times the time.
        end: speed at the end over w0, radians.
        mean: mean speed over w0, radians.
        peak: highest speed over w0, radians.
    """

    time: float
    end: float
    mean: float
    peak: float


@dataclass(frozen=True, slots=True)
class Fall:
    """The fall of one segment of one person.

    Attributes:
        segment: id.
        table: id of the table of figures.
        ends: what the length is measured between.
        length_m: m.
        length_from: "measured", or how it follows from the height.
        start_deg: angle from hanging at rest, deg.
        end_deg: angle from hanging at the end, deg.
        time_s: s.
        end_speed_deg_s: speed at the end, deg/s.
        mean_speed_deg_s: arc over time, deg/s.
        peak_speed_deg_s: highest speed on the way, deg/s.
        w0_rad_s: angular frequency of small swings, rad/s.
        source: of the figures, and how far they were verified.
        remarks: what has to be said with these numbers.
    """

    segment: str
    table: str
    ends: str
    length_m: float
    length_from: str
    start_deg: float
    end_deg: float
    time_s: float
    end_speed_deg_s: float
    mean_speed_deg_s: float
    peak_speed_deg_s: float
    w0_rad_s: float
    source: str
    remarks: tuple[str, ...]


def fall(
    segment: str,
    table: str,
    start: float,
    end: float,
    *,
    height_m: float | None = None,
    length_m: float | None = None,
    test: GravityTest | None = None,
) -> Fall | Problem:
    """Compute the fall of a segment from rest.

    Args:
        segment: id of the segment.
        table: id of the table of figures.
        start: deg from hanging, beyond 0 on the other side; the joint's angle where a test
            is given.
        end: the same.
        height_m: body height, m, when the length is not measured.
        length_m: measured length, m.
        test: the muscle's test, so that angles are the joint's.
    """
    found = shipped_segments()
    if segment not in found.segments:
        return Problem("segment", f"{segment!r} is unknown", "one of " + ", ".join(found.segments))
    if table not in found.tables:
        return Problem("table", f"{table!r} is unknown", "one of " + ", ".join(found.tables))
    length = _length(found.tables[table].bodies[segment], height_m, length_m)
    if isinstance(length, Problem):
        return length
    if test is not None:
        start, end = test.from_hanging(start), test.from_hanging(end)
    problem = _arc_problem(start, end, test)
    if problem:
        return problem
    return _fall(segment, table, start, end, length, length_m is not None, test)


def fall_of_muscle(
    muscle: str, table: str, start: float, end: float, *, height_m: float
) -> Fall | Problem:
    """Compute the fall that stretches a muscle, between neutral-zero joint angles, deg."""
    test = shipped_segments().tests.get(muscle)
    if test is None:
        return no_fall(muscle)
    return fall(test.segment, table, start, end, height_m=height_m, test=test)


def no_fall(muscle: str) -> Problem:
    """Say why no fall is computed for a muscle group."""
    tests = ", ".join(shipped_segments().tests)
    if muscle == "hip-flexors":
        what = "the knee hangs loose there, so thigh and lower leg do not fall as one body"
    else:
        what = "no falling segment is known that stretches it in its test position"
    return Problem(muscle, what, f"a fall is computed for {tests}")


def share_of_arc(start: float, end: float, share: float) -> float:
    """Find the share (0 to 1) of a possible arc covered after a share of its time.

    For a mark that moves as the limb falls: slowly at first.
    """
    whole = _arc(start, end).time
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        here = start + (end - start) * middle
        if here == start or _arc(start, here).time < share * whole:
            low = middle
        else:
            high = middle
    return high


def _fall(
    segment: str,
    table_id: str,
    start: float,
    end: float,
    length: float,
    measured: bool,
    test: GravityTest | None,
) -> Fall:
    table = shipped_segments().tables[table_id]
    body = table.bodies[segment]
    w0 = sqrt(GRAVITY * body.centre / (body.gyration**2 * length))
    arc = _arc(start, end)
    from_height = f"{body.height_fraction} of body height, {LENGTHS_SOURCE}"
    setting = (f"Holds only with {test.setting} ({test.source}).",) if test else ()
    remark = (f"Note: {body.remark}.",) if body.remark else ()
    return Fall(
        segment=segment,
        table=table_id,
        ends=body.ends,
        length_m=length,
        length_from="measured" if measured else from_height,
        start_deg=start,
        end_deg=end,
        time_s=arc.time / w0,
        end_speed_deg_s=degrees(arc.end * w0),
        mean_speed_deg_s=degrees(arc.mean * w0),
        peak_speed_deg_s=degrees(arc.peak * w0),
        w0_rad_s=w0,
        source=f"{table.source}; {table.verified}",
        remarks=(*REMARKS, *setting, *remark),
    )


# Refusals -------------------------------------------------------------------------------


def _length(body: Body, height_m: float | None, length_m: float | None) -> float | Problem:
    """Find the segment's length, m, measured or from the height."""
    if (height_m is None) == (length_m is None):
        return Problem("length", "needs the body height or a measured length", "give one of them")
    if length_m is not None:
        low, high = SHORTEST_M * body.height_fraction, TALLEST_M * body.height_fraction
        if low <= length_m <= high:
            return length_m
        fix = f"{low:.2f} to {high:.2f}, measured from {body.ends}"
        return Problem("length", f"{length_m:g} m is not a length of this segment", fix)
    assert height_m is not None
    if SHORTEST_M <= height_m <= TALLEST_M:
        return height_m * body.height_fraction
    fix = f"in m, {SHORTEST_M} to {TALLEST_M}, e.g. 1.70"
    return Problem("height", f"{height_m:g} m is not a body height", fix)


def _arc_problem(start: float, end: float, test: GravityTest | None) -> Problem | None:
    """Say why nothing falls from rest along an arc, None when it does."""

    def shown(theta: float) -> str:
        joint = f" (joint at {test.from_hanging(theta):g})" if test else ""
        return f"{theta:g} deg{joint}"

    if not (isfinite(start) and isfinite(end)):
        return Problem("angles", "they must be numbers", "type deg, e.g. 90")
    if start == 180:
        what = f"at {shown(180)} the segment balances upright, so from rest it never falls"
        return Problem("start", what, "start a few deg lower")
    if not 0 < start < 180:
        what = f"nothing falls from {shown(start)}"
        return Problem("start", what, "angles from hanging: over 0, under 180")
    if end == start:
        return Problem("end", f"start and end are equal, {shown(end)}", "the end must be lower")
    if end > start:
        what = f"from {shown(start)} up to {shown(end)} nothing falls"
        return Problem("end", what, "the end must be lower than the start")
    if end <= -start:
        what = f"from {shown(start)} it comes to rest before it passes {shown(end)}"
        return Problem("end", what, f"it swings up to {start:g} deg on the other side")
    if start - end < _SMALLEST_ARC:
        return Problem("end", f"an arc of {start - end:g} deg is too small", "at least 0.001 deg")
    return None


_SMALLEST_ARC = 1e-3
"""deg; below this the arc is rounding and no fall."""


# The pendulum ---------------------------------------------------------------------------


def _arc(start: float, end: float) -> Arc:
    """Compute the fall over an arc that is possible."""
    first, last = radians(start), radians(end)
    time = _time(first, last)
    finish = _speed(first, last)
    peak = _speed(first, 0.0) if last < 0 else finish
    return Arc(time, finish, (first - last) / time, peak)


def _speed(first: float, last: float) -> float:
    """Compute sqrt(2 (cos last - cos first)) in a form in which equal angles lose no digits."""
    return 2 * sqrt(sin((first + last) / 2) * sin((first - last) / 2))


def _time(first: float, last: float) -> float:
    """Compute the time over the arc for w0 = 1.

    K(m) - F(phi, m) = F(psi, m), where tan phi tan psi = 1 / sqrt(1 - m).
    """
    if last < 0:  # down to the vertical, and up as it came down from the same height
        return 2 * _time(first, 0.0) - _time(first, -last)
    height, rest = sin(first / 2) ** 2, cos(first / 2) ** 2
    s2, c2 = sin(last / 2) ** 2, cos(last / 2) ** 2
    # sin^2 psi = (height - s2) / (height c2), the difference as a product of sines.
    fallen = sin((first + last) / 2) * sin((first - last) / 2) / (height * c2)
    return sqrt(fallen) * _carlson(s2 * rest / (height * c2), rest / c2, 1.0)


def _carlson(x: float, y: float, z: float) -> float:
    """Compute Carlson's symmetric integral of the first kind, by duplication, to rounding."""
    mean, worst = 0.0, inf
    while worst > 1e-4:  # the series below is then exact to its sixth power
        step = sqrt(x * y) + sqrt(y * z) + sqrt(z * x)
        x, y, z = (x + step) / 4, (y + step) / 4, (z + step) / 4
        mean = (x + y + z) / 3
        worst = max(abs(1 - x / mean), abs(1 - y / mean), abs(1 - z / mean))
    dx, dy = 1 - x / mean, 1 - y / mean
    dz = -dx - dy
    e2, e3 = dx * dy - dz * dz, dx * dy * dz
    return (1 - e2 / 10 + e3 / 14 + e2 * e2 / 24 - 3 * e2 * e3 / 44) / sqrt(mean)
