"""A trend as lines for a plain shell: the plot, its legend, and the same as numbers."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from ...core.muscles import Muscle
from ...core.patient import Patient
from ...core.reading import Side
from ...core.session import Session
from ...core.text import visible
from ..chart.numbers import (
    AS_TYPED,
    cautions,
    joint_rows,
    number_lines,
    reference_lines,
    series_from,
    title_line,
)
from ..plot import draw_trend, legend_lines

WIDTH, HEIGHT = 78, 16


def trend_lines(
    sessions: Sequence[Session],
    joint: tuple[str, Side],
    muscles: Mapping[str, Muscle],
    patient: Patient,
    *,
    width: int = WIDTH,
    height: int = HEIGHT,
    ascii_only: bool = False,
) -> list[str]:
    """The trend of one muscle group and side.

    Args:
        sessions: in the order of their dates.
        joint: id of the muscle group, and side.
        muscles: all muscle groups by id.
        patient: for the reference ranges.
        width: cells, at least 54.
        height: lines of the plot.
        ascii_only: no character above 127.
    """
    muscle = muscles.get(joint[0])
    name = visible(muscle.name if muscle else joint[0])
    rows = joint_rows(sessions, joint, muscles, patient)
    lines = [f"{visible(patient.code)}  {name}, {joint[1].word}"]
    if not rows:
        return [*lines, "no reading yet"]
    plot = draw_trend(series_from(joint, rows), width, height)
    if plot:
        lines += ["stretch angles in deg, up is more stretch", *plot]
        lines += legend_lines(width)
    lines += ["", AS_TYPED, title_line(width)]
    lines += [text.rstrip() for _, text in number_lines(rows, width)]
    for text in (*reference_lines(rows), *cautions(rows)):
        lines += textwrap.wrap(text, width)
    if ascii_only:
        from ..paint import to_ascii

        lines = [to_ascii(text) for text in lines]
    return lines
