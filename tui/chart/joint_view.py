"""Painting one joint over the sessions: its trend as a plot, and the same as numbers."""

from __future__ import annotations

from ...core.reading import Reading
from ...core.trend import Point
from ..paint import Row, beside, line, wrap
from ..plot import draw_trend, legend_lines
from ..review.rows import first_shown
from .numbers import (
    AS_TYPED,
    JointRow,
    cautions,
    number_lines,
    reference_lines,
    series_from,
    title_line,
)
from .state import ChartData, ChartState, rows_of_joint

LISTED = 80
"""Columns from which the joints stand in a list beside the trend."""

LIST_WIDTH = 18
"""Cells of that list: a sign, an abbreviation of at most 8, and the side in full."""

GAP_ROWS = 2
NOTHING = "no reading yet"


def trend_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The trend, large, with the list of joints beside it where there is room."""
    if not data.joints:
        return [line(NOTHING)]
    if width < LISTED:
        return _trend(state, data, width, height)
    joints = _joint_list(state, data, height)
    trend = _trend(state, data, width - LIST_WIDTH, height)
    return beside(joints, trend, LIST_WIDTH, width)


def number_rows(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """The same as a table, one session after the other."""
    if not data.joints:
        return [line(NOTHING)]
    rows = rows_of_joint(data, state)
    head = [*_heading(state, data, width), line(AS_TYPED, "dim")]
    if not rows:
        return [*head, line(NOTHING)]
    texts = number_lines(rows, width - 2)
    notes: list[Row] = []
    for text in (*reference_lines(rows), *cautions(rows)):
        notes += wrap(text, width, "dim")
    room = max(3, height - len(head) - 1 - len(notes))
    chosen = [index for index, (session, _) in enumerate(texts) if session == state.session]
    top = first_shown(0, chosen[-1] if chosen else len(texts) - 1, room, texts)
    if chosen:
        top = min(top, chosen[0])
    table: list[Row] = []
    for session, text in texts[top : top + room]:
        here = session == state.session
        pointer = "> " if here and not text.startswith(" ") else "  "
        table.append(line(f"{pointer}{text}", "bold" if here else ""))
    return [*head, line(f"  {title_line(width - 2)}", "title"), *table, *notes]


def _heading(state: ChartState, data: ChartData, width: int) -> list[Row]:
    joint = data.joints[state.joint]
    return wrap(f"{data.name(joint)}   ({state.joint + 1} of {len(data.joints)})", width, "bold")


def _joint_list(state: ChartState, data: ChartData, height: int) -> list[Row]:
    top = first_shown(0, state.joint, height, data.joints)
    rows: list[Row] = []
    for index, joint in enumerate(data.joints[top : top + height], top):
        here = index == state.joint
        text = f"{'>' if here else ' '} {data.short(joint)}"
        rows.append(line(f"{text:<{LIST_WIDTH - 1}}", "here" if here else ""))
    return rows


def _trend(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """Heading, plot, legend, the chosen session, and every gap as a number."""
    rows = rows_of_joint(data, state)
    head = _heading(state, data, width)
    head.append(line("stretch angles in deg, up is more stretch", "dim"))
    if not rows:
        return [*head, line(NOTHING)]
    below = [line(text) for text in legend_lines(width)]
    below += [line(_session_words(row)) for row in rows if row.session == state.session]
    below += _gap_rows(rows, width)
    for text in cautions(rows):
        below += wrap(text, width, "dim")
    room = height - len(head) - len(below)
    plot = draw_trend(series_from(data.joints[state.joint], rows), width, room) if room >= 4 else []
    if not plot:
        plot = ["no angle to draw" if room >= 4 else "the window is too low for the plot"]
    return [*head, *[line(text) for text in plot], *below]


def _session_words(row: JointRow) -> str:
    """The chosen session in words."""
    point, reading = row.point, row.point.reading
    quality = "." if point.quality is None else str(point.quality)
    r2 = "." if point.r2 is None else str(point.r2)
    return (
        f"> {point.date_words}: R1 {_catch(point, reading)} ({reading.fast_velocity}), "
        f"quality {quality}, R2 {r2}"
    )


def _catch(point: Point, reading: Reading) -> str:
    if point.r1 is not None:
        return str(point.r1)
    return "no catch" if reading.r1_tries or reading.quality in (0, 1) else "."


def _gap_rows(rows: tuple[JointRow, ...], width: int) -> list[Row]:
    """Date and gap of every session, the latest ones when not all of them fit."""
    for first in range(len(rows)):
        texts = [
            f"{row.point.date_words}: {'none' if row.point.gap is None else row.point.gap}"
            for row in rows[first:]
        ]
        head = "gap in deg: " if not first else "gap in deg, the latest: "
        found = wrap(head + ", ".join(text.replace(" ", "_") for text in texts), width)
        if len(found) <= GAP_ROWS:
            return [tuple((text.replace("_", " "), style) for text, style in row) for row in found]
    return []
