"""A muscle group named by letters of it, wherever one is typed."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ...core.problem import Problem
from ...core.tardieu.muscle import one_group
from ...core.tardieu.muscles import Muscle

NAMED = 4
"""Muscle groups named where letters fit several."""


def muscle_named(text: str, muscles: Mapping[str, Muscle]) -> str | Problem:
    """The id of the muscle group that letters name, "" for none, or why it is not clear."""
    wanted = text.casefold().split()
    if not wanted:
        return ""
    for id_, muscle in muscles.items():
        if text.strip().casefold() in (id_, muscle.name.casefold(), muscle.abbreviation.casefold()):
            return id_
    found = [id_ for id_, muscle in muscles.items() if _fits(wanted, muscle)]
    # "wri fl" is the wrist flexors, though "finger flexors, wrist straight" has both words.
    if group := one_group(found) or one_group([n for n in found if _begins(wanted, muscles[n])]):
        return group
    if not found:
        return Problem("muscle", f"no muscle group has {text!r}", "type letters of its name")
    names = ", ".join(muscles[id_].name for id_ in found[:NAMED])
    more = f" and {len(found) - NAMED} more" if len(found) > NAMED else ""
    return Problem("muscle", f"{text!r} fits {names}{more}", "type more letters")


def _fits(wanted: list[str], muscle: Muscle) -> bool:
    """Whether every word typed begins a word of the name, or the abbreviation."""
    words = [*_words(muscle), muscle.abbreviation.casefold()]
    return all(any(word.startswith(part) for word in words) for part in wanted)


def _begins(wanted: list[str], muscle: Muscle) -> bool:
    """Whether the words typed begin the first words of the name, in its order."""
    words = _words(muscle)
    return len(wanted) <= len(words) and all(map(str.startswith, words, wanted))


def _words(muscle: Muscle) -> list[str]:
    return re.split(r"[^\w]+", muscle.name.casefold())
