"""What was made of each chart once, kept on the shelf until the chart changes.

A cache, as the index is: never trusted beyond its checksum and the stamps of the chart files,
and it may be deleted at any time. It holds what charts say, so it is kept as they are, sealed
on an encrypted shelf, and goes when a patient is erased.

    SHA-256 of the rest, a newline, {"key":KEY,"charts":{ID:[CHANGED,SIZE,INODE,FACTS],...}}
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from ..chart.chart import Chart
from ..chart.ids import CHART_SUFFIX, chart_id_of
from ..errors import ShelfError
from ..parallel import in_order
from . import files
from .chart_reader import ChartReader
from .codec import FACTS
from .files import Folder
from .index import Progress, Stamp, stamp_of
from .lock import held
from .places import CODES_LOCK

T = TypeVar("T")
Kept = dict[str, tuple[Stamp, Any]]


@dataclass(frozen=True, slots=True)
class Facts(Generic[T]):
    """What is made of a chart.

    Attributes:
        key: of everything else that it depends on; with another one all are made anew.
        make: makes something that JSON can write of a chart; it changes nothing else.
        read: reads what JSON has written; TypeError or ValueError when that is something else.
    """

    key: str
    make: Callable[[Chart], T]
    read: Callable[[Any], T]


def each_fact(
    shelf: Folder, facts: Facts[T], progress: Progress | None = None
) -> Iterator[T | None]:
    """Yield what is made of every chart; None for one that cannot be read.

    Args:
        shelf: the shelf.
        facts: what is made of a chart.
        progress: called after each chart that was read.
    """
    charts = shelf.sub("charts")
    found = {i: f for f in files.listing(charts) if (i := chart_id_of(f.name, CHART_SUFFIX))}
    kept = _read(shelf, facts.key)
    same: Kept = {}
    for chart_id, (stamp, row) in kept.items():
        if chart_id not in found or stamp != stamp_of(found[chart_id]):
            continue
        try:
            value = facts.read(row)
        except (TypeError, ValueError):
            continue
        same[chart_id] = (stamp, row)
        yield value
    new = sorted(found.keys() - same.keys())
    reader, made = ChartReader(charts), Kept()

    def one(chart_id: str) -> T | None:
        try:
            return facts.make(reader.chart(chart_id))
        except ShelfError:
            return None

    with closing(in_order(one, new)) as rows:
        for place, (chart_id, row) in enumerate(zip(new, rows, strict=True), 1):
            if row is not None:
                made[chart_id] = (stamp_of(found[chart_id]), row)
            if progress:
                progress("read", place, len(new))
            yield row
    if made or len(same) < len(kept):
        _keep(shelf, facts.key, {**same, **made})


def _read(shelf: Folder, key: str) -> Kept:
    """What is kept under a key; nothing when the file is missing or not what was written."""
    try:
        total, _, body = files.read(shelf, FACTS).partition(b"\n")
        if total.decode() != hashlib.sha256(body).hexdigest():
            return {}
        found = json.loads(body)
        if found["key"] != key:
            return {}
        charts: Mapping[str, Sequence[Any]] = found["charts"]
        return {i: ((row[0], row[1], row[2]), row[3]) for i, row in charts.items()}
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return {}


def _keep(shelf: Folder, key: str, rows: Kept) -> None:
    """Keep rows, but of no chart that was erased meanwhile; without it is only slower."""
    with suppress(OSError, ShelfError), held(shelf.sub("locks"), CODES_LOCK):
        there = {found.name for found in files.listing(shelf.sub("charts"))}
        charts = {i: [*s, row] for i, (s, row) in rows.items() if i + CHART_SUFFIX in there}
        body = json.dumps({"key": key, "charts": charts}, separators=(",", ":")).encode()
        files.replace(shelf, FACTS, hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
