"""Painting one joint over the sessions: its trend as a plot, and the same as numbers."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from ....core.change.baseline import Baseline, baseline_of
from ....core.change.numbers import (
    AS_TYPED,
    JointRow,
    cautions,
    number_lines,
    reference_lines,
    series_from,
    title_line,
)
from ....core.change.trend import Point
from ....core.change.trend_events import TrendEvent, events_touching
from ....core.chart.events import standing
from ....core.entry.rows import number_text
from ....core.tardieu.components import shown_gap
from ....core.tardieu.reading import Side
from ...kit.paint import Row, beside, line, wrap, wrapped
from ...kit.scroll import first_shown, pointer_rows
from ...plot.signs import Drawn, event_lines, legend_lines
from ...plot.trend import draw_trends, possible_signs
from .state import ChartData, ChartState, Joint, rows_of_joint

LISTED = 80
"""Columns from which the joints are in a list beside the trend."""

LIST_WIDTH = 18
"""Cells of that list: a sign, an abbreviation of at most 8, and the side in full."""

GAP_ROWS = 2
"""Rows for the gaps; one less where events need the room."""

LEAST, LEAST_PLOT = 4, 9
"""Lines below which there is no plot, and those it gets before words on events and bands."""

NOTHING = "no reading yet"
NO_ANGLE = "no angle to draw"
TOO_LOW = "the window is too low for the plot"
SEE_NUMBERS = "events, and where the figures come from: see the numbers"
SEE_FIGURES = "where the figures of the bands come from: see the numbers"
DATES_THERE = "dates: see the numbers"
ONE_SIDE = "baseline bands: only with one side at a time"


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
    joint = data.joints[state.joint]
    texts = number_lines(rows, width - 2, _events(data, [joint]))
    baseline = _baseline(data, [(joint, rows)])
    notes: list[Row] = []
    room = 0
    for figures in (baseline.words, baseline.short):
        if room < len(texts):
            notes = wrapped((*reference_lines(rows), *cautions(rows), *figures), width, "dim")
            room = max(3, height - len(head) - 1 - len(notes))
    chosen = [index for index, (session, _) in enumerate(texts) if session == state.session]
    top = first_shown(0, chosen[-1] if chosen else len(texts) - 1, room, len(texts))
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
    top = first_shown(0, state.joint, height, len(data.joints))
    names = (data.short(joint) for joint in data.joints[top : top + height])
    return pointer_rows(names, top, state.joint, LIST_WIDTH - 1)


def _trend(state: ChartState, data: ChartData, width: int, height: int) -> list[Row]:
    """Heading, plot, legend, the chosen session, and every gap as a number."""
    sides = _sides(state, data)
    head = _trend_heading(state, data, sides, width)
    if not sides[0][1]:
        return [*head, line(NOTHING)]
    trends = [series_from(joint, rows) for joint, rows in sides]
    events = _events(data, [joint for joint, _ in sides])
    baseline = _baseline(data, sides)
    below = _numbers_below(state, sides, width, 1 if events else GAP_ROWS)
    possible = possible_signs(trends, events, baseline.bands)
    legend = len(legend_lines(width, Drawn((), possible, len(trends) > 1)))
    room = height - len(head) - len(below) - legend
    about, named = _about(baseline, events, possible, width, room - LEAST_PLOT)
    room -= len(about)
    drawn = Drawn(())
    if room >= LEAST:
        drawn = draw_trends(trends, width, room, events if named else (), baseline.bands)
    if named and drawn.lines:  # in the same room, without signs that did not occur
        about, _ = _about(baseline, events, drawn.signs, width, len(about))
    plot = drawn.lines or (NO_ANGLE if room >= LEAST else TOO_LOW,)
    legends = legend_lines(width, drawn) if drawn.lines else []
    return [*head, *[line(text) for text in (*plot, *legends)], *below, *about]


def _sides(state: ChartState, data: ChartData) -> list[tuple[Joint, tuple[JointRow, ...]]]:
    """The chosen joint and its rows; with the other side where both are wanted and there."""
    joint = data.joints[state.joint]
    wanted = [joint]
    other = (joint[0], joint[1].other)
    if state.both and other in data.joints:
        wanted = sorted([joint, other], key=lambda one: one[1] is Side.RIGHT)
    return [(one, data.rows_of(one)) for one in wanted]


def _trend_heading(
    state: ChartState,
    data: ChartData,
    sides: Sequence[tuple[Joint, tuple[JointRow, ...]]],
    width: int,
) -> list[Row]:
    words = "stretch angles in deg, up is more stretch"
    if len(sides) > 1:
        name = data.name(sides[0][0])
        count = f"({state.joint + 1} of {len(data.joints)})"
        return [*wrap(f"{name} and Right {count}", width, "bold"), line(words, "dim")]
    rows = [*_heading(state, data, width), line(words, "dim")]
    if state.both:
        rows.append(line(f"no reading of the {sides[0][0][1].other.word} side", "dim"))
    return rows


def _events(data: ChartData, joints: Sequence[Joint]) -> tuple[TrendEvent, ...]:
    return events_touching(standing(data.chart.events), joints[0][0], [side for _, side in joints])


def _baseline(data: ChartData, sides: Sequence[tuple[Joint, tuple[JointRow, ...]]]) -> Baseline:
    """The bands of one side; two sides together would cover each other's."""
    if len(sides) > 1:
        return Baseline((), (ONE_SIDE,), (ONE_SIDE,))
    return baseline_of(data.sessions, *sides[0][0], data.chart.patient, data.basis)


