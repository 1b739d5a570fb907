"""Records out of files: each value of the type that its class states, or a TypeError.

A file may be whole and say nonsense: somebody forged it, or a program of somebody else wrote it.
What came in here is what the rest of the program relies on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache, lru_cache
from itertools import chain
from operator import attrgetter
from types import UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")
Check = Callable[[tuple[Any, ...]], bool]
"""Takes the values that stand in one place of many records, all at a time."""


def as_doc(record: object) -> dict[str, Any]:
    """Write a record as a JSON object: its fields by their names, what is in them as it is."""
    names, values = _written(type(record))
    return dict(zip(names, values(record), strict=True))


def doc_of_many(record: object) -> dict[str, Any]:
    """Write a small record that many others hold, as as_doc() does; it is looked at once."""
    return _kept(record).copy()


_kept = lru_cache(maxsize=1024)(as_doc)


@cache
def _written(kind: type) -> tuple[tuple[str, ...], Callable[[object], tuple[Any, ...]]]:
    """Names of a record's fields, and what takes all their values at once; at least two."""
    names = names_of(kind)
    return names, attrgetter(*names)


@cache
def names_of(kind: type) -> tuple[str, ...]:
    """List the fields of a record's class."""
    return tuple(one.name for one in fields(cast("Any", kind)))


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
    if not _all_sound(type(record), (record,)):
        raise TypeError("a list or a record in it is not what it should be")
    return record


def _all_sound(kind: type, records: tuple[Any, ...]) -> bool:
    """Check the values of records of one class, all of them at a time, which is quick.

    Raises:
        TypeError: when a value that has nothing inside is of another type.
    """
    plan = _plan(kind)
    if len(records) > 1:  # the same few scales are in many readings
        records = tuple({id(record): record for record in records}.values())
    for types in {tuple(map(type, values)) for values in map(plan.simple, records)} - plan.seen:
        for one, allowed in zip(types, plan.kinds, strict=True):
            if one not in allowed:
                raise TypeError(f"{one.__name__} is where another value belongs")
        plan.seen.add(types)
    return all(holds(tuple(map(value_of, records))) for value_of, holds in plan.inside)


@cache
def _plan(kind: type) -> _Plan:
    hints = get_type_hints(kind)
    names = names_of(kind)
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
        return lambda values: kinds.issuperset(map(type, values))
    if origin in (Union, UnionType):
        checks = [_inside(one) for one in inner]
        return lambda values: all(any(holds((one,)) for holds in checks) for one in values)
    if origin is tuple:
        return _tuple(inner)
    if origin in (dict, Mapping):
        return lambda values: all(isinstance(one, Mapping) for one in values)
    return lambda values: {hint}.issuperset(map(type, values)) and _all_sound(hint, values)


def _tuple(inner: tuple[Any, ...]) -> Check:
    checks = [_inside(one) for one in inner if one is not Ellipsis]
    are_tuples = {tuple}.issuperset
    if len(checks) < len(inner):  # as many as there are, all of one type
        holds = checks[0]
        return lambda values: (
            are_tuples(map(type, values))
            and (not any(values) or holds(tuple(chain.from_iterable(values))))
        )
    return lambda values: (
        are_tuples(map(type, values))
        and all(len(one) == len(checks) for one in values)
        and all(holds(part) for holds, part in zip(checks, zip(*values, strict=True), strict=False))
    )
