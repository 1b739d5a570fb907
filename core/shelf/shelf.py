"""The shelf itself: what the rest of the program may ask of it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from ..patient import Patient
from ..session import Session
from . import files
from .chart import Amendment, Chart, Event, build_chart, plain
from .document import Contents, TooNew, read_contents
from .errors import CodeTaken, Damaged, ShelfError, reading, saving
from .files import Folder
from .ids import CHART_SUFFIX, JOURNAL_SUFFIX, chart_id_of, checked
from .index import ChartEntry, Index
from .lock import ChartLock, held, released_on_error, take
from .opened import (
    DISCARDED,
    Desk,
    OpenSession,
    header_of,
    resume_journal,
    start_journal,
)

TREE = (("charts",), ("journals",), ("journals", DISCARDED), ("locks",))
CODES_LOCK = "codes"


def default_folder() -> Path:
    """Where the shelf is: LIMBSCRIBE_SHELF, else below the user's data folder."""
    chosen = os.environ.get("LIMBSCRIBE_SHELF")
    if chosen:
        return Path(chosen)
    from platformdirs import user_data_path

    return user_data_path("limbscribe") / "shelf"


class Shelf:
    """A folder of charts. Several processes may use one at a time.

    Attributes:
        folder: the folder, absolute.
    """

    def __init__(self, folder: Path) -> None:
        """Make the folders where missing, and clear away what dead writers left.

        Raises:
            ShelfError: when the folder is a link, belongs to another account, or other
                accounts may write to it.
        """
        self.folder = folder.absolute()
        root = Folder(self.folder)
        self._charts = root.sub("charts")
        self._journals = root.sub("journals")
        self._locks = root.sub("locks")
        with reading(f"The shelf {self.folder}"):
            files.make_tree(self.folder, TREE)
            for parts in ((), *TREE):
                files.sweep(Folder(self.folder, parts))
        self._index = Index(root)

    def charts(self) -> tuple[ChartEntry, ...]:
        """Every chart: those with an open session first, then the latest, then by code."""
        with reading("The list of charts"):
            entries = self._index.entries()
            opened = self._opened()
        listed = [
            replace(entry, open_since=opened[entry.id][0], open_recorder=opened[entry.id][1])
            if entry.id in opened
            else entry
            for entry in entries
        ]
        return tuple(sorted(listed, key=_place_in_list))

    def find(self, code: str) -> str | None:
        """The id of the chart of a patient code, None when there is none.

        Raises:
            ShelfError: when it is not among those that could be read, but not all could.
        """
        with reading("The list of charts"):
            entries = self._index.entries()
        chart_id = next((entry.id for entry in entries if entry.code == code), None)
        if chart_id is None and not self._index.all_read:
            raise ShelfError(
                f"A chart file could not be read, so it may be that of {code}: "
                "nothing was changed, see verify for which file and mend that"
            )
        return chart_id

    def create(self, patient: Patient) -> str:
        """A new chart; returns its id.

        Raises:
            CodeTaken: when the code has a chart.
            NotSaved: when it could not be written.
        """
        from .writing import create_chart

        with saving("The new chart"), held(self._locks, CODES_LOCK):
            if self.find(patient.code) is not None:
                raise CodeTaken(
                    f"{patient.code} has a chart already: nothing was changed, "
                    "open that one or choose another code"
                )
            return create_chart(self._charts, patient)

    def load(self, chart_id: str) -> Chart:
        """One chart. Damaged documents become its problems, the others are read.

        Raises:
            ShelfError: when there is no such chart, or it cannot be read at all.
        """
        return build_chart(chart_id, f"charts/{chart_id}{CHART_SUFFIX}", self._read(chart_id))

    def has_open(self, chart_id: str) -> bool:
        """Whether the chart has an open session."""
        with reading("The open session"):
            return files.exists(self._journals, checked(chart_id) + JOURNAL_SUFFIX)

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
        self._require_chart(chart_id)
        header = plain(replace(session, readings=(), seal=None))
        with saving("The start of the session"):
            lock = take(self._locks, chart_id)
            with released_on_error(lock):
                if self.has_open(chart_id):
                    raise ShelfError(
                        "This chart has an open session: nothing was changed, resume that one"
                    )
                desk = self._desk(chart_id, lock)
                opened = start_journal(desk, header)
                lock.sign(who)
        return opened

    def resume(self, chart_id: str, who: str) -> OpenSession:
        """Go on with the open session of a chart.

        A last line that a crash cut short is cut off first. Lines behind a damaged one
        are left out and told in ``problems``; the journal as it was is kept aside.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            AlreadyClosed: when the session is in the chart and only its journal was left.
            ShelfError: when there is no open session.
            Damaged: when not even the journal's header is readable; it was set aside.
            NotSaved: when the journal could not be mended.
        """
        self._require_chart(chart_id)
        with saving("The open session"):
            lock = take(self._locks, chart_id)
            with released_on_error(lock):
                if not self.has_open(chart_id):
                    raise ShelfError(
                        "This chart has no open session: nothing was changed, start one"
                    )
                contents = self._read(chart_id)
                opened = resume_journal(self._desk(chart_id, lock), contents)
                lock.sign(who)
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

        self._require_chart(chart_id)
        with saving("The sessions"), held(self._locks, chart_id):
            return add_sessions(self._charts, chart_id, [plain(s) for s in sessions], author, at)

    def amend(self, chart_id: str, amendment: Amendment) -> None:
        """Store an amendment beside the session it names.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when the session is not in the chart, or author or reason is missing.
            NotSaved: when it could not be written.
        """
        from .writing import add_amendment

        self._require_chart(chart_id)
        with saving("The amendment"), held(self._locks, chart_id):
            add_amendment(self._charts, chart_id, amendment)

    def add_event(self, chart_id: str, event: Event) -> None:
        """Store an event. Raises like amend()."""
        from .writing import add_event

        self._require_chart(chart_id)
        with saving("The event"), held(self._locks, chart_id):
            add_event(self._charts, chart_id, event)

    def _desk(self, chart_id: str, lock: ChartLock) -> Desk:
        def keep(session: Session, author: str, at: str) -> Session:
            from .writing import keep_session

            return keep_session(self._charts, chart_id, plain(session), author, at)

        return Desk(chart_id, self._journals, lock, keep)

    def _require_chart(self, chart_id: str) -> None:
        with reading("The chart"):
            if not files.exists(self._charts, checked(chart_id) + CHART_SUFFIX):
                raise ShelfError("There is no such chart: nothing was changed, choose another")

    def _read(self, chart_id: str) -> Contents:
        self._require_chart(chart_id)
        with reading("The chart"):
            try:
                return read_contents(files.read(self._charts, chart_id + CHART_SUFFIX))
            except TooNew as error:
                raise Damaged(
                    f"The chart was not opened because {error}: nothing was changed, "
                    "use the later version"
                ) from error

    def _opened(self) -> dict[str, tuple[str, str]]:
        """Start and recorder of every open session, by chart."""
        opened: dict[str, tuple[str, str]] = {}
        for found in files.listing(self._journals):
            chart_id = chart_id_of(found.name, JOURNAL_SUFFIX)
            if chart_id is None:
                continue
            try:
                session = header_of(files.read(self._journals, found.name), chart_id)
            except FileNotFoundError:  # closed this moment
                continue
            if session is None:  # listed all the same: resuming it says what is wrong
                changed = datetime.fromtimestamp(found.mtime_ns // 10**9).astimezone()
                opened[chart_id] = (changed.isoformat(), "")
            else:
                opened[chart_id] = (session.started, session.recorder)
        return opened


def _place_in_list(entry: ChartEntry) -> tuple[bool, float, str]:
    last = datetime.fromisoformat(entry.last).timestamp() if entry.last else float("-inf")
    return (not entry.open_since, -last, entry.code)
