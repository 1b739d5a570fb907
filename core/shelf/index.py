"""The list of charts: read from a small index file, and from the charts where that is old.

The index is a cache. It is never trusted beyond its checksum, a chart that changed since is
read anew, and it may be deleted at any time. No save of a session touches it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime

from ..chart.amendment import amendment_from_doc
from ..chart.chart import build_chart, event_from_doc, patient_of, readable
from ..chart.chart_entry import ChartEntry
from ..chart.document import Contents, Json, NotWhole, TooNew, is_object, parse_json, read_contents
from ..chart.events import injection_days, next_date
from ..chart.ids import CHART_SUFFIX, chart_id_of
from ..chart.session import canonical
from ..chart.transfer import received, transfer_from_doc, withdrawn
from ..disk import Found
from . import files
from .files import Folder

INDEX = "index.json"

_HEAD = b'{"schema_version":4,"charts":'
"""4 follows 2, so that no single wrong bit makes it look like an earlier form."""
_EARLIER = (b'{"schema_version":1,"charts":', b'{"schema_version":2,"charts":')
_MIDDLE = b',"sum":"'
_TAIL = b'"}\n'

Progress = Callable[[str, int, int], None]
"""Called with what was done, with how many charts so far, and of how many."""

Stamp = tuple[int, int, int]
"""Last change (ns), size (bytes) and inode of a chart file."""


class Index:
    """The charts of one shelf, without their open sessions.

    Attributes:
        all_read: whether the disk let every chart be read for the latest list.
    """

    def __init__(self, shelf: Folder) -> None:
        self._shelf = shelf
        self._charts = shelf.sub("charts")
        self._known: dict[str, tuple[Stamp, ChartEntry]] | None = None
        self.all_read = True

    def entries(self, progress: Progress | None = None) -> list[ChartEntry]:
        """Every chart, in no order; reads only charts that changed since the last time.

        Args:
            progress: called after each chart.

        Raises:
            OSError: when the folder cannot be read.
        """
        if self._known is None:
            self._known = read_index(self._shelf)
        known: dict[str, tuple[Stamp, ChartEntry]] = {}
        unread: list[ChartEntry] = []
        changed = False
        listing = list(files.listing(self._charts))
        for place, found in enumerate(listing, 1):
            if progress:
                progress("read for the list", place, len(listing))
            is_chart = found.name.endswith(CHART_SUFFIX)
            chart_id = found.name[: -len(CHART_SUFFIX)]
            row = self._known.get(chart_id) if is_chart else None
            # A name that is known has been looked at before.
            if row is None and chart_id_of(found.name, CHART_SUFFIX) is None:
                continue
            stamp = stamp_of(found)
            if row is None or row[0] != stamp:
                try:
                    contents = self._contents(found.name)
                except FileNotFoundError:  # gone since the listing
                    continue
                except OSError:
                    # Perhaps only now: shown, but not remembered.
                    unread.append(summary_of(chart_id, Contents({})))
                    continue
                row = (stamp, summary_of(chart_id, contents))
                changed = True
            known[chart_id] = row
        if changed or known.keys() != self._known.keys():
            # A cache that cannot be written is only slower next time.
            with suppress(OSError):
                files.replace(self._shelf, INDEX, render_index(known))
        self._known = known
        self.all_read = not unread
        return [entry for _, entry in known.values()] + unread

    def make(self, progress: Progress) -> None:
        """Read every chart if there is no index file; args and errors as entries()."""
        if not files.exists(self._shelf, INDEX):
            self.entries(progress)

    def _contents(self, name: str) -> Contents:
        try:
            chart_id = name.removesuffix(CHART_SUFFIX)
            return read_contents(files.read(self._charts, name), chart_id, on_demand=True)
        except TooNew:
            return Contents({})


def place_in_list(entry: ChartEntry) -> tuple[bool, float, str]:
    """What the list is sorted by: open sessions first, then the latest, then the code."""
    last = datetime.fromisoformat(entry.last).timestamp() if entry.last else float("-inf")
    return (not entry.open_since, -last, entry.code)


def stamp_of(found: Found) -> Stamp:
    """What tells one version of a chart file from another without reading it."""
    return (found.mtime_ns, found.size, found.inode)


def summary_of(chart_id: str, contents: Contents) -> ChartEntry:
    """The chart's line in the list, from the documents that are sound."""
    patient = patient_of(contents)
    transfers, _ = readable(contents, "transfers", transfer_from_doc)
    gone = withdrawn(transfers)
    closed, _ = readable(
        contents, "sessions", _start_of, unread=lambda waiting: _start_of(waiting.head)
    )
    starts = [start for id_, start in closed if id_ not in gone]
    injected, wanted = _dates_of(contents)
    return ChartEntry(
        chart_id,
        patient.code,
        patient.diagnosis,
        patient.affected,
        patient.birth_year,
        len(starts),
        max(starts, key=datetime.fromisoformat, default=""),
        injected,
        wanted,
        _conflicts_of(chart_id, contents),
        " ".join(sorted(gone)),
        " ".join(f"{each.chart}/{each.other}" for each in received(transfers).values()),
    )


