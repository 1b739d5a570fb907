"""A session that is open for entry: its lock, its journal, and the ways to leave it."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

from ..chart.chart import plain, readable
from ..chart.chart_entry import ChartEntry
from ..chart.document import Contents, Json
from ..chart.ids import JOURNAL_SUFFIX, journal_of
from ..chart.session import Session, session_from_doc, session_to_doc
from ..disk import Found
from ..errors import AlreadyClosed, Damaged, Holder, NotConfirmed, ShelfError, saving
from ..problem import Problem
from ..text import counted
from . import files
from .files import Folder
from .journal import Journal, decode_lines, encode_line
from .places import DISCARDED, aside_name
from .store import HeldLock

if TYPE_CHECKING:
    from .server.outbox import Outbox, SentJournal


@dataclass(frozen=True, slots=True)
class Saved:
    """An open session as last saved, for reading only.

    Attributes:
        session: as it was started, without readings.
        entries: what the journal holds, in order.
    """

    session: Session
    entries: tuple[Json, ...]


@dataclass(frozen=True, slots=True)
class JournalContext:
    """What an open session works with.

    Attributes:
        chart_id: the chart.
        charts: the folder of charts.
        journals: the folder of journals.
        lock: the chart's lock, held.
        suffix: of the journal's name.
        outbox: where lines are kept on their way to a server; None on the shelf of a folder.
    """

    chart_id: str
    charts: Folder
    journals: Folder
    lock: HeldLock
    suffix: str = JOURNAL_SUFFIX
    outbox: Outbox | None = None

    def journal(self, sound: bytes) -> Journal | SentJournal:
        """Open the journal, which is stored with these lines."""
        if self.outbox is not None:
            return self.outbox.journal(self.name, self.chart_id, sound)
        return Journal(self.journals, self.name, self.chart_id, sound)

    @property
    def name(self) -> str:
        """File name of the journal."""
        return self.chart_id + self.suffix


class Kept(NamedTuple):
    """What a journal has.

    Attributes:
        sound: its sound lines.
        entries: what they say, in order, without the header.
        problems: what of it could not be read.
    """

    sound: bytes
    entries: tuple[Json, ...] = ()
    problems: tuple[Problem, ...] = ()


class OpenSession:
    """An open session. Everything appended is on the disk, so it can be left at any time.

    Attributes:
        chart_id: the chart.
        session: the session as it was started, without readings.
        entries: what the journal held when the session was resumed, in order.
        problems: what of the journal could not be read at resume.
        taken_over_from: who had the chart open for entry and ended without leaving, if so.
    """

    def __init__(self, context: JournalContext, session: Session, kept: Kept) -> None:
        self.chart_id = context.chart_id
        self.session = session
        self.entries = kept.entries
        self.problems = kept.problems
        self.taken_over_from: Holder | None = context.lock.taken_over_from
        self._context = context
        self._open = True
        self._in_chart = False
        self._journal = context.journal(kept.sound)

    @property
    def only_here(self) -> int | None:
        """How many fields are still only on this machine; None on the shelf of a folder."""
        return self._journal.late

    def append(self, entry: dict[str, Any]) -> None:
        """Add one line to the journal; on the disk when this returns.

        Raises:
            NotSaved: the line is not there, every line before it is.
        """
        self._require_open()
        if self._in_chart:
            raise ShelfError(
                "The session is in the chart already, so nothing can be added: "
                "close it once more, then amend it"
            )
        self._journal.append(entry)

    def close(self, session: Session, author: str, at: str) -> Session:
        """Sign the session, store it in the chart, remove the journal, release the chart.

        Args:
            session: the session with its readings.
            author: who closes it.
            at: ISO 8601 local time with its UTC offset.

        Returns:
            The session as signed.

        Raises:
            NotSaved: the session stays open and everything stays in its journal.
        """
        from .writing import keep_session

        self._require_open()
        if session.id != self.session.id:
            raise ShelfError("Another session is open in this chart: nothing was changed")
        with self._into_chart("The session"):
            return keep_session(self._context.charts, self.chart_id, plain(session), author, at)

    @contextmanager
    def _into_chart(self, what: str) -> Generator[None]:
        """Leave once that is stored in the chart which the journal was kept for."""
        try:
            with saving(what):
                yield
        except NotConfirmed:
            self._in_chart = True
            raise
        self._finish()

    def _finish(self) -> None:
        """Remove the journal, which has nothing that is not in the chart, and leave.

        One that cannot be removed is recognised as left over by whoever opens the chart next.
        """
        with suppress(OSError):
            self._journal.finish()
        self.leave()

    def leave(self) -> None:
        """Release the chart; the session stays open. Harmless when called twice."""
        self._journal.close()
        if self._open:
            self._open = False
            self._context.lock.release()

    def discard(self) -> None:
        """Set the journal aside, never delete it, and release the chart.

        Raises:
            NotSaved: the journal is where it was and the session still open.
            NotConfirmed: it was set aside and the session was left, but after a power cut
                it may be open again.
        """
        self._require_open()
        try:
            with saving("The setting aside of the session"):
                self._journal.settle()
                set_aside(self._context.journals, self._context.name)
        except NotConfirmed:
            self.leave()  # the journal is no longer where entries would be looked for
            raise
        self.leave()

    def _require_open(self) -> None:
        if not self._open:
            raise ShelfError("This session was left: nothing was changed, resume it first")


def set_aside(journals: Folder, name: str) -> str:
    """Move a journal to the discarded ones; returns its new name, which carries its sum."""
    new = _discarded_name(journals, name, files.read(journals, name))
    files.move(journals, name, journals.sub(DISCARDED), new)
    return new


def start_journal(context: JournalContext, session: Session) -> OpenSession:
    """Write the journal's header and open the session; see Shelf.start."""
    line, _ = encode_line(session_to_doc(session), 0, context.chart_id)
    files.replace(context.journals, context.name, line)
    try:
        return OpenSession(context, session, Kept(line))
    except (OSError, ShelfError):
        with suppress(OSError, ShelfError):  # else what was refused would be there to resume
            files.remove(context.journals, context.name)
        raise


