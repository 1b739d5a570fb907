"""The list of charts: read from a small index file, and from the charts where that is old.

The index is a cache. It is never trusted beyond its checksums, a chart that changed since is
read anew, and it may be deleted at any time. No save of a session touches it: the list that
follows adds a line::

    {"schema_version":7,"charts":{ID:ROW,...},"sum":S}      every chart, as of one moment
    {"charts":{ID:ROW,...},"sum":S}                         charts that changed since

S is the SHA-256 of the rows as they lie in the line. A row names the version of the chart file
that it was read from, so the order of the lines matters to nothing: several processes may add
some at a time. Where a line is not sound, as after a process that died while it wrote one, the
others count, and the file is written anew. Earlier versions of the program take a file of this
form for a damaged one, and make theirs.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from typing import NamedTuple

from .. import disk
from ..chart.amendment import amendment_from_doc
from ..chart.chart import build_chart, patient_of, readable
from ..chart.chart_entry import ChartEntry, cannot_be_read
from ..chart.document import Contents, Json, NotWhole, TooNew, parse_json, read_contents
from ..chart.event import event_from_doc
from ..chart.events import injection_days, next_date
from ..chart.ids import CHART_SUFFIX, chart_id_of
from ..chart.session import canonical
from ..chart.transfer import received, transfer_from_doc, withdrawn
from ..disk import Found
from ..errors import ShelfError
from . import files
from .codec import INDEX
from .files import Folder

TORN = "a line of it was never finished, or does not match its checksum"

_HEAD = b'{"schema_version":7,"charts":'
"""7 follows 4, and 4 follows 2, so that no single wrong bit makes one look like another."""
_FORMER = b'{"schema_version":4,"charts":'
"""The same without further lines."""
_MADE_ANEW = (b'{"schema_version":1,"charts":', b'{"schema_version":2,"charts":')
_LINE = b'{"charts":'
_MIDDLE = b',"sum":"'
_TAIL = b'"}'

_LINES = 300
"""Lines after the first, besides one for each ten charts, with which the file is written anew."""

_AT_ONCE = 2000
"""Charts that are read before their rows are kept: a second or two."""

_MANY = 500
"""Charts from which on to look at every file takes some time; 10,000 take 50 ms."""

_NEVER = datetime.min.replace(tzinfo=UTC)

Progress = Callable[[str, int, int], None]
"""Called with what was done, with how many charts so far, and of how many."""

Listed = Callable[[Callable[[], list[ChartEntry]]], list[ChartEntry]]
"""What lists the charts, given what reads them."""

Stamp = tuple[int, int, int]
"""Last change (ns), size (bytes) and inode of a chart file."""


Rows = dict[str, tuple[Stamp, ChartEntry]]
"""By chart, the version of its file and what the list says of it."""


class IndexRows(NamedTuple):
    """What an index file says.

    Attributes:
        rows: the sound rows, by chart.
        lines: how many lines come after the first.
        sound: nothing in it is damaged or of an earlier form.
    """

    rows: Rows
    lines: int
    sound: bool


class Index:
    """The charts of one shelf, without their open sessions.

    Attributes:
        all_read: whether the disk let every chart be read for the latest list.
        made: charts written just now, which need not be read for the next list.
    """

    def __init__(self, shelf: Folder) -> None:
        self._shelf = shelf
        self._charts = shelf.sub("charts")
        self._kept: IndexRows | None = None
        self.made: Rows = {}
        self.all_read = True

    def entries(self, progress: Progress | None = None) -> list[ChartEntry]:
        """Every chart, in no order; reads only charts that changed since the last time.

        Args:
            progress: called after each chart.

        Raises:
            OSError: when the folder cannot be read.
        """
        if self._kept is None:
            self._kept = read_index(self._shelf)
        known: Rows = {}
        changed: list[Found] = []
        for found in files.listing(self._charts):
            is_chart = found.name.endswith(CHART_SUFFIX)
            chart_id = found.name[: -len(CHART_SUFFIX)]
            row = self._kept.rows.get(chart_id) if is_chart else None
            if row is not None and row[0] == stamp_of(found):
                known[chart_id] = row
            # A name that is known has been looked at before.
            elif row is not None or chart_id_of(found.name, CHART_SUFFIX) is not None:
                changed.append(found)
        unread = self._read(changed, known, progress)
        self.all_read = not unread
        return [entry for _, entry in self._kept.rows.values()] + unread

    def at_once(self) -> list[ChartEntry]:
        """The charts as the file has them, not looked at; none unless they are many and sound."""
        if self._kept is None:
            self._kept = read_index(self._shelf)
        sound = self._kept.sound and len(self._kept.rows) >= _MANY
        return [entry for _, entry in self._kept.rows.values()] if sound else []

    def finder(self, listed: Listed) -> Callable[[str], str | None]:
        """See Shelf.finder().

        Args:
            listed: what lists the charts, given what reads them.
        """
        return finder_among(listed(self.entries))

    def make(self, progress: Progress) -> None:
        """Read every chart if there is no index file; args and errors as entries()."""
        if not files.exists(self._shelf, INDEX):
            self.entries(progress)

    def mend(self) -> None:
        """Make the file anew where a writer died in the middle of a line."""
        with suppress(OSError, ShelfError):
            if not files.read_kept(self._shelf, INDEX).endswith(b"\n"):
                self.entries()

    def _read(
        self, changed: list[Found], known: Rows, progress: Progress | None
    ) -> list[ChartEntry]:
        """Read charts and keep their rows with those that are known; returns the unread.

        Some are kept at a time: a long reading that ends early is gone on with by the next one,
        and another program that lists meanwhile has less to read.
        """
        new: Rows = {}
        unread: list[ChartEntry] = []
        done, of = len(known), len(known) + len(changed)
        for place, found in enumerate(changed, done + 1):
            entry, was_read = self._summary(found)
            if entry is not None and was_read:
                new[entry.id] = (stamp_of(found), entry)
            elif entry is not None:
                unread.append(entry)
            if progress:
                progress("read for the list", place, of)
            if len(new) >= _AT_ONCE:
                known |= new
                self._keep(dict(known), new)
                new = {}
        self._keep({**known, **new}, new)
        return unread

    def _summary(self, found: Found) -> tuple[ChartEntry | None, bool]:
        """The line of one chart, None for one that is gone; and whether it was read for it."""
        chart_id = found.name.removesuffix(CHART_SUFFIX)
        stamp, made = self.made.pop(chart_id, (None, None))
        if stamp == stamp_of(found):
            return made, True
        try:
            contents = known_contents(files.read(self._charts, found.name), chart_id)
        except FileNotFoundError:  # gone since the listing
            return None, False
        except OSError:
            # Perhaps only now: shown, but not remembered.
            return summary_of(chart_id, Contents({})), False
        return summary_of(chart_id, contents), True

    def _keep(self, known: Rows, new: Rows) -> None:
        """Remember the rows, in the file too; a cache that cannot be written is only slower."""
        assert self._kept is not None
        if not (known or self._kept.rows or files.exists(self._shelf, INDEX)):
            return
        lines, sound = self._kept.lines, self._kept.sound
        same = known.keys() == self._kept.rows.keys() | new.keys()  # none has gone
        try:
            if sound and same and lines < _LINES + len(known) // 10:
                if new:
                    append_line(self._shelf, render_index(new, _LINE))
                    lines += 1
            else:
                files.replace(self._shelf, INDEX, render_index(known))
                lines, sound = 0, True
        except OSError:
            sound = False  # what was begun of a line is not to be followed by another one
        self._kept = IndexRows(known, lines, sound)


def finder_among(entries: Sequence[ChartEntry]) -> Callable[[str], str | None]:
    """See Shelf.finder().

    Args:
        entries: every chart.
    """
    ids = {entry.code: entry.id for entry in reversed(entries)}
    unread = [entry.id for entry in entries if not entry.is_readable]

    def find(code: str) -> str | None:
        if code not in ids and unread:
            raise ShelfError(
                f"No chart that can be read has the code {code}, but {cannot_be_read(len(unread))} "
                "and may be it: nothing was changed, see limbscribe verify for which file, and put "
                "it back with limbscribe restore; without a backup move it off the shelf"
            )
        return ids.get(code)

    return find


def in_list_order(entries: Iterable[ChartEntry]) -> tuple[ChartEntry, ...]:
    """Sort a list of charts: open sessions first, then the latest, then by code."""
    # One after the other: values of one type are compared in half the time of tuples.
    ordered = sorted(entries, key=lambda entry: entry.code)
    ordered.sort(key=_last_of, reverse=True)
    ordered.sort(key=lambda entry: not entry.open_since)
    return tuple(ordered)


def _last_of(entry: ChartEntry) -> datetime:
    return datetime.fromisoformat(entry.last) if entry.last else _NEVER


def stamp_of(found: Found) -> Stamp:
    """What tells one version of a chart file from another without reading it."""
    return (found.mtime_ns, found.size, found.inode)


def known_contents(data: bytes, chart_id: str) -> Contents:
    """What is in a chart file; nothing that is known in one of a later version."""
    try:
        return read_contents(data, chart_id, on_demand=True)
    except TooNew:
        return Contents({})


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


def render_index(rows: Rows, head: bytes = _HEAD) -> bytes:
    """The bytes of an index file of these charts, or of a line for those that changed."""
    written = canonical({entry.id: [*stamp, *_cells(entry)] for stamp, entry in rows.values()})
    return head + written + _MIDDLE + hashlib.sha256(written).hexdigest().encode() + _TAIL + b"\n"


def append_line(shelf: Folder, line: bytes) -> None:
    """Add a line to the index file, flushed.

    Raises:
        OSError: when it is not there whole; part of it may be.
    """
    fd = files.open_append(shelf, INDEX)
    try:
        disk.write_all(fd, shelf.codec.line(shelf.place(INDEX), 0, line))
        disk.sync(fd)
    finally:
        disk.close(fd)


def _cells(e: ChartEntry) -> list[str | int | None]:
    """What is stored of an entry; the end is left out where it says nothing, as mostly."""
    always = [e.code, e.diagnosis, e.affected, e.birth_year, e.sessions, e.last]
    more = [e.injected, e.wanted, e.conflicts, e.gone, e.came]
    return [*always, *more] if any(more) else always


def parse_index(data: bytes) -> Rows:
    """The rows of an index file; none of one in an earlier form, which is made anew.

    Raises:
        NotWhole: when the file is not what was written.
    """
    found = rows_in(data)
    if not found.sound and not data.startswith((*_MADE_ANEW, _FORMER)):
        raise NotWhole(TORN)
    return found.rows


def rows_in(data: bytes) -> IndexRows:
    """What of an index file is sound."""
    first, *lines = data.splitlines(keepends=True) or [b""]
    former = first.startswith(_FORMER)
    rows = _rows(first, _FORMER if former else _HEAD)
    sound = rows is not None and not former
    rows = rows or {}
    for line in lines:
        more = _rows(line, _LINE)
        rows.update(more or {})
        sound = sound and more is not None
    return IndexRows(rows, len(lines), sound)


def _rows(line: bytes, head: bytes) -> Rows | None:
    """The rows in one line of an index file, None when it is not what was written."""
    end = len(line) - len(_MIDDLE) - 64 - len(_TAIL) - 1
    written = line[len(head) : max(end, 0)]
    total = hashlib.sha256(written).hexdigest().encode()
    if line != head + written + _MIDDLE + total + _TAIL + b"\n":
        return None
    try:
        return {
            chart_id: ((row[0], row[1], row[2]), ChartEntry(chart_id, *row[3:]))
            for chart_id, row in parse_json(written).items()
        }
    except (NotWhole, AttributeError, TypeError, IndexError, KeyError):
        return None


def read_index(shelf: Folder) -> IndexRows:
    """What of the index file is sound; nothing when it is missing."""
    try:
        return rows_in(files.read(shelf, INDEX))
    except OSError:
        return IndexRows({}, 0, False)
