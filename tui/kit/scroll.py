"""A list or a text in a window: its cursor, the keys that move it, and the part in sight.

Everything is counted in rows from 0; ``count`` is the length of the list and ``room`` that of
the window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TypeVar

from .paint import Row, fit, line

T = TypeVar("T")

STEPS = ("up", "down", "pageup", "pagedown", "home", "end")
"""The actions that move in a list."""


def following(values: Sequence[T], value: T) -> T:
    """The value after this one, round to the first; the first after one that is not there."""
    return values[(values.index(value) + 1) % len(values)] if value in values else values[0]


def clamped(at: int, count: int) -> int:
    """Bring an index into a list; 0 in an empty one."""
    return max(0, min(at, count - 1))


def moved(at: int, action: str, count: int, page: int = 1) -> int:
    """Move the cursor of a list as an action says, as far as the list goes.

    Args:
        at: index of the selected row.
        action: one of STEPS.
        count: rows of the list.
        page: rows that a page key passes over.
    """
    return clamped(at + _step(action, count, page), count)


def scrolled(top: int, action: str, count: int, room: int) -> int:
    """Scroll a text as an action says; a page keeps one row of the page before in sight."""
    return clamped_top(top + _step(action, count, max(1, room - 1)), count, room)


def clamped_top(top: int, count: int, room: int) -> int:
    """Bring the first row in sight to where the window is full, if the list fills it at all."""
    return max(0, min(top, count - room))


def _step(action: str, count: int, page: int) -> int:
    steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page, "home": -count, "end": count}
    return steps[action]


def first_shown(top: int, selected: int, room: int, count: int) -> int:
    """Scroll no more than needed for the selected row to be in sight.

    Args:
        top: the first row in sight before.
        selected: index that must be seen.
        room: rows of the window.
        count: rows of the list.

    Returns:
        The first row in sight.
    """
    return clamped_top(min(max(top, selected - room + 1), selected), count, room)


def centred(selected: int, room: int, count: int) -> int:
    """The first row in sight when the selected one is in the middle, the ends apart."""
    return clamped_top(selected - room // 2, count, room)


def moving(take: Callable[[str], None]) -> dict[str, Callable[[], None]]:
    """Make the entries for STEPS in a screen's table of actions."""
    return {action: partial(take, action) for action in STEPS}


def pointer_row(text: str, here: bool, width: int, style: str = "") -> Row:
    """A row of a list: the selected one is reversed and has a pointer before it."""
    row = fit(line(f"{'>' if here else ' '} {text}"), width)
    return tuple((part, "here" if here else style or kept) for part, kept in row)


def pointer_rows(texts: Iterable[str], top: int, at: int, width: int) -> list[Row]:
    """Rows of a list from ``top`` on, the one at ``at`` being the selected one."""
    return [pointer_row(text, index == at, width) for index, text in enumerate(texts, top)]


def scroll_row(top: int, room: int, total: int, width: int) -> Row:
    """A rule that says which part of a list is in sight."""
    words = f"- {top + 1} to {min(total, top + room)} of {total} " if total > room else ""
    return ((words + "-" * (width - len(words)), "dim"),)
