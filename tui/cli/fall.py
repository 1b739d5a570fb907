"""``limbscribe fall``: speed and time of one limb segment at V2, as an ideal."""

from __future__ import annotations

from argparse import Namespace
from textwrap import wrap

from ...core.problem import Problem
from ...core.tardieu.fall import Fall, fall, no_fall
from ...core.tardieu.segments import GravityTest, shipped_segments
from ..terminal.output import OK, USAGE, print_json, print_out, version
from .stop import Stop

_WIDTH = 78


def run(args: Namespace) -> int:
    """Compute and show one fall.

    Raises:
        Stop: when the segment, the length or the arc is refused.
    """
    test = _test(args)
    segment = args.segment or (test.segment if test else "")
    if not segment:
        raise Stop(USAGE, "name what falls: --segment NAME, or --muscle ID for joint angles")
    if test and segment != test.segment:
        raise Stop(USAGE, f"the {test.segment} stretches {test.muscle}: leave out --segment")
    found = fall(
        segment,
        args.table,
        args.start,
        args.end,
        height_m=args.height,
        length_m=args.length,
        test=test,
    )
    if isinstance(found, Problem):
        raise Stop(USAGE, str(found))
    if args.json:
        print_json(_document(found, test))
    else:
        _tell(found, test, getattr(args, "ascii", False))
    return OK


def _test(args: Namespace) -> GravityTest | None:
    """Find the test of the muscle asked for, None when none is asked for."""
    if not args.muscle:
        return None
    test = shipped_segments().tests.get(args.muscle)
    if test is None:
        raise Stop(USAGE, str(no_fall(args.muscle)))
    return test


def _document(found: Fall, test: GravityTest | None) -> dict[str, object]:
    joint = None
    if test:
        joint = {
            "muscle": test.muscle,
            "from_deg": test.from_hanging(found.start_deg),
            "to_deg": test.from_hanging(found.end_deg),
        }
    return {
        "limbscribe": version(),
        "segment": found.segment,
        "table": found.table,
        "source": found.source,
        "length_m": found.length_m,
        "length_ends": found.ends,
        "length_from": found.length_from,
        "from_deg": found.start_deg,
        "to_deg": found.end_deg,
        "joint": joint,
        "time_s": found.time_s,
        "end_speed_deg_s": found.end_speed_deg_s,
        "mean_speed_deg_s": found.mean_speed_deg_s,
        "peak_speed_deg_s": found.peak_speed_deg_s,
        "w0_rad_s": found.w0_rad_s,
        "remarks": list(found.remarks),
    }


def _tell(found: Fall, test: GravityTest | None, ascii_only: bool) -> None:
    segments = shipped_segments()
    segment = segments.segments[found.segment]
    arc = f"from {found.start_deg:g} to {found.end_deg:g} deg from hanging"
    if test:
        start, end = test.from_hanging(found.start_deg), test.from_hanging(found.end_deg)
        arc += f" (joint {start:g} to {end:g} deg)"
    lines = [
        f"{segment.name} about the {segment.axis}, {arc}",
        f"time           {found.time_s:8.3f} s",
        f"speed at end   {found.end_speed_deg_s:8.0f} deg/s",
        f"mean speed     {found.mean_speed_deg_s:8.0f} deg/s",
        f"highest speed  {found.peak_speed_deg_s:8.0f} deg/s",
        f"w0             {found.w0_rad_s:8.3f} rad/s",
        f"length         {found.length_m:8.3f} m, {found.ends}",
    ]
    more = (f"Length: {found.length_from}.", f"Figures: {found.source}.", *found.remarks)
    below = (row for text in more for row in wrap(text, _WIDTH))
    print_out(*lines, "", *below, ascii_only=ascii_only)
