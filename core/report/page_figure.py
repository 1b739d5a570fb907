"""The body chart of a page in letters: the tens of the gap where each muscle group is."""

from __future__ import annotations

from .page import Page


def figure_rows(page: Page, width: int) -> list[str]:
    """Draw nothing yet."""
    return []
