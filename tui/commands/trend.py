"""``limbscribe trend``: one patient's R1 and R2 over the sessions."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Mapping

from ...core.muscles import Muscle
from ...core.report.json_export import problem_doc, render
from ...core.shelf import Chart, Shelf
from ...core.trend import Point, Series, series_of, stations_seen
from ..characters import needs_ascii
from .charts import Stop, catalogue, chart_of, code_of, existing_folder, tell_problems
from .output import DATA, OK, USAGE, put, say, tell, version


def run(args: Namespace) -> int:
    """Show the trends; exit code 1 when the chart is damaged."""
    code = code_of(args)
    shelf = Shelf(existing_folder(args))
    muscles = catalogue().muscles
    chart = chart_of(shelf, code)
    # A muscle group taken out of the clinic's file may still have readings.
    seen = {muscle for muscle, _ in stations_seen(chart.by_date)}
    if args.muscle and args.muscle not in muscles and args.muscle not in seen:
        raise Stop(USAGE, f"no muscle group {args.muscle!r}; they are: {', '.join(muscles)}")
    trends = [
        series_of(chart.by_date, muscle, side)
        for muscle, side in stations_seen(chart.by_date)
        if args.muscle in (None, muscle) and args.side in (None, side.value)
    ]
    tell_problems(chart)
    if not trends:
        tell(f"{code} has no such readings in a closed session")
    if args.json:
        put(render(_document(chart, trends)))
    else:
        _draw(chart, trends, muscles, getattr(args, "ascii", False) or needs_ascii())
    return DATA if chart.problems else OK


def _draw(
    chart: Chart, trends: list[Series], muscles: Mapping[str, Muscle], ascii_only: bool
) -> None:
    """Each station as a plot and the same as numbers."""
    from .trend_text import trend_lines  # brings plotext, which --json does without

    for place, series in enumerate(trends):
        if place:
            say("")
        joint = (series.muscle, series.side)
        lines = trend_lines(chart.by_date, joint, muscles, chart.patient, ascii_only=ascii_only)
        for line in lines:
            say(line, ascii_only)


def _document(chart: Chart, trends: list[Series]) -> dict[str, object]:
    return {
        "limbscribe": version(),
        "patient": chart.patient.code,
        "trends": [
            {
                "muscle": series.muscle,
                "side": series.side.value,
                "points": [_point(point) for point in series.points],
            }
            for series in trends
        ],
        "problems": [problem_doc(problem) for problem in chart.problems],
    }


def _point(point: Point) -> dict[str, object]:
    reading = point.reading
    return {
        "date": point.day.isoformat(),
        "fast_velocity": reading.fast_velocity,
        "r1_stretch": point.r1,
        "r2_stretch": point.r2,
        "gap": point.gap,
        "quality": point.quality,
        "scale": reading.scale.id,
        "r1": reading.r1,
        "r2": reading.r2,
        "not_tested": reading.not_tested,
        "not_tested_note": reading.not_tested_note,
    }
