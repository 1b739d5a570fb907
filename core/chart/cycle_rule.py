"""The clinic's own rule for a treatment cycle, written in words from listed clauses.

``R1 later by 10 deg or catch gone and R2 not shorter than its figure``: "and" binds before
"or". The rule counts; it is the clinic's choice and no judgement of this program.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass

CLAUSES = (
    "R1 later by N deg",
    "R1 later than its figure",
    "catch gone",
    "R2 not shorter than its figure",
    "goal attained",
)
"""The clauses, N being a whole number of degrees."""

MOST_DEGREES = 180


@dataclass(frozen=True, slots=True)
class Seen:
    """What one muscle group showed in one window against the time before the treatment.

    Attributes:
        r1_change: deg, positive for a later catch; None without two catches.
        r1_direction: 1, 0 or -1 against its figure; None when that cannot be said.
        r2_direction: the same of R2.
        catch_gone: there was a catch, and there is none; None when either is not known.
        goal_attained: every scored goal of the treatment is at 0 or above; None without one.
    """

    r1_change: int | None = None
    r1_direction: int | None = None
    r2_direction: int | None = None
    catch_gone: bool | None = None
    goal_attained: bool | None = None


Clause = Callable[[Seen], bool | None]


@dataclass(frozen=True, slots=True)
class CycleRule:
    """A rule.

    Attributes:
        words: as the clinic wrote it.
        either: lists of clauses: one list must hold whole.
    """

    words: str
    either: tuple[tuple[Clause, ...], ...]

    def met(self, seen: Seen) -> bool | None:
        """Check whether the rule is met; None when what was measured does not tell."""
        return _any(_all(clause(seen) for clause in clauses) for clauses in self.either)


def rule_from(words: str) -> CycleRule | str:
    """Read a rule, or say what is wrong with it."""
    either: list[tuple[Clause, ...]] = []
    for part in re.split(r"\bor\b", words.casefold()):
        clauses: list[Clause] = []
        for text in re.split(r"\band\b", part):
            clause = _clause(" ".join(text.split()))
            if clause is None:
                return f"no clause {text.strip()!r}"
            clauses.append(clause)
        either.append(tuple(clauses))
    return CycleRule(words, tuple(either))


def _clause(text: str) -> Clause | None:
    if later := re.fullmatch(r"r1 later by ([0-9]{1,3}) deg", text):
        least = int(later.group(1))
        return _later_by(least) if 0 < least <= MOST_DEGREES else None
    return _FIXED.get(text)


def _later_by(least: int) -> Clause:
    return lambda seen: None if seen.r1_change is None else seen.r1_change >= least


def _later(seen: Seen) -> bool | None:
    return None if seen.r1_direction is None else seen.r1_direction > 0


def _not_shorter(seen: Seen) -> bool | None:
    return None if seen.r2_direction is None else seen.r2_direction >= 0


_FIXED: dict[str, Clause] = {
    "r1 later than its figure": _later,
    "catch gone": lambda seen: seen.catch_gone,
    "r2 not shorter than its figure": _not_shorter,
    "goal attained": lambda seen: seen.goal_attained,
}


def _all(found: Iterable[bool | None]) -> bool | None:
    values = list(found)
    return False if False in values else None if None in values else True


def _any(found: Iterable[bool | None]) -> bool | None:
    values = list(found)
    return True if True in values else None if None in values else False
