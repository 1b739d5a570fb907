"""The shelf itself: what the rest of the program may ask of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ..chart.amendment import Amendment
from ..chart.chart import Chart, plain
from ..chart.chart_entry import ChartEntry
from ..chart.details import DetailsChange
from ..chart.event import Event
from ..chart.ids import AMENDING_SUFFIX, JOURNAL_SUFFIX, checked
from ..chart.patient import Patient
from ..chart.session import Session
from ..errors import CodeTaken, ShelfError, reading, saving
from . import files
from .chart_reader import ChartReader
from .encryption.codec_of import codec_of
from .encryption.key import ShelfKey
from .files import Folder
from .index import Index, Progress, place_in_list
from .lock import ChartLock, held, released_on_error, take
from .maintenance.operations import ShelfMaintenance, go_on
from .opened import (
    JournalContext,
    OpenSession,
    Saved,
    resume_journal,
    saved,
    start_journal,
    with_open,
)
from .places import CODES_LOCK, TREE
from .transfers import ShelfTransfers

if TYPE_CHECKING:
    from .opened_amendment import OpenAmendment


class Shelf(ShelfMaintenance, ShelfTransfers):
    """A folder of charts. Several processes may use one at a time.

    Attributes:
        folder: the folder, absolute.
    """

    def __init__(self, folder: Path, key: ShelfKey | None = None) -> None:
        """Make the folders where missing, and clear away what dead writers left.

        Args:
            folder: the folder.
            key: what keyfile.unlock() gives for an encrypted shelf.

        Raises:
            ShelfError: when the folder is a link, belongs to another account, or other
                accounts may write to it; Locked when it is encrypted and this is not its key.
        """
        self.folder = folder.absolute()
        root = Folder(self.folder, codec=codec_of(self.folder, key))
        self._charts = root.sub("charts")
        self._journals = root.sub("journals")
        self._locks = root.sub("locks")
        with reading(f"The shelf {self.folder}"):
            files.make_tree(self.folder, TREE, root.codec)
            for parts in ((), *TREE):
                files.sweep(root.at(parts))
            with suppress(OSError):  # a disk that cannot flush can still be read
                files.flush(self._charts)
            go_on(root)
        self._root = root
        self._index = Index(root)
        self._index.mend()
        self._reader = ChartReader(self._charts)

    def charts(self) -> tuple[ChartEntry, ...]:
        """Every chart: those with an open session first, then the latest, then by code."""
        return self._sorted(lambda: self.listed(self._index.entries))

    def charts_at_once(self) -> tuple[ChartEntry, ...]:
        """The same for a first look at many charts, as charts() had them the last time.

        No chart file is looked at, so that it takes half the time; charts() is to follow. Empty
        where charts() is quick itself, or there is no list to be had without it.
        """
        return self._sorted(self._index.at_once)

    def _sorted(self, read: Callable[[], list[ChartEntry]]) -> tuple[ChartEntry, ...]:
        with reading("The list of charts"):
            if not (entries := read()):
                return ()
            listed = with_open(entries, self._journals)
        return tuple(sorted(listed, key=place_in_list))

    def make_list(self, progress: Progress) -> None:
        """Read every chart for the list if its index is gone; raises ShelfError if it cannot."""
        with reading("The list of charts"):
            self._index.make(progress)

    def find(self, code: str) -> str | None:
        """The id of the chart of a patient code, None when there is none.

        Raises:
            ShelfError: when it is not among those that could be read, but not all could.
        """
        return self.finder()(code)

    def finder(self) -> Callable[[str], str | None]:
        """What find() says as of now, for many codes at the cost of one listing."""
        with reading("The list of charts"):
            entries = self.listed(self._index.entries)
        ids = {entry.code: entry.id for entry in reversed(entries)}
        all_read = self._index.all_read

        def find(code: str) -> str | None:
            if code not in ids and not all_read:
                raise ShelfError(
                    f"A chart file could not be read, so it may be that of {code}: "
                    "nothing was changed, see verify for which file and fix that"
                )
            return ids.get(code)

        return find

    def create(self, patient: Patient, author: str = "", at: str = "") -> str:
        """A new chart; returns its id.

        Args:
            patient: the patient.
            author: who makes it, "" when not known.
            at: ISO 8601 local time with its UTC offset, "" for the present.

        Raises:
            CodeTaken: when the code has a chart.
            NotSaved: when it could not be written.
        """
        made = self.create_all([patient], author, at)[patient.code]
        if isinstance(made, ShelfError):
            raise made
        return made

    def create_all(
        self,
        patients: Sequence[Patient],
        author: str = "",
        at: str = "",
        sessions: Mapping[str, Sequence[Session]] | None = None,
    ) -> dict[str, str | ShelfError]:
        """New charts for patients of different codes, the shelf listed once for all of them.

        Args:
            patients: the patients.
            author: as in create(); also signs the sessions.
            at: as in create().
            sessions: by patient code, what is signed and stored with the chart, in one write.

        Returns:
            By patient code the chart's id, or why there is none. With NotConfirmed it is there.

        Raises:
            ShelfError: when not even the first could be tried.
        """
        made: dict[str, str | ShelfError] = {}
        with saving("The new chart"), held(self._locks, CODES_LOCK):
            find = self.finder()
            for patient in patients:
                own = (sessions or {}).get(patient.code, ())
                try:
                    with saving("The new chart"):
                        made[patient.code] = self._create(patient, find, author, at, own)
                except ShelfError as error:
                    made[patient.code] = error
        return made

    def _create(
        self,
        patient: Patient,
        find: Callable[[str], str | None],
        author: str,
        at: str,
        sessions: Sequence[Session],
    ) -> str:
        from .writing import create_chart

        self.refuse_erased(patient.code)
        if find(patient.code) is not None:
            files.flush(self._charts)  # it may be there only since a process died
            raise CodeTaken(
                f"{patient.code} has a chart already: nothing was changed, "
                "open that one or choose another code"
            )
        return create_chart(self._charts, patient, author, at or _now(), sessions)

    def load(self, chart_id: str) -> Chart:
        """One chart. Damaged documents become its problems, the others are read.

        Raises:
            ShelfError: when there is no such chart, or it cannot be read at all.
        """
        return self._reader.chart(chart_id)

    def has_open(self, chart_id: str) -> bool:
        """Whether the chart has an open session."""
        with reading("The open session"):
            return files.exists(self._journals, checked(chart_id) + JOURNAL_SUFFIX)

    def look(self, chart_id: str) -> Saved | None:
        """The open session of a chart as last saved, also while somebody else enters it.

        None when there is none, or not even its header is readable.
        """
        name = checked(chart_id) + JOURNAL_SUFFIX
        with reading("The open session"):
            try:
                return saved(files.read(self._journals, name), chart_id)
            except FileNotFoundError:
                return None

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
        with saving("The start of the session"):
            lock = take(self._locks, chart_id, who)
            with released_on_error(lock):
                if self.has_open(chart_id):
                    raise ShelfError(
                        "This chart has an open session: nothing was changed, resume that one"
                    )
                context = self._context(chart_id, lock)
                opened = start_journal(context, header)
                lock.reported()
        return opened

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
        with saving("The open session"):
            lock = take(self._locks, chart_id, who)
            with released_on_error(lock):
                if not self.has_open(chart_id):
                    raise ShelfError(
                        "This chart has no open session: nothing was changed, start one"
                    )
                # A journal is not taken away for what only the system shows in the chart.
                files.flush(self._charts)
                contents = self._reader.contents(chart_id)
                opened = resume_journal(self._context(chart_id, lock), contents)
                lock.reported()
        return opened

    def add_closed(
        self, chart_id: str, sessions: Sequence[Session], author: str, at: str
    ) -> tuple[Session, ...]:
        """Sign sessions in the given order and store them in one write; all or none.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when one of them is in the chart already.
            NotSaved: when they could not be written.
        """
        from .writing import add_sessions

        self._reader.require(chart_id)
        with saving("The set of sessions"), held(self._locks, chart_id):
            return add_sessions(self._charts, chart_id, sessions, author, at)

    def amend(self, chart_id: str, amendment: Amendment) -> Amendment:
        """Store an amendment beside the session it names; returns it as signed.

        One that does not say what it was made on is made on what is there. One that was made
        on a document on which another was made meanwhile is kept beside that other.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when what it was made on is not in the chart, or author or reason is
                missing, or it settles a conflict and leaves a disputed station out.
            NotSaved: when it could not be written.
        """
        from .writing import add_amendment

        self._reader.require(chart_id)
        with saving("The amendment"), held(self._locks, chart_id):
            return add_amendment(self._charts, chart_id, amendment)

    def amend_all(self, chart_id: str, amendments: Sequence[Amendment]) -> None:
        """Store amendments of different sessions in one write; all or none.

        Raises as amend() does.
        """
        from .writing import add_amendments

        self._reader.require(chart_id)
        with saving("The set of amendments"), held(self._locks, chart_id):
            add_amendments(self._charts, chart_id, amendments)

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
        with saving("The start of the amendment"):
            lock = take(self._locks, chart_id, "an amendment")
            with released_on_error(lock):
                context = replace(self._context(chart_id, lock), suffix=AMENDING_SUFFIX)
                files.flush(self._charts)  # as in resume()
                opened = go_on_amending(context, self._charts, self._reader.contents(chart_id))
                opened = opened or start_amending(context, self._charts, header, made_on)
                lock.reported()
        return opened

    def add_event(self, chart_id: str, event: Event, author: str = "", at: str = "") -> None:
        """Store an event; see add_events()."""
        self.add_events(chart_id, [event], author, at)

    def add_events(
        self, chart_id: str, events: Sequence[Event], author: str = "", at: str = ""
    ) -> None:
        """Store events in one write, all or none; author and at as in create().

        Raises like amend().
        """
        from .writing import add_events

        self._reader.require(chart_id)
        what = "The event" if len(events) == 1 else "The set of events"
        with saving(what), held(self._locks, chart_id):
            add_events(self._charts, chart_id, events, author, at or _now())

    def change_details(self, chart_id: str, change: DetailsChange) -> DetailsChange:
        """Store a change of the patient's details; returns it as signed.

        One that says what it was made on is refused where the details changed since. Raises
        like amend().
        """
        from .writing import add_details

        self._reader.require(chart_id)
        with saving("The change of details"), held(self._locks, chart_id):
            return add_details(self._charts, chart_id, change)

    def _context(self, chart_id: str, lock: ChartLock) -> JournalContext:
        def keep(session: Session, author: str, at: str) -> Session:
            from .writing import keep_session

            return keep_session(self._charts, chart_id, plain(session), author, at)

        return JournalContext(chart_id, self._journals, lock, keep)


def _now() -> str:
    return datetime.now().astimezone().isoformat(timespec="seconds")
