"""A comparison in lines of plain text: the table, what it means, and where figures come from.

The screen and ``limbscribe compare`` say the same, so nothing here knows the screen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..chart.events import event_words, touches, toxin_label
from ..tardieu.measurement_error import NoFigure
from ..text import cut, folded, padded, visible
from .change import AngleChange
from .comparability import Difference, DifferenceLevel
from .compare import CompareRow, Comparison
from .compare_doc import HEADER, WIDTHS, cells, heading

WIDTH = 78
"""Cells of the whole table; below it gap and quality have no columns."""

_SHORT = 14
"""Cells for abbreviation and side in full."""

_NARROW = (_SHORT, *WIDTHS[1:7])
"""Widths of the columns where gap and quality have none."""

Names = Mapping[str, str]
"""Texts by id of the muscle group."""


def signs_line(comparison: Comparison, width: int) -> str:
    """What the signs of the table mean, as much as goes on one line of a width."""
    if width > WIDTH:
        limit = f"> < MDC{comparison.level}"
        return f"+9 more stretch {limit} = within ~ beyond reading error * gone + new ! unfair"
    return "> more < less  = within  ~ no figure  * gone + new  ! unfair"


def title_line(width: int) -> str:
    """The titles of the columns."""
    if width >= WIDTH:
        return _joined(HEADER, WIDTHS)
    return _joined(("Muscle, side", *HEADER[1:7]), _NARROW)


def row_line(row: CompareRow, width: int) -> str:
    """One station as a row of the table.

    Args:
        row: the station.
        width: cells there are.
    """
    shown = cells(row)
    if width >= WIDTH:
        return _joined((*shown[:-1], quality_text(row)), WIDTHS)
    return _joined(
        (f"{padded(cut(visible(row.short), 8), 8)} {row.side.word}", *shown[1:7]), _NARROW
    )


def quality_text(row: CompareRow) -> str:
    """Quality then and now, e.g. "3 to 2"; grades are an order, so there is no difference."""
    grades = (row.change.quality.before, row.change.quality.after)
    return " to ".join("." if grade is None else str(grade) for grade in grades)


def _joined(texts: Sequence[str], widths: Sequence[int]) -> str:
    columns = zip(texts, widths, strict=True)
    return " ".join(padded(visible(text), width) for text, width in columns).rstrip()


# What a station's change means ------------------------------------------------------------


def pattern_lines(row: CompareRow) -> list[str]:
    """What R1 and R2 did together, and what must not be misread."""
    pattern = row.change.pattern
    return [pattern.words, *([pattern.warning] if pattern.warning else [])]


def verdict_words(row: CompareRow) -> str:
    """Every change with its verdict in words."""
    change = row.change
    told = [a.words for a in change.angles if (a.before, a.after) != (None, None)]
    return "; ".join((*told, change.quality.words))


def toxin_line(row: CompareRow, comparison: Comparison) -> str:
    """The days since an injection then and now, "" when there was none or it is told as unfair."""
    told = any(one.id == "toxin" and one.level == "unfair" for one in row.differences)
    if told or row.toxin == (None, None):
        return ""
    then, now = (
        "no toxin on record" if day is None else toxin_label(day, comparison.bands[day])
        for day in row.toxin
    )
    return f"{then} then, {now} now"


def unlike_lines(row: CompareRow, comparison: Comparison, level: DifferenceLevel) -> list[str]:
    """What makes the comparison of this station unfair, and which numbers it touches; or notes."""
    if row.before is None or row.after is None:
        return []
    return _difference_lines((*row.differences, *comparison.differences), level)


def _difference_lines(differences: Sequence[Difference], level: DifferenceLevel) -> list[str]:
    """The differences of one level in words; a toxin day that is only noted has its own line."""
    return [
        _difference(one)
        for one in differences
        if one.level == level and (one.id, level) != ("toxin", "note")
    ]


def _difference(one: Difference) -> str:
    if one.level == "note":
        return f"differs: {one.words}"
    return f"! {one.words} (unfair to {', '.join(one.touches)})"


def event_lines(comparison: Comparison, names: Names, row: CompareRow | None = None) -> list[str]:
    """What was done between the sessions; with a row only what concerns it."""
    return [
        event_words(event, names)
        for event in comparison.events
        if row is None or touches(event, row.muscle, row.side)
    ]


# Figures ----------------------------------------------------------------------------------


def figure_line(angle: AngleChange) -> str:
    """The figure that a change is held against, with its source."""
    if isinstance(angle.found, NoFigure):
        return angle.found.line
    error = angle.found.error
    parts = [f"MDC{angle.level} {angle.mdc:.1f} deg: {angle.found.line}"]
    parts += [f"published as {error.published}", error.verified, error.note]
    return "; ".join(filter(None, parts))


def figures_used(rows: Sequence[CompareRow]) -> dict[str, int]:
    """Every figure line of these rows, numbered from 1 in the order of first use."""
    numbers: dict[str, int] = {}
    for row in rows:
        for angle in row.change.angles[:3]:
            if angle.mdc is not None and angle.change is not None:
                numbers.setdefault(figure_line(angle), len(numbers) + 1)
    return numbers


# The whole as lines -----------------------------------------------------------------------


def comparison_lines(comparison: Comparison, names: Names, width: int = 79) -> list[str]:
    """The comparison for a plain shell of 80 columns.

    Args:
        comparison: the comparison.
        names: names of the muscle groups.
        width: cells.
    """
    rows = comparison.rows
    numbers = figures_used(rows)
    lines = [
        *_wrapped(heading(comparison), width),
        *_wrapped("angles in deg as typed, each row in its present angle scale", width),
        *_wrapped(signs_line(comparison, width), width),
        *_wrapped(comparison.chance_words, width),
        "",
        title_line(width),
    ]
    for row in rows:
        lines += [row_line(row, width), *_below(row, comparison, numbers, width)]
    for title, texts in (
        ("what differs between the sessions", _differing(comparison.differences)),
        ("done between the sessions", event_lines(comparison, names)),
        ("measurement errors", [f"[{n}] {text}" for text, n in numbers.items()]),
    ):
        lines += ["", f"{title}:"]
        lines += [one for text in texts or ["nothing recorded"] for one in _wrapped(text, width, 2)]
    return lines


def _differing(differences: Sequence[Difference]) -> list[str]:
    return [*_difference_lines(differences, "unfair"), *_difference_lines(differences, "note")]


def _below(
    row: CompareRow, comparison: Comparison, numbers: Mapping[str, int], width: int
) -> list[str]:
    """The lines below a row: verdicts, pattern, and what differs at this station alone."""
    angles = row.change.angles[:3]
    verdicts = [_verdict(angle, numbers) for angle in angles if angle.change is not None]
    pattern, *warning = pattern_lines(row)
    texts = ["; ".join((*verdicts, pattern)), *warning]
    if row.before and row.after:
        texts += _differing(row.differences)
    texts += filter(None, [toxin_line(row, comparison)])
    return [one for text in texts for one in _wrapped(text, width, 4)]


def _verdict(angle: AngleChange, numbers: Mapping[str, int]) -> str:
    if angle.mdc is None:
        return f"{angle.name} no published figure"
    number = numbers.get(figure_line(angle))
    return f"{angle.name} {angle.verdict}" + (f" [{number}]" if number else "")


def _wrapped(text: str, width: int, indent: int = 0) -> list[str]:
    """Lines of a text, those after the first two cells further in."""
    return folded(visible(text), width, " " * indent, " " * (indent + 2))
