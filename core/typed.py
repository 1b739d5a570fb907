"""Records out of files: each value of the type that its class states, or a TypeError.

A file may be whole and say nonsense: somebody forged it, or a program of somebody else wrote it.
What came in here is what the rest of the program relies on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from operator import attrgetter
from types import UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")
Check = Callable[[Any], bool]


@dataclass(frozen=True, slots=True)
class _Plan:
    """How a class is checked.

    Attributes:
        simple: takes the values that have nothing inside out of a record.
        kinds: the types that each of them may have.
        inside: the other values, and the check of each.
        seen: types of the simple values together that were found right.
    """

    simple: Callable[[object], Iterable[Any]]
    kinds: tuple[frozenset[object], ...]
    inside: tuple[tuple[Callable[[object], Any], Check], ...]
    seen: set[tuple[object, ...]] = field(default_factory=set[tuple[object, ...]])


def checked(record: T) -> T:
    """Return the record, every value of it of the type that its class states.

    Raises:
        TypeError: when one is not.
    """
    plan = _plan(type(record))
    types = tuple(map(type, plan.simple(record)))
    if types not in plan.seen:
        for kind, allowed in zip(types, plan.kinds, strict=True):
            if kind not in allowed:
                raise TypeError(f"{kind.__name__} is where another value belongs")
        plan.seen.add(types)
    for value_of, holds in plan.inside:
        if not holds(value_of(record)):
            raise TypeError("a list or a record in it is not what it should be")
    return record


@cache
def _plan(kind: type) -> _Plan:
    hints = get_type_hints(kind)
    names = [one.name for one in fields(cast("Any", kind))]
    plain = {name: kinds for name in names if (kinds := _kinds(hints[name]))}
    inside = tuple((attrgetter(n), _inside(hints[n])) for n in names if n not in plain)
    # A getter of one name would give a bare value: so one more, that every object has.
    return _Plan(attrgetter(*plain, "__class__"), (*plain.values(), frozenset({type})), inside)


def _kinds(hint: Any) -> frozenset[object]:
    """The types that a value may have, none where there is something inside to be looked at."""
    origin, inner = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        parts = [_kinds(one) for one in inner]
        return frozenset[object]().union(*parts) if all(parts) else frozenset()
    if origin is Literal:
        return frozenset(type(one) for one in cast("tuple[object, ...]", inner))
    plain = origin is None and not is_dataclass(hint)
    return frozenset[object]({hint}) if plain else frozenset()


def _inside(hint: Any) -> Check:
    """Make the check of one type."""
    origin, inner = get_origin(hint), get_args(hint)
    if kinds := _kinds(hint):
        return lambda value: type(value) in kinds
    if origin in (Union, UnionType):
        checks = [_inside(one) for one in inner]
        return lambda value: any(holds(value) for holds in checks)
    if origin is tuple:
        return _tuple(inner)
    if origin in (dict, Mapping):
        return lambda value: isinstance(value, Mapping)
    return lambda value: type(value) is hint and checked(value) is value


def _tuple(inner: tuple[Any, ...]) -> Check:
    checks = [_inside(one) for one in inner if one is not Ellipsis]
    if len(checks) < len(inner):  # as many as there are, all of one type
        holds = checks[0]
        return lambda value: (
            value == () or ((all_ := _items(value)) is not None and all(map(holds, all_)))
        )
    return lambda value: (
        (items := _items(value)) is not None
        and len(items) == len(checks)
        and all(holds(one) for holds, one in zip(checks, items, strict=True))
    )


def _items(value: object) -> tuple[Any, ...] | None:
    """Return the items of a tuple, None for anything else."""
    return cast("tuple[Any, ...]", value) if type(value) is tuple else None
