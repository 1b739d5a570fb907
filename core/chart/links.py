"""Which documents were in a chart when each of its documents was written.

The body of every document lists under "follows" the checksums of the documents then in the
file that no other document lists. So each document rests on all before it, whatever its kind
and whichever copy of the file it was written in: one that is dropped, or altered with its sum
put right, is missed by those that came after it. Not covered: the newest document of a file,
which nothing follows yet. Its hash, as ``limbscribe history`` prints it, kept elsewhere (a
printed report, a backup) shows its loss. Nor is somebody found out who computes every later
document anew: these are checksums and no secret is in them.

Documents of version 1 list nothing; the first one written after them lists them all.

Where copies of a chart were written at several sites and put together (merging.py), documents
follow the same ones and not each other: branches. The next document follows the last of each.
So one order of all documents follows from what they say, whatever came first: each comes after
those that it follows, then by time, then by id.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import cast

from .document import TABLES, Json, Tables, head_of, in_order, is_object, place_of, wrap
from .unread import Signed

FOLLOWS = "follows"
RECORDED = "recorded"
"""Who wrote a document that has no author of its own, and when."""

MISSING = "a document that was in the chart when this one was written is missing or was altered"
REORDERED = "it comes before a document that belongs before it"


@dataclass(frozen=True, slots=True)
class Written:
    """One document and its place among all of a chart.

    Attributes:
        table: name of its table.
        number: its number there.
        id: its id, "" for the patient's.
        sum: its checksum as stated.
        author: who wrote it, "" when it does not say or says it elsewhere.
        at: when, in the same way.
        follows: sums of the documents it was written after.
    """

    table: str
    number: str
    id: str
    sum: str
    author: str = ""
    at: str = ""
    follows: tuple[str, ...] = ()


def documents(tables: Tables) -> list[Written]:
    """List every document of a chart in the order of tables and numbers, sums taken as stated."""
    return [
        _written(name, number, document)
        for name in TABLES
        for number, document in in_order(tables, name)
    ]


def _written(table: str, number: str, document: object) -> Written:
    stated = document if is_object(document) else {}
    body = head_of(document)
    wrote: object = body.get(RECORDED)
    recorded: Json = wrote if is_object(wrote) else {}
    follows: object = body.get(FOLLOWS)
    names = cast("list[object]", follows) if isinstance(follows, list) else []
    return Written(
        table,
        number,
        str(body.get("id", "")),
        str(stated.get("sum", "")),
        str(recorded.get("author", "")),
        str(recorded.get("at", "")),
        tuple(str(name) for name in names),
    )


def heads(found: Iterable[Written]) -> list[str]:
    """List the sums that no document lists yet."""
    found = list(found)
    listed = {name for each in found for name in each.follows}
    return sorted({each.sum for each in found} - listed)


def linked_documents(tables: Tables, bodies: Iterable[Json | Signed]) -> list[Json]:
    """Make linked documents of bodies: each says what it follows, what is there, then another."""
    follows = heads(documents(tables))
    linked: list[Json] = []
    for body in bodies:
        signed = isinstance(body, Signed)
        linked.append(body.document(follows) if signed else wrap({**body, FOLLOWS: follows}))
        follows = [linked[-1]["sum"]]
    return linked


def in_written_order(tables: Tables, sessions: Sequence[str] = ()) -> tuple[Written, ...]:
    """Order documents: each after those it follows, then by time, then by id.

    A document counts as no earlier than those it follows, whatever its clock said. So where a
    document stands depends on it and those before it only: others that come from another site
    change nothing about the order of these.

    Args:
        tables: the documents.
        sessions: ids of the sessions in the order of their chain; it decides where documents
            of version 1 do not say.
    """
    found = documents(tables)
    places = {id_: place for place, id_ in enumerate(sessions)}
    keys = _keys(found, [_time(tables[each.table][each.number]) for each in found])
    linked = sorted((i for i in keys if found[i].follows), key=keys.__getitem__)
    unlinked = (i for i, each in enumerate(found) if not each.follows)
    first = sorted(unlinked, key=lambda i: _place(found[i], tables, places))
    ring = (i for i in range(len(found)) if i not in keys)  # only a forged one
    return tuple(found[i] for i in (*first, *linked, *ring))


_EARLIEST = datetime.min.replace(tzinfo=UTC)

_Key = tuple[datetime, int, str, str]


def _keys(found: Sequence[Written], times: Sequence[datetime]) -> dict[int, _Key]:
    """What orders documents: latest time up to each, steps from the first, id and sum."""
    by_sum = {each.sum: index for index, each in enumerate(found)}
    below = [{by_sum[name] for name in each.follows if name in by_sum} for each in found]
    after: dict[int, list[int]] = {}
    for index, others in enumerate(below):
        for other in others:
            after.setdefault(other, []).append(index)
    waits = [len(others) for others in below]
    ready = [index for index, count in enumerate(waits) if not count]
    keys: dict[int, _Key] = {}
    for index in ready:
        time, steps = times[index], 0
        for other in below[index]:
            time, steps = max(time, keys[other][0]), max(steps, keys[other][1] + 1)
        keys[index] = (time, steps, found[index].id, found[index].sum)
        for other in after.get(index, ()):
            waits[other] -= 1
            if not waits[other]:
                ready.append(other)
    return keys


def _time(document: object) -> datetime:
    """When a document was written or signed, as it says."""
    body = head_of(document)
    stated = (
        each.get("at") for each in (body.get(RECORDED), body.get("seal"), body) if is_object(each)
    )
    try:
        moment = datetime.fromisoformat(next(str(at) for at in stated if at))
    except (StopIteration, ValueError):
        return _EARLIEST
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _place(each: Written, tables: Tables, sessions: dict[str, int]) -> tuple[int, int, int, int]:
    """Place a document when no link says where it belongs."""
    number = place_of(each.number)
    if each.table == "sessions":
        return (1, sessions.get(each.id, len(sessions)), 0, number)
    if each.table == "amendments":
        parent = str(head_of(tables["amendments"].get(each.number)).get("parent", ""))
        return (1, sessions.get(parent, len(sessions)), 1, number)
    return (0 if each.table == "patient" else 2, 0, 0, number)


def link_findings(ordered: Sequence[Written]) -> list[tuple[str, str]]:
    """List (table and number, what is wrong) of documents that miss another or come before it.

    Args:
        ordered: every document, as in_written_order() has them.
    """
    known = {each.sum for each in ordered}
    highest: dict[str, int] = {}
    findings: list[tuple[str, str]] = []
    for each in ordered:
        where = f"{each.table} {each.number}"
        number, before = place_of(each.number), highest.get(each.table, 0)
        findings += [(where, f"{MISSING} ({n[:12]})") for n in each.follows if n not in known]
        if each.follows and number < before:
            findings.append((where, REORDERED))
        highest[each.table] = max(number, before)
    return findings


@dataclass(slots=True)
class Branches:
    """How the documents of one table rest on each other.

    Attributes:
        lost: ids of those made on a document that is missing, or on one on which another was
            made before, though that other was known.
        apart: the ids of those made on one document at different sites.
    """

    lost: list[str] = field(default_factory=list[str])
    apart: list[tuple[str, ...]] = field(default_factory=list[tuple[str, ...]])


def branches(
    written: Sequence[Written], table: str, links: Iterable[tuple[str, str, str]], root: str
) -> Branches:
    """Find where a chain of sessions or changed details parts, and where it is broken.

    Args:
        written: every document of the chart.
        table: name of the table.
        links: of each of its documents, in order: id, own hash, hash of the one before it.
        root: what the first one names as the one before it.
    """
    if not (given := list(links)):
        return Branches()
    known = {root, *(own for _, own, _ in given)}
    made_on: dict[str, list[str]] = {}
    for id_, _, parent in given:
        made_on.setdefault(parent, []).append(id_)
    documents_of = {each.id: each for each in written if each.table == table}
    by_sum = {each.sum: each for each in written}
    found = Branches()
    for parent, ids in made_on.items():
        docs = [documents_of[id_] for id_ in ids]
        lost = [
            each.id
            for place, each in enumerate(docs)
            if parent not in known or not all(_apart(by_sum, each, one) for one in docs[:place])
        ]
        found.lost += lost
        if apart := tuple(id_ for id_ in ids[1:] if id_ not in lost):
            found.apart.append((ids[0], *apart))
    return found


def _apart(by_sum: Mapping[str, Written], one: Written, other: Written) -> bool:
    """Whether neither document was known when the other was written."""
    linked = one.follows or other.follows
    return bool(linked) and not _follows(by_sum, one, other) and not _follows(by_sum, other, one)


def _follows(by_sum: Mapping[str, Written], one: Written, other: Written) -> bool:
    """Whether a document follows another, with any number between; or is the same."""
    seen, waiting = {one.sum}, [one.sum]
    while waiting:
        for name in by_sum[waiting.pop()].follows:
            if name in by_sum and name not in seen:
                seen.add(name)
                waiting.append(name)
    return other.sum in seen
