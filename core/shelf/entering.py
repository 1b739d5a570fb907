"""Sessions and amendments that are being entered: begun, gone on with, looked at."""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from ..chart.chart import plain
from ..chart.ids import AMENDING_SUFFIX, JOURNAL_SUFFIX, checked
from ..chart.session import Session
from ..errors import ShelfError, reading, saving
from . import files
from .chart_reader import ChartReader
from .files import Folder
from .lock import take
from .opened import (
    JournalContext,
    OpenSession,
    Saved,
    begun_in,
    resume_journal,
    saved,
    start_journal,
)

if TYPE_CHECKING:
    from .opened_amendment import OpenAmendment
    from .server.address import ServerAddress
    from .server.outbox import Outbox


class ShelfEntering:
    """The part of Shelf for entry."""

    _charts: Folder
    _journals: Folder
    _locks: Folder
    _reader: ChartReader
    _outbox: Outbox | None

    def has_open(self, chart_id: str) -> bool:
        """Whether the chart has an open session."""
        with reading("The open session"):
            return files.exists(self._journals, checked(chart_id) + JOURNAL_SUFFIX)

    def begun(self, chart_id: str) -> tuple[str, str] | None:
        """ISO start and recorder of the open session of a chart, None when there is none.

        Where its header is damaged: when its journal was changed last, and "".
        """
        name = checked(chart_id) + JOURNAL_SUFFIX
        with reading("The open session"):
            found = files.look(self._journals, name)
            data = files.read_if_there(self._journals, name)
            return begun_in(found, data, chart_id) if found and data is not None else None

    def look(self, chart_id: str) -> Saved | None:
        """The open session of a chart as last saved, also while somebody else enters it.

        None when there is none, or not even its header is readable.
        """
        name = checked(chart_id) + JOURNAL_SUFFIX
        with reading("The open session"):
            data = files.read_if_there(self._journals, name)
            return None if data is None else saved(data, chart_id)

    def start(self, chart_id: str, session: Session, who: str) -> OpenSession:
        """Open a session and take the chart for entry.

        Args:
            chart_id: the chart.
            session: the session; readings are left out of the journal's header.
            who: shown to others who want the chart meanwhile.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when the chart has an open session, to be resumed instead.
            NotSaved: when the journal could not be written.
        """
        self._reader.require(chart_id)
        header = plain(replace(session, readings=(), seal=None))
        # What waits on this machine may be of a session that somebody else closed meanwhile.
        with saving("The start of the session"), self._entered(chart_id, who) as context:
            if self.has_open(chart_id):
                raise ShelfError(
                    "This chart has an open session: nothing was changed, resume that one"
                )
            return start_journal(context, header)

    def resume(self, chart_id: str, who: str) -> OpenSession:
        """Go on with the open session of a chart.

        A last line that a crash cut short is cut off first. Lines behind a damaged one
        are left out and reported in ``problems``; the journal as it was is kept aside.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            AlreadyClosed: when the session is in the chart and only its journal was left.
            ShelfError: when there is no open session.
            Damaged: when not even the journal's header is readable; it was set aside.
            NotSaved: when the journal could not be repaired.
        """
        self._reader.require(chart_id)
        with saving("The open session"), self._entered(chart_id, who) as context:
            if not self.has_open(chart_id):
                raise ShelfError("This chart has no open session: nothing was changed, start one")
            # A journal is not taken away for what only the system shows in the chart.
            files.flush(self._charts)
            return resume_journal(context, self._reader.contents(chart_id))

    def amending(self, chart_id: str) -> bool:
        """Whether an amendment of a session of this chart was begun and not saved."""
        with reading("The amendment"):
            return files.exists(self._journals, checked(chart_id) + AMENDING_SUFFIX)

    def open_amendment(
        self, chart_id: str, session: Session, made_on: Sequence[str]
    ) -> OpenAmendment:
        """Begin an amendment, or go on with the one that was begun in this chart.

        Args:
            chart_id: the chart.
            session: the session with the checklist to be walked through.
            made_on: hashes of the documents it is made on.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            Damaged: when the one begun is not readable; it was set aside.
            NotSaved: when its journal could not be written.
        """
        from .opened_amendment import go_on_amending, start_amending

        self._reader.require(chart_id)
        header = plain(replace(session, readings=(), seal=None))
        with (
            saving("The start of the amendment"),
            self._entered(chart_id, "an amendment", AMENDING_SUFFIX) as context,
        ):
            files.flush(self._charts)  # as in resume()
            opened = go_on_amending(context, self._reader.contents(chart_id))
            return opened or start_amending(context, header, made_on)

    def deliver(self, former: ServerAddress | None = None) -> Iterator[tuple[str, str, bool]]:
        """Take to the server what this account could not send so far, see Outbox.deliver().

        Args:
            former: the address that the shelf had when the fields were kept here, if another one.
        """
        if self._outbox is None:
            return
        yield from self._outbox.delivered
        outbox = self._outbox.under(former) if former else self._outbox
        if outbox is not None:
            yield from outbox.deliver()

    @contextmanager
    def _entered(
        self, chart_id: str, who: str, suffix: str = JOURNAL_SUFFIX
    ) -> Generator[JournalContext]:
        """Take a chart for entry, with what of its journal waits on this machine.

        The chart is let go of again where what follows fails.
        """
        lock = take(self._locks, chart_id, who)
        context = JournalContext(chart_id, self._charts, self._journals, lock, suffix, self._outbox)
        try:
            if self._outbox is not None:
                self._outbox.bring_in(context.name)
            yield context
            lock.reported()
        except BaseException:
            lock.release()
            raise
