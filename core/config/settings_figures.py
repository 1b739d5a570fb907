"""The figures of the configuration: what each may be, and what is said of one that may not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar, cast

from ..problem import Problem
from ..tomlfile import TomlText

Figure = TypeVar("Figure", int, float)


@dataclass(frozen=True, slots=True)
class Range:
    """What a figure may be.

    Attributes:
        low: the least.
        high: the most.
        words: the same for a reader.
        fractions: it need not be a whole number.
        only: when not empty, the only figures there are.
    """

    low: int
    high: int
    words: str
    fractions: bool = False
    only: tuple[int, ...] = ()

    def has(self, value: object) -> bool:
        """Whether a value is such a figure; true and false are not numbers here."""
        if type(value) is int or (self.fractions and type(value) is float):
            return self.low <= value <= self.high and (not self.only or value in self.only)
        return False


FIGURES: dict[str, Range] = {
    # Larger figures would switch these checks off without saying so.
    "reading_error": Range(1, 30, "a whole number of degrees from 1 to 30"),
    "change": Range(1, 180, "a whole number of degrees from 1 to 180"),
    # The narrowest asks at every sixth healthy joint, the widest never.
    "reference_sd": Range(1, 5, "standard deviations, a number from 1 to 5", fractions=True),
    "reading_step": Range(1, 10, "deg, one of 1, 2, 5, 10", only=(1, 2, 5, 10)),
    # A screen left open for longer than a clinic session is as good as never locked.
    "idle_minutes": Range(0, 240, "whole minutes from 0 (never) to 240"),
}
"""By key of the file."""


def figure(toml: TomlText, key: str, default: Figure, problems: list[Problem]) -> Figure:
    """A figure of the file; the default, and a Problem, when it is none that may be."""
    value = toml.data.get(key, default)
    if FIGURES[key].has(value):
        return cast("Figure", value)
    mend = f"{FIGURES[key].words}; {default:g} is used"
    problems.append(toml.problem(f"{key} = {value!r}", mend, key=key))
    return default
