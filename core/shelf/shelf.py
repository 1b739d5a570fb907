"""The shelf itself: what the rest of the program may ask of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from ..chart.amendment import Amendment
from ..chart.chart import Chart
from ..chart.chart_entry import ChartEntry
from ..chart.details import DetailsChange
from ..chart.document import Contents
from ..chart.event import Event
from ..chart.patient import Patient
from ..chart.session import Session
from ..dates import stamp
from ..disk import Found
from ..errors import CodeTaken, ShelfError, reading, saving
from . import files
from .chart_reader import ChartReader
from .encryption.codec_of import codec_of
from .encryption.key import ShelfKey
from .files import Folder
from .index import Index, Progress, in_list_order, stamp_of, summary_of
from .lock import held
from .maintenance.operations import ShelfMaintenance, go_on
from .opened import with_open
from .places import CODES_LOCK, TREE, Where
from .server.address import ServerAddress
from .transfers import ShelfTransfers

if TYPE_CHECKING:
    from .server.outbox import Outbox
    from .server.rows_index import RowsIndex


class Shelf(ShelfMaintenance, ShelfTransfers):
    """The charts of a folder, or of a server. Several processes may use one at a time.

    Attributes:
        folder: the folder, absolute; of a server a path at which nothing is.
    """

    def __init__(self, where: Where, key: ShelfKey | None = None) -> None:
        """Make the folders where missing, and clear away what dead writers left.

        Args:
            where: the folder, or the address of a shelf on a server, which must be there.
            key: what keyfile.unlock() gives for an encrypted shelf in a folder.

        Raises:
            ShelfError: when the folder is a link, belongs to another account, or other
                accounts may write to it; Locked when it is encrypted and this is not its key;
                when the server cannot be reached or has no shelf.
        """
        self._outbox: Outbox | None = None
        self._index: Index | RowsIndex
        if isinstance(where, ServerAddress):
            from .server.opening import open_server

            self._root, self._index, self._outbox = open_server(where)
        else:
            self._root, self._index = _open_folder(where.absolute(), key)
        self.folder = self._root.root
        self._charts = self._root.sub("charts")
        self._journals = self._root.sub("journals")
        self._locks = self._root.sub("locks")
        self._reader = ChartReader(self._charts)
        with reading(f"The shelf {where}"):
            go_on(self._root)
        self._index.mend()
        if self._outbox is not None:
            self._outbox.deliver_quietly()

    def charts(self) -> tuple[ChartEntry, ...]:
        """Every chart: those with an open session first, then the latest, then by code."""
        if self._outbox is not None:  # what the server did not take while it was away
            self._outbox.deliver_quietly()
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
            return in_list_order(with_open(entries, self._journals))

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
            return self._index.finder(self.listed)

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
        from .writing import create_chart

        made: dict[str, str | ShelfError] = {}
        at = at or stamp()
        with saving("The new chart"), held(self._locks, CODES_LOCK):
            find = self.finder()
            for patient in patients:
                own = (sessions or {}).get(patient.code, ())
                try:
                    with saving("The new chart"):
                        self._refuse_taken(patient.code, find)
                        new = create_chart(self._charts, patient, author, at, own)
                        made[patient.code] = self._made(*new)
                except ShelfError as error:
                    made[patient.code] = error
        return made

    def _made(self, chart_id: str, contents: Contents, written: Found | None) -> str:
        """The id of a chart made just now, which need not be read for the list."""
        if written is not None and isinstance(self._index, Index):
            self._index.made[chart_id] = stamp_of(written), summary_of(chart_id, contents)
        return chart_id

    def _refuse_taken(self, code: str, find: Callable[[str], str | None]) -> None:
        self.refuse_erased(code)
        if find(code) is not None:
            files.flush(self._charts)  # it may be there only since a process died
            raise CodeTaken(
                f"{code} has a chart already: nothing was changed, "
                "open that one or choose another code"
            )

    def load(self, chart_id: str) -> Chart:
        """One chart. Damaged documents become its problems, the others are read.

        Raises:
            ShelfError: when there is no such chart, or it cannot be read at all.
        """
        return self._reader.chart(chart_id)

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
        return self.amend_all(chart_id, [amendment])[0]

    def amend_all(self, chart_id: str, amendments: Sequence[Amendment]) -> list[Amendment]:
        """Store amendments of different sessions in one write, all or none; as amend()."""
        from .writing import add_amendments

        self._reader.require(chart_id)
        what = "The amendment" if len(amendments) == 1 else "The set of amendments"
        with saving(what), held(self._locks, chart_id):
            return add_amendments(self._charts, chart_id, amendments)

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
            add_events(self._charts, chart_id, events, author, at or stamp())

    def change_details(self, chart_id: str, change: DetailsChange) -> DetailsChange:
        """Store a change of the patient's details; returns it as signed.

        One that says what it was made on is refused where the details changed since. Raises
        like amend().
        """
        from .writing import add_details

        self._reader.require(chart_id)
        with saving("The change of details"), held(self._locks, chart_id):
            return add_details(self._charts, chart_id, change)


def _open_folder(folder: Path, key: ShelfKey | None) -> tuple[Folder, Index]:
    root = Folder(folder, codec=codec_of(folder, key))
    with reading(f"The shelf {folder}"):
        files.make_tree(folder, TREE, root.codec)
        for parts in ((), *TREE):
            files.sweep(root.at(parts))
        with suppress(OSError):  # a disk that cannot flush can still be read
            files.flush(root.sub("charts"))
    return root, Index(root)
