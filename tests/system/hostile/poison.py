"""Hostile text put into every text of a value, however deep, wherever the program keeps it.

A field of text that is added to a record tomorrow is poisoned tomorrow, without a change here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

from limbscribe.core.chart.chart_entry import ChartEntry

KEPT: Mapping[str, frozenset[str]] = {
    "*": frozenset(("started", "entered", "id", "at", "day", "open_since", "last", "parent")),
    "Reading": frozenset(("muscle", "fast_velocity")),
    "StationRow": frozenset(("muscle",)),
    "Item": frozenset(("muscle", "sides", "fast_velocity")),
    "Checklist": frozenset(("order", "field_order", "counts")),
    "Plan": frozenset(("field_order", "counts")),
    "Draft": frozenset(("not_tested",)),
    "Flag": frozenset(("level",)),
    "EntryState": frozenset(("mode", "back")),
    "Muscle": frozenset(("velocity", "default_scale", "reference", "region")),
    "Place": frozenset(("view",)),
    "Field": frozenset(("name", "kind")),
    "Form": frozenset(("outcome",)),
    "ReviewFrame": frozenset(("field_order", "counts")),
    "ChartState": frozenset(("view",)),
}
"""By class, "*" for every class: what is no text but a key, a kind or a date, which the files'
own parsers refuse when it is anything else."""

Next = Callable[[], str]


def poisoned(value: Any, text: Next) -> Any:
    """The value with hostile text in place of every text in it."""
    if isinstance(value, Enum | Path):
        return value
    if isinstance(value, str):
        return text()
    if isinstance(value, ChartEntry):
        kept, cells = _kept(value), value._asdict()
        return value._replace(**{k: poisoned(v, text) for k, v in cells.items() if k not in kept})
    if isinstance(value, tuple):
        return tuple(poisoned(one, text) for one in value)
    if isinstance(value, Mapping):
        return {key: poisoned(one, text) for key, one in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        kept = _kept(value)
        changes = {
            field.name: poisoned(getattr(value, field.name), text)
            for field in fields(value)
            if field.init and field.name not in kept
        }
        return replace(value, **changes)
    return value


def _kept(value: object) -> frozenset[str]:
    """Names of the texts of a value that no hostile text can stand in."""
    return frozenset(KEPT["*"] | KEPT.get(type(value).__name__, frozenset()))
