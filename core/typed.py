"""Records out of files: each value of the type that its class states, or a TypeError.

A file may be whole and say nonsense: somebody forged it, or a program of somebody else wrote it.
What came in here is what the rest of the program relies on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from functools import cache
from operator import attrgetter
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, Union, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")
Check = Callable[[Any], bool]


@dataclass(frozen=True, slots=True)
class _Plan:
    """How a class is checked.

    Attributes:
        simple: takes the values that have nothing inside out of a record.
        kinds: the types that each of them may have.
        words: takes the values of which the class lists every one that there may be.
        listed: what each of these may be.
        inside: the other values, and the check of each.
        seen: types of the simple values, and these words, that were found right together.
    """

    simple: Callable[[object], Iterable[Any]]
    kinds: tuple[frozenset[object], ...]
    words: Callable[[object], Iterable[Any]]
    listed: tuple[frozenset[object], ...]
    inside: tuple[tuple[Callable[[object], Any], Check], ...]
    seen: set[object] = field(default_factory=set[object])


def checked(record: T) -> T:
    """Return the record, every value of it of the type that its class states.

    Raises:
        TypeError: when one is not, or is none of the words that its class lists.
    """
    plan = _plan(type(record))
    types, words = tuple(map(type, plan.simple(record))), plan.words(record)
    if (types, words) not in plan.seen:
        for kind, allowed in zip(types, plan.kinds, strict=True):
            if kind not in allowed:
                raise TypeError(f"{kind.__name__} is where another value belongs")
        for word, listed in zip(words, plan.listed, strict=True):
            if word not in listed:
                raise TypeError("a word is none of those that belong there")
        plan.seen.add((types, words))
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
    words = {name: listed for name in plain if (listed := _listed(hints[name]))}
    own = frozenset[object]({kind})
    # A getter of one name would give a bare value: so more, that every object has.
    return _Plan(
        attrgetter(*plain, "__class__"),
        (*plain.values(), frozenset({type})),
        attrgetter(*words, "__class__", "__class__"),
        (*words.values(), own, own),
        inside,
    )


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


def _listed(hint: Any) -> frozenset[object]:
    """Every value that there may be, none where the type does not list them."""
    inner: tuple[Any, ...] = get_args(hint)
    if get_origin(hint) is Literal:
        return frozenset(inner)
    parts = [_listed(one) for one in inner if one is not NoneType]
    if get_origin(hint) in (Union, UnionType) and all(parts):
        return frozenset[object]().union(*parts, {None} if NoneType in inner else ())
    return frozenset()


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
