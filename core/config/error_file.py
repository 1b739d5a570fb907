"""Measurement errors read from TOML: those that come with the program, and a clinic's own.

A file is read whole and every fault in it is reported with its line.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from functools import cache
from typing import cast

from ..chart.patient import DIAGNOSIS_GROUPS
from ..problem import Problem
from ..tardieu.measurement_error import (
    AGES,
    ANY,
    INSTRUMENTS,
    INTERVALS,
    QUANTITIES,
    RATERS,
    MeasurementError,
    Quantity,
    sem_of_mad,
    sem_of_mdc,
)
from ..tomlfile import DATA, Table, read_toml, sound, tables_in

FILE = "measurement_error.toml"

POPULATIONS = (*DIAGNOSIS_GROUPS, "healthy", ANY)

_TEXTS = ("name", "source", "verified", "note", "position")
_MAY_BE_EMPTY = ("note", "position")
_CHOICES: dict[str, tuple[str, ...]] = {
    "limb": ("upper", "lower"),
    "age": AGES,
    "raters": RATERS,
    "interval": INTERVALS,
    "instrument": (*INSTRUMENTS, ANY),
}
_LISTS = ("quantities", "muscles", "populations")
_FIGURES = ("sem", "mdc", "mad")
_KEYS = (*_TEXTS, *_CHOICES, *_LISTS, *_FIGURES, "level")

_LONGEST_TEXT = 200
_WIDEST = 180
"""deg; a larger error than a half turn is a mistake."""


@cache
def shipped_errors() -> tuple[MeasurementError, ...]:
    """Load every measurement error that comes with the program, in the order of the file."""
    return sound(parse_errors((DATA / FILE).read_text("utf-8"), FILE))


def parse_errors(
    text: str, name: str, own: bool = False, muscles: Collection[str] = ()
) -> tuple[MeasurementError, ...] | list[Problem]:
    """Read measurement errors from TOML text, or list everything that is wrong with it.

    Args:
        text: the file's text.
        name: the file's name, for messages.
        own: the figures are the clinic's own.
        muscles: ids of the known muscle groups, to check against; () takes any.
    """
    toml = read_toml(text, name)
    if isinstance(toml, Problem):
        return [toml]
    problems: list[Problem] = []
    entries = tables_in(toml, "error", _ErrorTable, problems)
    errors = tuple(_error(entry, own, muscles) for entry in entries)
    return problems or errors


class _ErrorTable(Table):
    """One [[error]] table being read."""

    def text(self, key: str) -> str:
        """Read a printable text of one line."""
        may_be_empty = key in _MAY_BE_EMPTY
        value = self.table.get(key, "" if may_be_empty else None)
        fits = isinstance(value, str) and value.isprintable() and len(value) <= _LONGEST_TEXT
        if fits and (value.strip() or may_be_empty):
            return value
        fix = f"a text of at most {_LONGEST_TEXT} characters on one line"
        return self.refuse(key, fix, " does not fit")

    def refuse(self, key: str, fix: str, why: str = "") -> str:
        """Complain of a value, or that it is missing."""
        value = self.table.get(key)
        what = f"{key!r} is missing" if value is None else f"{key} = {value!r}{why}"
        self.complain(key, what, fix)
        return ""

    def choice(self, key: str) -> str:
        """Read one of the words allowed for a key."""
        value = self.table.get(key)
        if isinstance(value, str) and value in _CHOICES[key]:
            return value
        return self.refuse(key, "one of " + ", ".join(_CHOICES[key]))

    def words(self, key: str, allowed: Collection[str], may_be_empty: bool) -> tuple[str, ...]:
        """Read a list of words, of the allowed ones when any are named."""
        given: object = self.table.get(key)
        if not isinstance(given, list):
            self.refuse(key, f'write a list, as in {key} = ["..."]', " is not a list")
            return ()
        value = cast("list[object]", given)
        strange = [
            word
            for word in value
            if not isinstance(word, str) or not word or (allowed and word not in allowed)
        ]
        if strange or not (value or may_be_empty):
            what = f"{key} has {strange[0]!r}" if strange else f"{key} is empty"
            self.complain(key, what, "of " + ", ".join(allowed) if allowed else "texts in quotes")
            return ()
        return tuple(map(str, value))

    def degrees(self, key: str) -> float:
        """Read a figure in deg; 1 after a complaint."""
        value = self.table[key]
        if type(value) in (int, float) and math.isfinite(value) and 0 < value <= _WIDEST:
            return float(value)
        self.refuse(key, f"a number over 0, at most {_WIDEST}, in deg")
        return 1.0


def _error(entry: _ErrorTable, own: bool, muscles: Collection[str]) -> MeasurementError:
    entry.only(_KEYS)
    texts = {key: entry.text(key) for key in _TEXTS}
    choices = {key: entry.choice(key) for key in _CHOICES}
    quantities = entry.words("quantities", QUANTITIES, may_be_empty=False)
    sem, published = _figure(entry)
    return MeasurementError(
        **texts,
        **choices,
        quantities=cast("tuple[Quantity, ...]", quantities),
        muscles=entry.words("muscles", muscles, may_be_empty=True),
        populations=entry.words("populations", POPULATIONS, may_be_empty=True),
        sem=sem,
        published=published,
        own=own,
    )


def _figure(entry: _ErrorTable) -> tuple[float, str]:
    """Read the SEM (deg) and the figure as published."""
    given = [key for key in _FIGURES if key in entry.table]
    if len(given) != 1:
        what = "no figure" if not given else " and ".join(given) + " together"
        entry.complain(given[-1] if given else "", what, "give one of " + ", ".join(_FIGURES))
        return 1.0, ""
    key = given[0]
    value = entry.degrees(key)
    level = entry.table.get("level")
    if key != "mdc":
        if level is not None:
            entry.complain("level", f"level with {key}", "leave it out: it belongs to mdc")
        sem = value if key == "sem" else sem_of_mad(value)
        return sem, f"{'SEM' if key == 'sem' else 'mean absolute difference'} {value:g}"
    if type(level) is not int or level not in (90, 95):
        entry.refuse("level", "90 or 95")
        return 1.0, ""
    return sem_of_mdc(value, level), f"MDC{level} {value:g}"
