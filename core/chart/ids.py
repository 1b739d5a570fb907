"""Names on the shelf: random ids, never made from a patient code."""

from __future__ import annotations

import re

from ..errors import ShelfError

CHART_SUFFIX = ".json"
JOURNAL_SUFFIX = ".journal"
AMENDING_SUFFIX = ".amending"
"""The journal of an amendment that is being typed."""

_ID = re.compile(r"[0-9a-f]{32}", re.ASCII)


def new_id() -> str:
    """Make a new random chart id."""
    from secrets import token_hex

    return token_hex(16)


def checked(chart_id: str) -> str:
    """Check a chart id, so that nothing else ever becomes part of a path.

    Raises:
        ShelfError: when it is not a chart id.
    """
    if not _ID.fullmatch(chart_id):
        raise ShelfError(
            f"{chart_id!r} is not a chart: nothing was changed, choose one of the list"
        )
    return chart_id


def chart_id_of(name: str, suffix: str) -> str | None:
    """Find the chart id in a file name, None for any other file."""
    stem = name.removesuffix(suffix)
    return stem if name.endswith(suffix) and _ID.fullmatch(stem) else None


def journal_of(name: str) -> tuple[str, str] | None:
    """Find the chart of a journal and how its name ends, None for any other file."""
    for suffix in (JOURNAL_SUFFIX, AMENDING_SUFFIX):
        if chart_id := chart_id_of(name, suffix):
            return chart_id, suffix
    return None
