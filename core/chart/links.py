"""Which documents were in a chart when each of its documents was written.

The body of every document lists under "follows" the checksums of the documents then in the
file that no other document lists. So each document rests on all before it, whatever its kind
and whichever copy of the file it was written in: one that is dropped, or altered with its sum
put right, is missed by those that came after it. Not covered: the newest document of a file,
which nothing follows yet. Its hash, as ``limbscribe history`` prints it, kept elsewhere (a
printed report, a backup) shows its loss. Nor is somebody found out who computes every later
document anew: these are checksums and no secret is in them.

Documents of version 1 list nothing; the first one written after them lists them all.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import cast

from .document import TABLES, Json, Tables, head_of, in_order, is_object, place_of, wrap
from .unread import Signed

FOLLOWS = "follows"
RECORDED = "recorded"
"""Who wrote a document that has no author of its own, and when."""

MISSING = "a document that was in the chart when this one was written is missing or was altered"
REORDERED = "it comes before a document that was written earlier"


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


def in_written_order(tables: Tables, sessions: Sequence[str]) -> tuple[Written, ...]:
    """Order documents, each after those it follows.

    Args:
        tables: the documents.
        sessions: ids of the sessions in the order of their chain; it decides where documents
            of version 1, or of two copies of a file, do not say.
    """
    found = documents(tables)
    places = {id_: place for place, id_ in enumerate(sessions)}
    ranked = sorted(range(len(found)), key=lambda i: _place(found[i], tables, places))
    rank = {index: place for place, index in enumerate(ranked)}
    by_sum = {each.sum: index for index, each in enumerate(found)}
    waits = [{by_sum[name] for name in each.follows if name in by_sum} for each in found]
    after: dict[int, list[int]] = {}
    for index, others in enumerate(waits):
        for other in others:
            after.setdefault(other, []).append(index)
    ready = [(rank[index], index) for index, others in enumerate(waits) if not others]
    heapq.heapify(ready)
    ordered: list[int] = []
    while ready:
        _, index = heapq.heappop(ready)
        ordered.append(index)
        for other in after.get(index, ()):
            waits[other].discard(index)
            if not waits[other]:
                heapq.heappush(ready, (rank[other], other))
    placed = set(ordered)
    left = [index for index in ranked if index not in placed]  # only a forged ring
    return tuple(found[index] for index in (*ordered, *left))


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
    latest: dict[str, dict[str, int]] = {}
    findings: list[tuple[str, str]] = []
    for each in ordered:
        where = f"{each.table} {each.number}"
        number = place_of(each.number)
        below: dict[str, int] = {}
        for name in each.follows:
            for table, highest in latest.get(name, {}).items():
                below[table] = max(below.get(table, 0), highest)
        findings += [(where, f"{MISSING} ({n[:12]})") for n in each.follows if n not in known]
        if number < below.get(each.table, 0):
            findings.append((where, REORDERED))
        latest[each.sum] = {**below, each.table: max(number, below.get(each.table, 0))}
    return findings