def _numbers_below(
    state: ChartState, sides: Sequence[tuple[Joint, tuple[JointRow, ...]]], width: int, most: int
) -> list[Row]:
    """The chosen session, the gaps and the cautions; of each side where there are two."""
    found: list[Row] = []
    for (_, side), rows in sides:
        name = f"{side.word}: " if len(sides) > 1 else ""
        here = [row for row in rows if row.session == state.session]
        found += [line(f"> {name}{_session_words(row)}") for row in here]
        found += _gap_rows(rows, width, f"{name}gap", most)
    texts = dict.fromkeys(text for _, rows in sides for text in cautions(rows))
    return [*found, *wrapped(texts, width, "dim")]


def _about(
    baseline: Baseline, events: Sequence[TrendEvent], signs: Collection[str], width: int, room: int
) -> tuple[list[Row], bool]:
    """Words on events and bands, shorter where there is little room; and whether events are named.

    Where they are not, their letters would mean nothing and are left out.
    """
    named = [line(text) for text in event_lines(events, signs, width)]
    for figures in (baseline.words, baseline.short, (SEE_FIGURES,)):
        rows = [*named, *wrapped(figures, width, "dim")]
        if len(rows) <= room:
            return rows, True
    kinds = [line(text) for text in event_lines(events, signs, width, DATES_THERE)]
    for rows in (named, kinds):
        if len(rows) <= room:
            return rows, True
    return [line(SEE_NUMBERS, "dim")], False


def _session_words(row: JointRow) -> str:
    """The chosen session in words."""
    point, reading = row.point, row.point.reading
    return (
        f"{point.date_words}: R1 {_catch(point)} ({reading.fast_velocity}), "
        f"quality {number_text(point.quality)}, R2 {number_text(point.r2)}"
    )


def _catch(point: Point) -> str:
    if point.r1 is not None:
        return str(point.r1)
    return "no catch" if point.caught is False else "."


def _gap_rows(rows: tuple[JointRow, ...], width: int, name: str, most: int) -> list[Row]:
    """Date and gap of every session, the latest ones when ``most`` rows do not hold all."""
    for first in range(len(rows)):
        texts = [
            f"{row.point.date_words}: {'none' if gap is None else gap}"
            for row in rows[first:]
            for gap in (shown_gap(row.point.gap),)
        ]
        head = f"{name} in deg: " if not first else f"{name} in deg, the latest: "
        found = wrap(head + ", ".join(text.replace(" ", "_") for text in texts), width)
        if len(found) <= most:
            return [tuple((text.replace("_", " "), style) for text, style in row) for row in found]
    return []
