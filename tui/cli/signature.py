"""Who signs what a command changes, and why."""

from __future__ import annotations

from ...core.chart.staff import parse_staff
from ...core.problem import Problem
from ...core.tardieu.reading import MAX_TEXT
from ...core.text import hidden_character
from ..terminal.output import USAGE
from .stop import Stop


def author_from(text: str | None) -> str:
    """Read the initials or staff code given with --by.

    Raises:
        Stop: when nobody is named, or it is none.
    """
    author = parse_staff(text or "")
    if isinstance(author, Problem):
        raise Stop(USAGE, f"--by: {author.what}, {author.mend}; nothing was changed")
    return author


def reason_from(text: str | None) -> str:
    """Read the reason given with --reason, "" for none.

    Raises:
        Stop: when it is not plain text of a fair length.
    """
    reason = (text or "").strip()
    if len(reason) > MAX_TEXT or hidden_character(reason):
        raise Stop(USAGE, f"--reason: plain text of at most {MAX_TEXT} characters")
    return reason
