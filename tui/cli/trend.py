"""``limbscribe trend``: one patient's R1 and R2 over the sessions."""

from __future__ import annotations

import os
import shutil
import sys
from argparse import Namespace
from collections.abc import Mapping, Sequence

from ...core.change.baseline import baseline_of
from ...core.change.compare import Basis, basis_of
from ...core.change.trend import Point, Series, changed_first, series_of_all, stations_seen
from ...core.change.trend_events import events_touching
from ...core.chart.chart import Chart
from ...core.chart.events import standing
from ...core.config.catalogue import Catalogue
from ...core.exchange.json_export import problem_doc
from ..terminal.output import (
    DATA,
    OK,
    USAGE,
    print_coloured,
    print_err,
    print_json,
    print_out,
    version,
)
from .charts import ascii_wanted, catalogue, open_chart
from .stop import Stop

PAGE_WIDTH = 80
"""Cells of a page of small trends that is not printed on a terminal."""


def run(args: Namespace) -> int:
    """Show the trends; exit code 1 when the chart is damaged."""
    if args.both and (args.side or args.page):
        other = "--side" if args.side else "--page"
        raise Stop(USAGE, f"--both and {other} do not go together: leave one of them out")
    _, chart = open_chart(args)
    found = catalogue()
    # A muscle group taken out of the clinic's file may still have readings.
    seen = {muscle for muscle, _ in stations_seen(chart.by_date)}
    if args.muscle and args.muscle not in found.muscles and args.muscle not in seen:
        raise Stop(USAGE, f"no muscle group {args.muscle!r}; they are: {', '.join(found.muscles)}")
    wanted = [
        (muscle, side)
        for muscle, side in stations_seen(chart.by_date)
        if args.muscle in (None, muscle) and args.side in (None, side.value)
    ]
    trends = series_of_all(chart.by_date, wanted)
    if not trends:
        print_err(f"{chart.patient.code} has no such readings in a closed session")
    if args.json:
        print_json(_document(chart, trends, basis_of(found)))
    elif trends:
        _draw(args, chart, trends, found)
    return DATA if chart.problems else OK


def coloured(choice: str, environment: Mapping[str, str], terminal: bool) -> bool:
    """Say whether R1 and R2 get colours.

    Args:
        choice: "auto", "always" or "never".
        environment: NO_COLOR, when not empty, and TERM=dumb keep auto from it.
        terminal: the output is one.
    """
    plain = environment.get("NO_COLOR") or environment.get("TERM") == "dumb"
    return choice == "always" or (choice == "auto" and terminal and not plain)


def _draw(args: Namespace, chart: Chart, trends: Sequence[Series], found: Catalogue) -> None:
    """Draw each station as a plot and the same as numbers, or all of them small."""
    from .trend_text import page_lines, trend_lines  # brings plotext, which --json does without

    ascii_only = ascii_wanted(args)
    terminal = sys.stdout.isatty()
    colour = coloured(args.colour, os.environ, terminal)
    show = print_coloured if colour else print_out
    if args.page:
        width = shutil.get_terminal_size().columns if terminal else PAGE_WIDTH
        lines = page_lines(
            [trends[index] for index in changed_first(trends)],
            found.muscles,
            chart.patient.code,
            width=width,
            ascii_only=ascii_only,
            colour=colour,
        )
        show(*lines, ascii_only=ascii_only)
        return
    joints = [(series.muscle, series.side) for series in trends]
    if args.both:
        joints = list({muscle: (muscle, side) for muscle, side in joints}.values())
    for place, joint in enumerate(joints):
        lines = trend_lines(
            chart, joint, basis_of(found), ascii_only=ascii_only, colour=colour, both=args.both
        )
        show(*([""] if place else []), *lines, ascii_only=ascii_only)


def _document(chart: Chart, trends: Sequence[Series], basis: Basis) -> dict[str, object]:
    return {
        "limbscribe": version(),
        "patient": chart.patient.code,
        "trends": [_trend(chart, series, basis) for series in trends],
        "problems": [problem_doc(problem) for problem in chart.problems],
    }


def _trend(chart: Chart, series: Series, basis: Basis) -> dict[str, object]:
    joint = series.muscle, series.side
    baseline = baseline_of(chart.by_date, *joint, chart.patient, basis)
    return {
        "muscle": series.muscle,
        "side": series.side.value,
        "points": [_point(point) for point in series.points],
        "events": [
            {
                "date": event.day.isoformat(),
                "letter": event.letter,
                "kind": event.kind,
                "where": event.where,
                "note": event.note,
                **({"given": event.given} if event.given else {}),
            }
            for event in events_touching(standing(chart.events), series.muscle, (series.side,))
        ],
        "baseline": [
            {"angle": band.name, "first_stretch": band.first, "mdc": round(band.mdc, 2)}
            for band in baseline.bands
        ],
        "baseline_words": list(baseline.words),
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
