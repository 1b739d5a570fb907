"""What changed between two sessions, told in short sentences, the most important first.

Catches that are gone come first, then new ones, then changes beyond the measurement error,
then range that was lost, then what is beyond reading error but has no published figure. A
sentence says what the numbers did and never whether that is good.
"""

from __future__ import annotations

from collections.abc import Iterable

from .change import AngleChange
from .compare import CompareRow, Comparison

Kind = int
GONE, NEW, BEYOND, LOST, NO_FIGURE, UNCHANGED = range(6)
"""Kinds of change of a station, in the order in which they are told."""


def kind_of(row: CompareRow) -> Kind:
    """Say what kind of change a station has."""
    change = row.change
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
    return UNCHANGED


def changed_rows(comparison: Comparison) -> list[CompareRow]:
    """List the stations that changed in the order in which they are told.

    Within one kind the one that changed most in units of its error comes first.
    """
    rows = [row for row in comparison.rows if row.before and row.after]
    changed = [row for row in rows if kind_of(row) != UNCHANGED]
    return sorted(changed, key=lambda row: (kind_of(row), -(row.change.size or 0.0)))


def sentence_of(row: CompareRow) -> str:
    """Tell the change of one station: its name and side, then what the numbers did."""
    return f"{row.name} {row.side.word}: {_what(row)}."


def told(comparison: Comparison, most: int) -> tuple[str, ...]:
    """Tell the changes in sentences; those beyond so many are counted in one more.

    Args:
        comparison: the two sessions.
        most: sentences about single stations.
    """
    rows = changed_rows(comparison)
    if not rows:
        return ("No catch is gone or new, and no angle changed beyond error.",)
    said = [sentence_of(row) for row in rows[:most]]
    more = len(rows) - most
    if more > 0:
        stations = "1 more station" if more == 1 else f"{more} more stations"
        said.append(f"{stations} changed: see the marks.")
    return tuple(said)


def _what(row: CompareRow) -> str:
    change, before, after = row.change, row.before, row.after
    assert before is not None, "told rows were measured twice"
    assert after is not None, "told rows were measured twice"
    kind = kind_of(row)
    if kind == GONE:
        was = _listed((_at(row, change.r1.before), _grade(before.quality)))
        words = "the catch is gone" + (f" (was {was})" if was else "")
    elif kind == NEW:
        now = _listed((_at(row, change.r1.after), _grade(after.quality)))
        words = "a catch now" + (f" ({now})" if now else "") + ", none before"
    else:
        words = _moved(change.r1, "catch", "later", "earlier")
    range_words = _moved(change.r2, "range", "longer", "shorter")
    if change.pattern.warning and change.gap.change:
        range_words += f", so the gap is {-change.gap.change} smaller"
    return "; ".join(filter(None, (words, range_words)))


def _at(row: CompareRow, stretch: int | None) -> str:
    return "" if stretch is None else f"at {row.shown(stretch)}"


def _grade(quality: int | None) -> str:
    return "" if quality is None else f"quality {quality}"


def _listed(words: Iterable[str]) -> str:
    return ", ".join(filter(None, words))


def _moved(angle: AngleChange, what: str, more: str, less: str) -> str:
    """Tell what one angle did, "" where it was not read twice."""
    if angle.change is None:
        return ""
    if angle.direction == 0 or not angle.change:
        return f"{what} unchanged"
    by = f"{what} {abs(angle.change)} {more if angle.change > 0 else less}"
    if angle.direction:
        return by
    if angle.beyond_reading:
        return f"{by} (no published figure)"
    return f"{what} unchanged within reading error"
