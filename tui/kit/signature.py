"""What a form asks of whoever signs a change: initials or staff code, and a reason."""

from __future__ import annotations

from collections.abc import Mapping

from ...core.chart.staff import parse_staff
from ...core.problem import Problem
from ...core.text import hidden_character

LONGEST_REASON = 200


def problems_in(**read: object) -> dict[str, Problem]:
    """What is wrong with values as they were read, by field name."""
    return {name: value for name, value in read.items() if isinstance(value, Problem)}


def author_problems(values: Mapping[str, str]) -> dict[str, Problem]:
    """What is wrong with the author, by field name."""
    return problems_in(author=parse_staff(values["author"]))


def reason_problems(values: Mapping[str, str], missing: str = "") -> dict[str, Problem]:
    """What is wrong with the reason, by field name.

    Args:
        values: of the form.
        missing: what to say when it is missing, "" where it may stay empty.
    """
    if missing and not values["reason"]:
        return {"reason": Problem("reason", "it is missing", missing)}
    if hidden := hidden_character(values["reason"]):
        what = f"it has a hidden character, {hidden}"
        return {"reason": Problem("reason", what, "type it again")}
    return {}
