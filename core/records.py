"""Records as JSON documents: a field is a key, and a record in a field is a document there.

Documents are sealed and signed, so the bytes of one that is written already never change. A field
that a record gets later is made with added(): it is written only when it says something.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field, fields, is_dataclass
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, cast

T = TypeVar("T")


def added(default: T) -> T:
    """Make a field that earlier versions had not; its default is not written."""
    return field(default=default, metadata={"added": True})


def to_doc(record: Any) -> dict[str, Any]:
    """Write a record as a JSON document, its fields in their order."""
    own = _fields(record.__class__)
    return {
        name: _json(value) for name, unsaid in own if (value := getattr(record, name)) != unsaid
    }


def from_doc(kind: type[T], doc: dict[str, Any], **read: Callable[[Any], object]) -> T:
    """Read a record in a JSON document; keys that are not its own are passed over.

    Args:
        kind: class of the record.
        doc: the document.
        read: by the name of a field, what makes its value of what is written.

    Raises:
        KeyError, TypeError, ValueError: when the document is not such a record.
    """
    own = _fields(kind)
    given = {name: doc[name] for name, unsaid in own if unsaid is _ALWAYS or name in doc}
    for name, made in read.items():
        given[name] = made(given[name])
    return kind(**given)


def each_of(kind: Callable[..., T]) -> Callable[[list[dict[str, Any]]], tuple[T, ...]]:
    """Make the reader of a list of records that have all their keys, and no other."""
    return lambda docs: tuple(kind(**doc) for doc in docs)


@cache
def _fields(kind: type[Any]) -> tuple[tuple[str, object], ...]:
    """List the fields of a record, each with the value that is not written."""
    return tuple((each.name, each.default if each.metadata else _ALWAYS) for each in fields(kind))


_ALWAYS = object()
"""Stands for the value that is not written of a field that always is."""

_PLAIN = frozenset((str, int, float, bool, type(None)))


def _json(value: Any) -> Any:
    if value.__class__ in _PLAIN:
        return value
    if isinstance(value, tuple):
        return [_json(one) for one in cast("tuple[object, ...]", value)]
    if isinstance(value, StrEnum):
        return value.value
    # What else an import or a forged document holds stays as it is.
    return to_doc(value) if is_dataclass(value) else value
