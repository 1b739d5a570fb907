"""Blind rating: a second rater types without seeing what was measured before."""

from __future__ import annotations

from dataclasses import replace

from ..tardieu.checks import RULES, CheckContext, check_reading
from ..tardieu.reading import Flag, Reading

HIDDEN = "last values are hidden: blind rating"
TREND_HIDDEN = "trends are hidden until this session is closed: blind rating"


def blind_flags(reading: Reading, context: CheckContext, whole: bool = True) -> tuple[Flag, ...]:
    """Find the flags of check_reading(); those that come from last values name no figure."""
    unseen = replace(context, last=None, other_side_last=None)
    open_ = check_reading(reading, unseen, whole)
    found = check_reading(reading, context, whole)
    return tuple(flag if flag in open_ else _without_figure(flag) for flag in found)


def _without_figure(flag: Flag) -> Flag:
    where = f"{flag.field.upper()}: " if flag.field in ("r1", "r2") else ""
    return replace(flag, text=f"{where}{RULES[flag.rule][1]}")
