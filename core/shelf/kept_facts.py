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
from typing import Any

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

Kept = dict[str, tuple[Stamp, Any]]


def each_fact(
    shelf: Folder, key: str, make: Callable[[Chart], Any], progress: Progress | None = None
) -> Iterator[tuple[str, Any]]:
    """Yield every chart's id, and what is made of it; None for one that cannot be read.

    Args:
        shelf: the shelf.
        key: of everything else that the facts depend on; with another one all are made anew.
        make: makes something that JSON can write of a chart; it changes nothing else.
        progress: called after each chart that was read.
    """
    charts = shelf.sub("charts")
    found = {i: f for f in files.listing(charts) if (i := chart_id_of(f.name, CHART_SUFFIX))}
    kept = _read(shelf, key)
    same = {i: row for i, row in kept.items() if i in found and row[0] == stamp_of(found[i])}
    new = sorted(found.keys() - same.keys())
    for chart_id, (_, facts) in same.items():
        yield chart_id, facts
    reader, made = ChartReader(charts), Kept()

    def one(chart_id: str) -> Any:
        try:
            return make(reader.chart(chart_id))
        except ShelfError:
            return None

    with closing(in_order(one, new)) as facts:
        for place, (chart_id, row) in enumerate(zip(new, facts, strict=True), 1):
            if row is not None:
                made[chart_id] = (stamp_of(found[chart_id]), row)
            if progress:
                progress("read for the caseload", place, len(new))
            yield chart_id, row
    if made or len(same) < len(kept):
        _keep(shelf, key, {**same, **made})


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
