"""Copies of one chart that were written at several sites, put together.

Nothing of a document changes: it is kept as it was signed, with its sum, and says what it said
it follows. Only its number in the file is given anew, in the one order that follows from what
the documents say (links.py). So copies put together in whatever order and grouping end in the
same file. What cannot be put together without a guess is refused, and both copies stay.
"""

from __future__ import annotations

from .document import (
    TABLES,
    Contents,
    Json,
    Tables,
    body_of,
    head_of,
    in_order,
    is_object,
    place_of,
    unread_of,
)
from .links import FOLLOWS, in_written_order

NAMES = {
    "patient": ("patient", "patients"),
    "sessions": ("session", "sessions"),
    "amendments": ("amendment", "amendments"),
    "events": ("event", "events"),
    "details": ("change of details", "changes of details"),
    "transfers": ("note of a session withdrawn or moved", "notes of sessions withdrawn or moved"),
}
"""Table -> what one document of it is called, and several."""

Place = tuple[str, str]
"""Table and checksum of a document."""

Numbered = dict[Place, tuple[str, object]]
"""Documents, each with its number in its file."""


class NotMerged(ValueError):  # noqa: N818 - says what was not done
    """Two copies of a chart cannot be put together; says why."""


def sound_documents(tables: Tables) -> Numbered:
    """List the documents that are what was written."""
    return {
        (name, document["sum"]): (number, document)
        for name in TABLES
        for number, document in in_order(tables, name)
        if is_object(document) and (unread_of(document) or body_of(document) is not None)
    }


def merged(one: Contents, other: Contents) -> Tables:
    """Put two copies of a chart together: every document of both, each once.

    A damaged document is left out where the other copy has it sound.

    Raises:
        NotMerged: when a damaged one is in neither, or both have what cannot be put together.
    """
    mine, theirs = sound_documents(one.tables), sound_documents(other.tables)
    for contents in (one, other):
        _refuse_damaged(contents, mine.keys() | theirs.keys())
    _refuse_unordered(mine, theirs)
    both = {**mine, **theirs}
    _refuse_unlike(both)
    return _numbered(both)


def _refuse_damaged(contents: Contents, sound: set[Place]) -> None:
    """Refuse what is damaged, and not to be had from the other copy."""
    if contents.damage or contents.tables.keys() - set(TABLES):
        raise NotMerged("the chart file is damaged")
    for name in TABLES:
        for number, document in in_order(contents.tables, name):
            stated = document.get("sum") if is_object(document) else None
            if (name, stated) not in sound:
                raise NotMerged(f"{name} {number} is damaged and in neither of them sound")


def _refuse_unordered(mine: Numbered, theirs: Numbered) -> None:
    """Refuse two copies with documents of version 1 whose order nothing says.

    Where one copy has those of the other and more, their numbers say it.
    """
    taken: dict[tuple[str, str], Place] = {}
    for copy in (mine, theirs):
        for place, (number, document) in copy.items():
            if not _is_linked(document) and taken.setdefault((place[0], number), place) != place:
                raise NotMerged("both have documents that do not say what they follow")


def _refuse_unlike(both: Numbered) -> None:
    """Refuse what was begun once and finished twice, e.g. an open session that a backup had."""
    seen: dict[tuple[str, str], object] = {}
    for (name, _), (_, document) in both.items():
        key = (name, str(head_of(document).get("id", "")))
        if seen.setdefault(key, document) is document:
            continue
        if name != "transfers" or _said(seen[key]) != _said(document):
            what = NAMES[name][0]
            raise NotMerged(f"one {what} is in both, finished in each of them in its own way")


def _said(document: object) -> Json:
    """What a document says besides what was there before it."""
    return {name: value for name, value in head_of(document).items() if name != FOLLOWS}


def _is_linked(document: object) -> bool:
    return bool(head_of(document).get(FOLLOWS))


def _numbered(both: Numbered) -> Tables:
    """Number documents anew, in their order; those of version 1 keep their numbers."""
    named: Tables = {}
    for (name, total), (number, document) in both.items():
        named.setdefault(name, {})[total if _is_linked(document) else number] = document
    tables: Tables = {}
    for each in in_written_order(named):
        document = named[each.table][each.number]
        table = tables.setdefault(each.table, {})
        last = place_of(next(reversed(table), "0"))
        table[str(last + 1) if _is_linked(document) else each.number] = document
    return tables
