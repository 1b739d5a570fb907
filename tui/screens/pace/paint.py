"""The pace screen as rows, for any window from 60x20 up."""

from __future__ import annotations

from ....core.problem import Problem
from ....core.tardieu.fall import REMARKS, Fall
from ....core.tardieu.pace import MEASURED, MEASURED_SOURCE, TAP_SD_S, Measured, share_done
from ....core.tardieu.segments import shipped_segments
from ...kit.line_edit import line_spans
from ...kit.paint import Row, filled, fit, labelled, line, wrap, wrapped
from .state import END, HEIGHT, SECONDS, START, PaceState, arc_of, fall_now, speed_now

_LABELS = {
    START: "start of the stretch  deg",
    END: "end of the stretch    deg",
    HEIGHT: "body height            cm",
    SECONDS: "V1 cue lasts            s",
}
_HEAD = 7
"""Cells of the word before each line of figures."""


def paint_pace(state: PaceState, ticks: float, width: int, height: int) -> list[Row]:
    """Paint fields, figures, cue and taps."""
    body = [
        *_about(state, width),
        *(_box(state, place, label) for place, label in _LABELS.items()),
        (),
        *_beside("V1", _slow_words(state), width),
        *_beside("V2", _fall_words(state), width)[:4],
        *labelled("cue", [_bar(state, ticks, width - _HEAD)], _HEAD),
        *_beside("taps", _tap_words(state), width)[:2],
    ]
    room = height - 1 - len(body)
    for rows in (_measured(state, width), wrapped(REMARKS, width, "dim")):
        if len(rows) + 1 <= room:
            body += [(), *rows]
            room -= len(rows) + 1
    title = fit(line(f" Pace and speed: {state.name}"), width)
    head = tuple((text, "bar") for text, _ in title)
    return filled([head, *body], height)


def _about(state: PaceState, width: int) -> list[Row]:
    """What is stretched, and how its angles are typed."""
    example = state.muscle.example(state.scale.id)
    return wrap(f"{state.muscle.movement}; typed as {state.scale.id}: {example}", width, "dim")[:2]


def _box(state: PaceState, place: int, label: str) -> Row:
    box = state.boxes[place]
    sign = "-" if box.negative else ""
    if place == state.at:
        spans = ((sign, "here"), *line_spans(box.line, 5 - len(sign), "here"))
        rest = " " * (5 - sum(len(text) for text, _ in spans))
        return ((f"{label}  ", "bold"), *spans, (rest, "here"))
    return ((f"{label}  ", ""), (f"{sign}{box.digits}" if box.digits else ".", ""))


def _beside(label: str, words: list[str], width: int) -> list[Row]:
    """A word, and beside it texts one under the other."""
    return labelled(label, wrapped(words, width - _HEAD), _HEAD)


def _slow_words(state: PaceState) -> list[str]:
    seconds, arc = state.seconds, arc_of(state)
    if isinstance(seconds, Problem):
        return [str(seconds)]
    if arc is None or arc <= 0:
        return [f"{seconds} s at an even pace"]
    return [f"{seconds} s at an even pace: mean {arc / seconds:.0f} deg/s"]


def _fall_words(state: PaceState) -> list[str]:
    found = fall_now(state)
    if isinstance(found, Problem):
        return [found.what if found.where == state.muscle.id else str(found)]
    return [_speeds(found), _body(found), *_doubt(state)]


def _speeds(found: Fall) -> str:
    mean, end = f"{found.mean_speed_deg_s:.0f}", f"{found.end_speed_deg_s:.0f}"
    return f"{found.time_s:.2f} s: mean {mean}, at the end {end} deg/s"


def _body(found: Fall) -> str:
    known = shipped_segments()
    segment, table = known.segments[found.segment], known.tables[found.table]
    what = f"{segment.name} {found.length_m:.3f} m, {table.name}"
    return f"{what}; ideal fall of an adult limb, an upper bound"


def _doubt(state: PaceState) -> list[str]:
    return [] if state.usual_position else ["position is not the standard one: it may not hold"]


def _bar(state: PaceState, ticks: float, width: int) -> Row:
    cue = state.cue
    if cue is None:
        return (("still", "dim"),)
    word = "ready" if ticks < cue.starts else cue.velocity
    room = width - 10
    done = round(room * share_done(cue, ticks))
    return (
        (f"{word:<6}", "ask"),
        ("[", ""),
        ("#" * done, "here"),
        ("." * (room - done), ""),
        ("]", ""),
    )


def _tap_words(state: PaceState) -> list[str]:
    found = speed_now(state)
    if found is None:
        return ["running" if state.taps else "Space at the start and at the end of a stretch"]
    if isinstance(found, Problem):
        return [f"{found.what}: {found.mend}"]
    return [
        f"{found.seconds:.2f} s (+- {found.error_s:.2f}): mean {found.speed} deg/s, "
        f"{found.slowest} to {found.fastest} with taps {TAP_SD_S} s off"
    ]


def _measured(state: PaceState, width: int) -> list[Row]:
    """What clinicians reached, the present muscle group first."""
    order = sorted(MEASURED, key=lambda one: one.muscle != state.muscle.id)
    rows = [line("measured by instrument, mean peak, deg/s:    V1   V3", "dim")]
    rows += [_one(one, state.muscle.id) for one in order]
    notes = "; ".join(f"{one.name}: {one.note}" for one in MEASURED if one.note)
    return [*rows, *wrap(f"{MEASURED_SOURCE}; {notes}", width, "dim")]


def _one(one: Measured, muscle: str) -> Row:
    style = "bold" if one.muscle == muscle else ""
    return ((f"  {one.name:<41}{one.v1:>4.0f} {one.v3:>4.0f}", style),)
