"""The baseline of a trend: the first R1 and R2, each with its smallest detectable change.

The figures are those that a comparison of the first session with the latest would use, with
the same words on where they come from; where there is none there is no band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ..chart.patient import Patient
from ..chart.session import Session
from ..tardieu.measurement_error import NoFigure
from ..tardieu.reading import Side
from .change import AngleChange
from .compare import Basis, compare

NEEDS_TWO = "no baseline band: it takes two sessions"


@dataclass(frozen=True, slots=True)
class BaselineBand:
    """The first angle, give or take its smallest detectable change.

    Attributes:
        name: "R1" or "R2".
        first: stretch angle at the first session, deg.
        mdc: deg.
    """

    name: Literal["R1", "R2"]
    first: int
    mdc: float

    @property
    def edges(self) -> tuple[float, float]:
        """Stretch angles that a later one must lie beyond to differ, deg."""
        return self.first - self.mdc, self.first + self.mdc


@dataclass(frozen=True, slots=True)
class Baseline:
    """What later sessions of one station can be compared with.

    Attributes:
        bands: of R1 and R2, as far as there are a first angle and a figure.
        words: where each figure comes from and how it fits, or why there is none; a sentence
            each.
        short: the same in fewer words, the source still among them.
    """

    bands: tuple[BaselineBand, ...]
    words: tuple[str, ...]
    short: tuple[str, ...]


def baseline_of(
    sessions: Sequence[Session], muscle: str, side: Side, patient: Patient, basis: Basis
) -> Baseline:
    """Find the baseline of one muscle group and side.

    Args:
        sessions: in the order of their dates.
        muscle: id of the muscle group.
        side: side of the body.
        patient: the patient.
        basis: muscle groups, settings and figures.
    """
    mine = [
        (session, reading)
        for session in sessions
        for reading in session.readings_of(muscle, side)
        if reading.r1 is not None or reading.r2 is not None
    ]
    if len({session.id for session, _ in mine}) < 2:
        return Baseline((), (NEEDS_TWO,), (NEEDS_TWO,))
    (then, first), (now, last) = mine[0], mine[-1]
    cut = (replace(then, readings=(first,)), replace(now, readings=(last,)))
    change = compare(patient, *cut, (), basis).rows[0].change
    angles = (change.r1, change.r2)
    bands = tuple(band for angle in angles if (band := _band(angle)))
    return Baseline(bands, _words(angles, short=False), _words(angles, short=True))


def _band(angle: AngleChange) -> BaselineBand | None:
    if angle.before is None or angle.mdc is None:
        return None
    return BaselineBand("R1" if angle.name == "R1" else "R2", angle.before, angle.mdc)


def _words(angles: Sequence[AngleChange], short: bool) -> tuple[str, ...]:
    """Write one sentence for each figure; angles that share it are named together."""
    said: dict[tuple[str, str], list[str]] = {}
    for angle in angles:
        said.setdefault(_about(angle, short), []).append(angle.name)
    return tuple(f"{begin} {' and '.join(names)}{rest}" for (begin, rest), names in said.items())


def _about(angle: AngleChange, short: bool) -> tuple[str, str]:
    """Split the sentence into what comes before the name of an angle, and what after it."""
    if angle.before is None:
        return "no baseline band of", ": not there at the first session"
    if isinstance(angle.found, NoFigure):
        return "no baseline band of", ": no published figure"
    error = angle.found.error
    near = f", {angle.found.clause}" if angle.found.misfits else ""
    words = f"{near}: {error.source}" if short else f": {angle.found.line}; {error.verified}"
    return "first", f" +- {angle.mdc:.1f} deg (MDC{angle.level}){words}"