def resume_journal(context: JournalContext, chart: Contents) -> OpenSession:
    """Read and repair the journal and open the session; see Shelf.resume.

    Args:
        context: what the session works with.
        chart: the chart's file, to see whether the session is in it already.
    """
    data = files.read(context.journals, context.name)
    lines = decode_lines(data, context.chart_id)
    session = _header(lines.entries)
    if session is None:
        new = set_aside(context.journals, context.name)
        raise Damaged(
            "The journal of the open session is damaged from its first line on: it was set "
            f"aside as journals/{DISCARDED}/{new} and nothing was deleted, start a new session"
        )
    ids, _ = readable(chart, "sessions", lambda body: body["id"])
    if session.id in ids:
        files.remove(context.journals, context.name)
        raise AlreadyClosed(
            "This session was closed and is in the chart: nothing was lost, "
            "only its left-over journal was cleared away"
        )
    return OpenSession(context, session, repaired(context, data))


def repaired(context: JournalContext, data: bytes) -> Kept:
    """What a journal has, which is left at its sound lines."""
    lines = decode_lines(data, context.chart_id)
    sound = data[: lines.length]
    problems: tuple[Problem, ...] = ()
    if lines.rest:
        copy = _discarded_name(context.journals, context.name, data)
        kept = files.read_kept(context.journals, context.name)
        files.replace_kept(context.journals.sub(DISCARDED), copy, kept)
        problems = (_cut_off(len(lines.entries), lines.rest, copy),)
    # Also when nothing is cut off: a process that died before its flush has left lines that
    # the system shows and the disk may not have. Whoever sees them now takes them as saved.
    files.replace(context.journals, context.name, sound)
    return Kept(sound, lines.entries[1:], problems)


def header_of(data: bytes, chart_id: str) -> Session | None:
    """The session in a journal's header, None when that is damaged."""
    return _header(decode_lines(data[: data.find(b"\n") + 1], chart_id).entries)


def saved(data: bytes, chart_id: str) -> Saved | None:
    """What a journal says that somebody may be writing, None when its header is damaged."""
    entries = decode_lines(data, chart_id).entries
    session = _header(entries)
    return Saved(session, entries[1:]) if session else None


def _header(entries: tuple[Json, ...]) -> Session | None:
    try:
        session = session_from_doc(entries[0])
        return session if session.when.utcoffset() is not None else None
    except (IndexError, KeyError, TypeError, ValueError, AttributeError):
        return None


def _cut_off(line: int, rest: bytes, copy: str) -> Problem:
    lost = rest.count(b"\n")
    if lost:
        what = f"{counted(lost, 'line')} from line {line + 1} on left out: damaged"
    else:
        what = f"its last {len(rest)} bytes were never confirmed as saved and were left out"
    return Problem(
        "the journal of this session",
        what,
        f"look at the last readings; the journal as it was is journals/{DISCARDED}/{copy}",
    )


def _discarded_name(journals: Folder, name: str, data: bytes) -> str:
    return aside_name(name.partition(".")[0], JOURNAL_SUFFIX, data, journals.codec)


def with_open(entries: Sequence[ChartEntry], journals: Folder) -> list[ChartEntry]:
    """The entries, with what is open in their charts."""
    more: dict[str, dict[str, Any]] = {}
    for found, line in files.first_lines(journals, journal_of):
        chart_id, suffix = journal_of(found.name) or ("", "")
        said = more.setdefault(chart_id, {})
        if suffix == JOURNAL_SUFFIX:
            said["open_since"], said["open_recorder"] = begun_in(found, line, chart_id)
        else:
            said["amending"] = True
    return [entry._replace(**more[entry.id]) if entry.id in more else entry for entry in entries]


def begun_in(found: Found, data: bytes, chart_id: str) -> tuple[str, str]:
    """Since when a session is open, and its recorder, from its journal or the first line of it."""
    begun = _begun(data[: data.find(b"\n") + 1], chart_id)
    if begun is None:  # listed all the same: resuming it says what is wrong
        changed = datetime.fromtimestamp(found.mtime_ns // 10**9).astimezone()
        return changed.isoformat(), ""
    return begun


@lru_cache(maxsize=4096)  # of sessions that stay open the same is asked with each list
def _begun(line: bytes, chart_id: str) -> tuple[str, str] | None:
    session = header_of(line, chart_id)
    return (_open_since(session), session.recorder) if session else None


def _open_since(session: Session) -> str:
    """When a session was begun here: one from paper was measured on another day."""
    later = session.conditions.typed_later
    with suppress(ValueError):
        if later and datetime.fromisoformat(later).utcoffset() is not None:
            return later
    return session.started
