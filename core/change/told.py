"""What changed between two sessions, told in short sentences, the most important first.

Catches that are gone come first, then new ones, then changes beyond the measurement error,
then range that was lost, then what is beyond reading error but has no published figure. A
sentence says what the numbers did and never whether that is good.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from ..language import N_, gettext, ngettext
from ..tardieu.measurement_error import error_of_readings
from .change import AngleChange
from .compare import CompareRow, Comparison
from .disputed import DISPUTED

Kind = int
GONE, NEW, BEYOND, LOST, NO_FIGURE, GRADED, UNCHANGED = range(7)
"""Kinds of change of a station, in the order in which they are told."""


CAUGHT = 2
"""From this grade on there was a catch or clonus, or the joint could not be moved."""


class _Told(NamedTuple):
    """What is said of an angle: that it is unchanged, and how it changed."""

    unchanged: str
    more: str
    less: str


CATCH = _Told(
    N_("catch unchanged"),
    N_("catch {degrees} later"),
    N_("catch {degrees} earlier"),
)
RANGE = _Told(
    N_("range unchanged"),
    N_("range {degrees} longer"),
    N_("range {degrees} shorter"),
)


def kind_of(row: CompareRow) -> Kind:
    """Say what kind of change a station has."""
    change = row.change
    if change.pattern.id == DISPUTED:
        return UNCHANGED
    if change.catch_gone:
        return GONE
    if change.pattern.id == "catch-new":
        return NEW
    if change.r1.direction or (change.r2.direction or 0) > 0:
        return BEYOND
    if change.r2.direction:
        return LOST
    if change.r1.beyond_reading or change.r2.beyond_reading:
        return NO_FIGURE
    grades = (change.quality.before or 0, change.quality.after or 0)
    return GRADED if change.quality.changed and min(grades) >= CAUGHT else UNCHANGED


def changed_rows(comparison: Comparison) -> list[CompareRow]:
    """List the stations that changed in the order in which they are told.

    Within one kind the one that changed most in units of its error comes first.
    """
    rows = [row for row in comparison.rows if row.before and row.after]
    changed = [row for row in rows if kind_of(row) != UNCHANGED]
    return sorted(changed, key=lambda row: (kind_of(row), -(row.change.size or 0.0)))


def told(comparison: Comparison, most: int) -> tuple[str, ...]:
    """Tell the changes in sentences; those beyond so many are counted in one more.

    Args:
        comparison: the two sessions.
        most: sentences about single stations.
    """
    rows = changed_rows(comparison)
    if not comparison.any_both:
        nothing = comparison.chance_words
        return (f"{nothing[0].upper()}{nothing[1:]}.",)
    if not rows:
        return (gettext("No catch is gone or new, and no angle changed beyond error."),)
    said = [f"{_station(row, comparison.rows)}: {_what(row)}." for row in rows[:most]]
    more = len(rows) - most
    if more > 0:
        words = ngettext(
            "{count} more station changed: see the marks.",
            "{count} more stations changed: see the marks.",
            more,
        )
        said.append(words.format(count=more))
    return tuple(said)


def _station(row: CompareRow, rows: Sequence[CompareRow]) -> str:
    """Name a station, with its velocity where the muscle group has another one there."""
    same = [one for one in rows if (one.muscle, one.side) == (row.muscle, row.side)]
    return f"{row.name} {row.side.word}{f' {row.velocity}' if len(same) > 1 else ''}"


def _what(row: CompareRow) -> str:
    change, before, after = row.change, row.before, row.after
    assert before is not None, "told rows were measured twice"
    assert after is not None, "told rows were measured twice"
    kind = kind_of(row)
    if kind == GRADED:
        graded = gettext("quality {before}, now {after}")
        return graded.format(before=before.quality, after=after.quality)
    if kind == GONE:
        was = _listed((_at(row, change.r1.before), _grade(before.quality)))
        words = gettext("the catch is gone (was {was})") if was else gettext("the catch is gone")
        words = words.format(was=was)
    elif kind == NEW:
        now = _listed((_at(row, change.r1.after), _grade(after.quality)))
        with_now = gettext("a catch now ({now}), none before")
        words = with_now.format(now=now) if now else gettext("a catch now, none before")
    else:
        words = _moved(change.r1, CATCH)
    speeds = (before.fast_velocity, after.fast_velocity)
    if words and len({*speeds}) > 1:
        words += f" ({' > '.join(speeds)})"
    range_words = _moved(change.r2, RANGE)
    if change.pattern.warning and change.gap.change:
        smaller = gettext(", so the gap is {degrees} smaller")
        range_words += smaller.format(degrees=-change.gap.change)
    return "; ".join(filter(None, (words, range_words)))


def _at(row: CompareRow, stretch: int | None) -> str:
    return "" if stretch is None else gettext("at {angle}").format(angle=row.shown(stretch))


def _grade(quality: int | None) -> str:
    return "" if quality is None else gettext("quality {grade}").format(grade=quality)


def _listed(words: Iterable[str]) -> str:
    return ", ".join(filter(None, words))


def _moved(angle: AngleChange, told: _Told) -> str:
    """Tell what one angle did, "" where it was not read twice."""
    if angle.change is None:
        return ""
    small = abs(angle.change) <= error_of_readings(angle.reading_error, 2)
    if not angle.change or (angle.direction == 0 and small):
        return gettext(told.unchanged)
    moved = told.more if angle.change > 0 else told.less
    by = gettext(moved).format(degrees=abs(angle.change))
    if angle.direction:
        return by
    if angle.direction == 0:
        return f"{by} ({gettext('within error')})"
    beyond = angle.beyond_reading
    why = gettext("no published figure") if beyond else gettext("within reading error")
    return f"{by} ({why})"
