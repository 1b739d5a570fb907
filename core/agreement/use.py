"""What comparisons make of a measurement error that was adopted, in words.

A figure is chosen by core/tardieu/measurement_error.find_error(); this asks it the same
questions that a comparison would, before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ..config.error_file import FILE, parse_errors, shipped_errors
from ..config.settings import Settings
from ..problem import Problem
from ..tardieu.measurement_error import (
    ANY,
    UNSTATED,
    Asked,
    Level,
    MeasurementError,
    NoFigure,
    figures_for,
    find_error,
)
from ..tomlfile import sound
from .adopt import Circumstances, entry
from .pairs import INTERVAL_WORDS, instrument_words
from .study import Study

NOT_USED = (
    "Comparisons do not use it: own_measurement_error is false. Set that to true in config.toml, "
    "and they do."
)

NOT_OF_DAYS = (
    " What differs from day to day is not in a figure of one day; in one of different days it is."
)

_RATERS = {"same": "by the same examiner", "different": "by different raters"}


def use_lines(
    new: Sequence[MeasurementError], before: Sequence[MeasurementError], settings: Settings
) -> list[str]:
    """Say which comparisons use new figures, and in place of which.

    Args:
        new: the figures.
        before: the clinic's own figures without them.
        settings: whether own figures are used, and at which level.
    """
    if not settings.own_measurement_error:
        return [NOT_USED]
    asked = dict.fromkeys(_asked(one, interval) for one in new for interval in INTERVAL_WORDS)
    return [_line(one, new, before, settings.mdc_level) for one in asked]


def preview(
    study: Study, of: Circumstances, own: Sequence[MeasurementError], settings: Settings
) -> list[str]:
    """Say which comparisons would use a study's figure once it is adopted.

    Args:
        study: the study, of however few pairs.
        of: what it holds for.
        own: the clinic's own figures.
        settings: as for use_lines().
    """
    text = entry(study, of, date.today(), least=0)
    if isinstance(text, Problem):
        return [str(text)]
    return use_lines(sound(parse_errors(text, FILE, own=True)), own, settings)


def _asked(new: MeasurementError, interval: str) -> Asked:
    """Ask as a comparison of the patients would that the figure is of."""
    population = new.populations[0] if len(new.populations) == 1 else ""
    return Asked(
        quantity=new.quantities[0],
        muscle=new.muscles[0],
        limb=new.limb,
        population=population,
        age=new.age if new.age in ("children", "adults") else "",
        raters=new.raters,
        interval=interval,
        position=new.position,
        instrument=new.instrument if new.instrument not in (UNSTATED, ANY) else "goniometer",
    )


def _line(
    asked: Asked,
    new: Sequence[MeasurementError],
    before: Sequence[MeasurementError],
    level: Level,
) -> str:
    """Say what one kind of comparison makes of the new figures."""
    when = INTERVAL_WORDS[asked.interval] + instrument_words(asked.instrument)
    what = f"{asked.muscle} {asked.quantity} {_RATERS[asked.raters]} {when}"
    now = find_error(asked, figures_for((*new, *before), shipped_errors(), use_own=True))
    if isinstance(now, NoFigure) or now.error not in new:
        shown = "no figure" if isinstance(now, NoFigure) else _shown(now.error, level)
        unstated = all(one.instrument == UNSTATED for one in new)
        why = ", since its instrument is not stated" if unstated else ""
        return f"Comparisons of {what} do not use the new figure but {shown}{why}."
    used = now.error
    fits = used.interval in (asked.interval, ANY)
    remark = "" if fits else f', remarked "{_apart(used)}"'
    former = find_error(asked, figures_for(before, shipped_errors(), use_own=True))
    if not isinstance(former, NoFigure):
        place = f"in place of {_shown(former.error, level)}"
    elif asked.quantity == "gap":
        place = "in place of the errors of R1 and R2 together"
    else:
        place = "which had no figure"
    more = "" if fits or used.interval != "same-day" else NOT_OF_DAYS
    return f"Comparisons of {what} use {_shown(used, level, named=False)}{remark}, {place}.{more}"


def _apart(new: MeasurementError) -> str:
    known = new.interval in INTERVAL_WORDS
    return new.interval.replace("-", " ") if known else "interval not stated"


def _shown(error: MeasurementError, level: Level, named: bool = True) -> str:
    figure = f"MDC{level} {error.mdc(level):.1f} deg"
    return f"{figure} ({error.name})" if named else f"the new {figure}"
