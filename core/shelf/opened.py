"""A session that is open for entry: its lock, its journal, and the ways to leave it."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from ..problem import Problem
from ..session import Session, session_from_doc, session_to_doc
from . import files
from .chart import readable
from .document import Contents, Json
from .errors import AlreadyClosed, Damaged, NotConfirmed, ShelfError, saving
from .files import Folder
from .ids import JOURNAL_SUFFIX
from .journal import Journal, decode_lines, encode_line
from .lock import ChartLock

DISCARDED = "discarded"

Keep = Callable[[Session, str, str], Session]
"""Seals a session with author and time and stores it in its chart; returns it sealed."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What an open session works with.

    Attributes:
        chart_id: the chart.
        journals: the folder of journals.
        lock: the chart's lock, held.
        keep: stores the session in its chart.
    """

    chart_id: str
    journals: Folder
    lock: ChartLock
    keep: Keep

    @property
    def name(self) -> str:
        """File name of the journal."""
        return self.chart_id + JOURNAL_SUFFIX


class OpenSession:
    """An open session. Everything appended is on the disk, so it can be left at any time.

    Attributes:
        chart_id: the chart.
        session: the session as it was started, without readings.
        entries: what the journal held when the session was resumed, in order.
        problems: what of the journal could not be read at resume.
    """

    def __init__(
        self,
        desk: Desk,
        session: Session,
        sound: bytes,
        entries: tuple[Json, ...] = (),
        problems: tuple[Problem, ...] = (),
    ) -> None:
        self.chart_id = desk.chart_id
        self.session = session
        self.entries = entries
        self.problems = problems
        self._desk = desk
        self._open = True
        self._in_chart = False
        self._journal = Journal(desk.journals, desk.name, desk.chart_id, sound)

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
        self._require_open()
        if session.id != self.session.id:
            raise ShelfError("Another session is open in this chart: nothing was changed")
        try:
            with saving("The session"):
                sealed = self._desk.keep(session, author, at)
        except NotConfirmed:
            self._in_chart = True
            raise
        # The session is safe now. A journal that cannot be removed is recognised as
        # left over by whoever opens the chart next.
        with suppress(OSError):
            files.remove(self._desk.journals, self._desk.name)
        self.leave()
        return sealed

    def leave(self) -> None:
        """Release the chart; the session stays open. Harmless when called twice."""
        self._journal.close()
        if self._open:
            self._open = False
            self._desk.lock.release()

    def discard(self) -> None:
        """Set the journal aside, never delete it, and release the chart.

        Raises:
            NotSaved: the journal is where it was and the session still open.
        """
        self._require_open()
        with saving("The setting aside of the session"):
            set_aside(self._desk.journals, self._desk.name)
        self.leave()

    def _require_open(self) -> None:
        if not self._open:
            raise ShelfError("This session was left: nothing was changed, resume it first")


def set_aside(journals: Folder, name: str) -> str:
    """Move a journal to the discarded ones; returns its new name."""
    new = _discarded_name(name)
    files.move(journals, name, journals.sub(DISCARDED), new)
    return new


def start_journal(desk: Desk, session: Session) -> OpenSession:
    """Write the journal's header and open the session; see Shelf.start."""
    line, _ = encode_line(session_to_doc(session), 0, desk.chart_id)
    files.replace(desk.journals, desk.name, line)
    return OpenSession(desk, session, line)


def resume_journal(desk: Desk, chart: Contents) -> OpenSession:
    """Read and mend the journal and open the session; see Shelf.resume.

    Args:
        desk: what the session works with.
        chart: the chart's file, to see whether the session is in it already.
    """
    data = files.read(desk.journals, desk.name)
    lines = decode_lines(data, desk.chart_id)
    session = _header(lines.entries)
    if session is None:
        new = set_aside(desk.journals, desk.name)
        raise Damaged(
            "The journal of the open session is damaged from its first line on: it was set "
            f"aside as journals/{DISCARDED}/{new} and nothing was deleted, start a new session"
        )
    ids, _ = readable(chart, "sessions", lambda body: body["id"])
    if session.id in ids:
        files.remove(desk.journals, desk.name)
        raise AlreadyClosed(
            "This session was closed and is in the chart: nothing was lost, "
            "only its left-over journal was cleared away"
        )
    sound = data[: lines.length]
    problems: tuple[Problem, ...] = ()
    if lines.rest:
        copy = _discarded_name(desk.name)
        files.replace(desk.journals.sub(DISCARDED), copy, data)
        files.replace(desk.journals, desk.name, sound)
        problems = (_cut_off(len(lines.entries), lines.rest, copy),)
    return OpenSession(desk, session, sound, lines.entries[1:], problems)


def header_of(data: bytes, chart_id: str) -> Session | None:
    """The session in a journal's header, None when that is damaged."""
    return _header(decode_lines(data[: data.find(b"\n") + 1], chart_id).entries)


def _header(entries: tuple[Json, ...]) -> Session | None:
    try:
        session = session_from_doc(entries[0])
        return session if session.when.utcoffset() is not None else None
    except (IndexError, KeyError, TypeError, ValueError, AttributeError):
        return None


def _cut_off(line: int, rest: bytes, copy: str) -> Problem:
    lost = rest.count(b"\n")
    if lost:
        what = f"{lost} lines from line {line + 1} on are damaged and were left out"
    else:
        what = f"its last {len(rest)} bytes were never confirmed as saved and were left out"
    return Problem(
        "the journal of this session",
        what,
        f"look at the last readings; the journal as it was is journals/{DISCARDED}/{copy}",
    )


def _discarded_name(name: str) -> str:
    from secrets import token_hex

    return f"{name.removesuffix(JOURNAL_SUFFIX)}-{token_hex(4)}{JOURNAL_SUFFIX}"
