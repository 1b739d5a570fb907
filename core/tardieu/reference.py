"""Reference ranges: how far healthy people's joints go, by age, sex and position.

Each value comes from ``data/reference_ranges.toml`` with its source and how far that was
verified. A reference belongs to one test position: with the knee straight the ankle goes
another way than with the knee bent. Where no published value fits there is none, and the
reason is said in words. Intervals of confidence of a mean are never given as a range.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from math import floor
from typing import Any, Literal

from ..tomlfile import DATA

Sex = Literal["female", "male", "any"]
SEXES: tuple[Sex, ...] = ("female", "male", "any")

Kind = Literal["passive", "not stated", "active"]
KINDS: tuple[Kind, ...] = ("passive", "not stated", "active")
"""How the joint was moved, the nearest to a slow passive stretch first."""


@dataclass(frozen=True, slots=True)
class Reference:
    """A published value of one motion in one position, for some ages and one sex or any.

    Attributes:
        motion: id of the motion; it names the position where that matters.
        mean: stretch angle, deg.
        sd: standard deviation between people, deg, None when not published.
        low: low end of the published range of people, stretch angle, deg, or None.
        high: high end of it, or None.
        age_from: first age in completed years.
        age_to: last age, inclusive.
        sex: "female", "male" or "any".
        kind: "passive" or "active" motion, or "not stated".
        position: how the people lay or sat, as far as that is known.
        source: the publication.
        verified: how far the figure was checked against it.
    """

    motion: str
    mean: int | float
    sd: float | None
    low: int | float | None
    high: int | float | None
    age_from: int
    age_to: int
    sex: Sex
    kind: Kind
    position: str
    source: str
    verified: str

    @property
    def whole(self) -> int:
        """The mean in whole deg, half a degree up: what readings are held against."""
        return floor(self.mean + 0.5)

    @property
    def kind_words(self) -> str:
        """Say how the joint was moved."""
        if self.kind == "not stated":
            return "passive or active motion not stated"
        return f"{self.kind} motion"


@cache
def shipped_references() -> tuple[Reference, ...]:
    """Load every reference that comes with the program, in the order of the file."""
    data = tomllib.loads((DATA / "reference_ranges.toml").read_text("utf-8"))
    return tuple(reference for table in data["range"] for reference in _references(table))


def _references(table: dict[str, Any]) -> list[Reference]:
    """Read the references in one [[range]]: one for each of the sexes it has figures for.

    Raises:
        KeyError, ValueError: when the table is not one.
    """
    age_from, age_to = table.pop("ages")
    none = dict.fromkeys(("sd", "low", "high"))
    figures: dict[Sex, dict[str, Any]]
    figures = {sex: none | table.pop(sex) for sex in SEXES if sex in table}
    return [
        Reference(**table, **found, sex=sex, age_from=age_from, age_to=age_to)
        for sex, found in figures.items()
    ]


@lru_cache(1024)
def find_reference(motion: str, age: int | None, sex: str) -> Reference | str:
    """Find the reference of a motion for one person, or say why there is none.

    Of several that fit the passive one comes first, then what is not stated, then the active
    one; of equal kinds the first in the table.

    Args:
        motion: id of the motion, "" when the muscle group has none.
        age: completed years, None when the birth year is not stated.
        sex: "female", "male" or "" when not stated.
    """
    rows = [row for row in shipped_references() if row.motion == motion]
    if not rows:
        return "no reference for this motion in this position"
    if age is None:
        return "no reference: birth year not stated"
    rows = [row for row in rows if row.age_from <= age <= row.age_to]
    rows.sort(key=lambda row: KINDS.index(row.kind))
    if not rows:
        return "no reference for this age"
    for row in rows:
        if row.sex in (sex, "any"):
            return row
    return "no reference: sex not stated"
