"""A comparison as JSON, and as the cells of a table of 80 columns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import Any

from ..chart.event import shown_doc
from ..chart.events import day_words
from ..chart.session import Session
from ..tardieu.angles import show_angle
from ..tardieu.components import shown_gap
from ..tardieu.measured import CELLS, State, fast_state, slow_state
from ..tardieu.measurement_error import Found, NoFigure
from ..tardieu.reading import Reading
from ..text import visible, width_of
from ..typed import as_doc
from .change import AngleChange
from .comparability import Difference
from .compare import CompareRow, Comparison
from .marks import GONE, NEW, UNFAIR, angle_mark

Json = dict[str, Any]

HEADER = ("Muscle, side", "R1 then>now", "+/-", "", "R2 then>now", "+/-", "", "Gap", "Quality")
WIDTHS = (22, 11, 4, 2, 11, 4, 2, 7, 7)
"""Column widths in characters: with a space between columns 78 together."""


def comparison_doc(comparison: Comparison) -> Json:
    """Write the comparison as a JSON document: everything that a screen could show."""
    return {
        "patient": comparison.patient.code,
        "before": _session(comparison.before),
        "after": _session(comparison.after),
        "mdc_level": comparison.level,
        "compared": comparison.compared,
        "larger_by_chance": round(comparison.by_chance, 2),
        "differences": [_difference(one) for one in comparison.differences],
        "events": [shown_doc(event) for event in comparison.events],
        "stations": [_row(row, comparison) for row in comparison.rows],
    }


def _session(session: Session) -> Json:
    return {
        "date": session.when.date().isoformat(),
        "started": session.started,
        "examiner": session.examiner,
        "recorder": session.recorder,
    }


def _difference(one: Difference) -> Json:
    return {**asdict(one), "touches": list(one.touches), "words": one.words}


def _row(row: CompareRow, comparison: Comparison) -> Json:
    change = row.change
    return {
        "muscle": row.muscle,
        "name": row.name,
        "side": row.side.value,
        "fast_velocity": row.velocity,
        "scale": as_doc(row.scale),
        **{angle.name: _angle_doc(angle, row) for angle in change.angles},
        "quality": {
            "before": change.quality.before,
            "after": change.quality.after,
            "words": change.quality.words,
            "unfair": list(change.quality.unfair),
        },
        "pattern": asdict(change.pattern),
        "size": None if change.size is None else round(change.size, 2),
        "differences": [_difference(one) for one in row.differences],
        "toxin_day": [
            None if day is None else {"day": day, "band": comparison.bands[day]}
            for day in row.toxin
        ],
        "reference": row.reference,
    }


def _angle_doc(angle: AngleChange, row: CompareRow) -> Json:
    """Write one angle: stretch angles in deg, and for R1 and R2 the same in the row's scale."""
    document: Json = {
        "before": angle.before,
        "after": angle.after,
        "change": angle.change,
        "verdict": angle.verdict,
        "beyond_reading_error": angle.beyond_reading,
        "mdc": None if angle.mdc is None else round(angle.mdc, 1),
        "figure": _figure(angle.found),
        "words": angle.words,
        "unfair": list(angle.unfair),
    }
    if angle.name in ("R1", "R2"):
        shown = {"before": row.shown(angle.before), "after": row.shown(angle.after)}
        document["in_scale"] = shown
    return document


def _figure(found: Found) -> Json:
    if isinstance(found, NoFigure):
        return {"fit": "none", "line": found.line}
    error = found.error
    return {
        "fit": "closest" if found.misfits else "exact",
        "line": found.line,
        "misfits": list(found.misfits),
        "fit_words": found.clause,
        "name": error.name,
        "published": error.published,
        "sem": round(error.sem, 2),
        "source": error.source,
        "verified": error.verified,
        "note": error.note,
        "own": error.own,
    }


def cells(row: CompareRow) -> tuple[str, ...]:
    """Write a row's cells under HEADER; angles in the row's scale, changes towards more stretch."""
    change = row.change
    room = WIDTHS[0] - len(" Right")
    name = row.name if width_of(visible(row.name)) <= room else row.short
    catch = {"catch-gone": GONE, "catch-new": NEW}.get(change.pattern.id, "")
    return (
        f"{name} {row.side.word}",
        *_angle_cells(change.r1, row, fast_state, catch),
        *_angle_cells(change.r2, row, slow_state),
        f"{_value(shown_gap(change.gap.before))}>{_value(shown_gap(change.gap.after))}",
        f"{_value(change.quality.before)}>{_value(change.quality.after)}",
    )


def _angle_cells(
    angle: AngleChange, row: CompareRow, state: Callable[[Reading], State], catch: str = ""
) -> tuple[str, str, str]:
    then = _angle(angle.before, row.before, row, state)
    now = _angle(angle.after, row.after, row, state)
    values = "not tested" if then == now == CELLS["not-tested"] else f"{then} > {now}"
    sign = "" if angle.change is None else f"{angle.change:+d}"
    return values, sign, (catch or angle_mark(angle)) + (UNFAIR if angle.unfair else "")


def _angle(
    stretch: int | None, reading: Reading | None, row: CompareRow, state: Callable[[Reading], State]
) -> str:
    """Write one angle in the row's scale, or why there is none."""
    if stretch is not None:
        return show_angle(row.shown(stretch))
    found = state(reading) if reading else "not-tested"
    return CELLS[found] or CELLS["not-recorded"]


def _value(value: int | None) -> str:
    return show_angle(value) or "."


def heading(comparison: Comparison) -> str:
    """Say which two sessions these are, on one line."""
    days = [day_words(s.when.date()) for s in (comparison.before, comparison.after)]
    return f"{comparison.patient.code}: {days[0]} then, {days[1]} now"