def _dates_of(contents: Contents) -> tuple[str, str]:
    """The days of injections, and the next date set by hand."""
    if not contents.tables.get("events"):
        return "", ""
    events, _ = readable(contents, "events", event_from_doc)
    wanted = next_date(events)
    days = " ".join(day.isoformat() for day in injection_days(events))
    return days, wanted.date if wanted else ""


def _conflicts_of(chart_id: str, contents: Contents) -> int:
    """Sessions whose amendments disagree; one amendment alone disagrees with none."""
    amendments, _ = readable(contents, "amendments", amendment_from_doc)
    return len(build_chart(chart_id, "", contents).conflicts) if len(amendments) > 1 else 0


def _start_of(body: Json) -> tuple[str, str]:
    """Id and start of a closed session without building the rest of it."""
    started: str = body["started"]
    if body["seal"] is None or datetime.fromisoformat(started).utcoffset() is None:
        raise ValueError("not a closed session")
    if type(body["id"]) is not str:
        raise TypeError("its id is no text")
    return body["id"], started


def render_index(known: dict[str, tuple[Stamp, ChartEntry]]) -> bytes:
    """The bytes of the index file. The checksum is over the rows as written."""
    rows = canonical({entry.id: [*stamp, *_cells(entry)] for stamp, entry in known.values()})
    return _HEAD + rows + _MIDDLE + hashlib.sha256(rows).hexdigest().encode() + _TAIL


def _cells(e: ChartEntry) -> list[str | int | None]:
    """What is stored of an entry; the end is left out where it says nothing, as mostly."""
    always = [e.code, e.diagnosis, e.affected, e.birth_year, e.sessions, e.last]
    more = [e.injected, e.wanted, e.conflicts, e.gone, e.came]
    return [*always, *more] if any(more) else always


def parse_index(data: bytes) -> dict[str, tuple[Stamp, ChartEntry]]:
    """The rows of an index file; none of one in an earlier form, which is made anew.

    Raises:
        NotWhole: when the file is not what was written.
    """
    if data.startswith(_EARLIER):
        return {}
    end = len(data) - len(_MIDDLE) - 64 - len(_TAIL)
    rows = data[len(_HEAD) : max(end, 0)]
    total = hashlib.sha256(rows).hexdigest().encode()
    if data != _HEAD + rows + _MIDDLE + total + _TAIL:
        raise NotWhole("it does not match its checksum")
    table = parse_json(rows)
    if not is_object(table):
        raise NotWhole("it is not an index")
    return {
        chart_id: ((row[0], row[1], row[2]), ChartEntry(chart_id, *row[3:]))
        for chart_id, row in table.items()
    }


def read_index(shelf: Folder) -> dict[str, tuple[Stamp, ChartEntry]]:
    """The rows of the index file; none when it is missing or not what was written."""
    try:
        return parse_index(files.read(shelf, INDEX))
    except (OSError, NotWhole):
        return {}
