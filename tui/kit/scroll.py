"""Where a list stands in its window."""

from __future__ import annotations

from .paint import Row


def scroll_row(top: int, room: int, total: int, width: int) -> Row:
    """A rule that says which part of a list is in sight."""
    words = f"- {top + 1} to {min(total, top + room)} of {total} " if total > room else ""
    return ((words + "-" * (width - len(words)), "dim"),)
