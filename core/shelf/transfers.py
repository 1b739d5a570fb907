"""Sessions taken on the wrong patient: withdrawn, or moved to the right chart.

The copy is written first, together with the document that says where it came from. Only then
is the session withdrawn. Where the program ended between the two, the list of charts shows a
session that came from a chart which still counts it: whoever lists them next finishes that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from secrets import token_hex

from ..chart.chain import Chain
from ..chart.chart import UNREADABLE, Chart, plain
from ..chart.chart_entry import ChartEntry
from ..chart.session import Session, seal_holds
from ..chart.transfer import Transfer, copy_id
from ..errors import NotConfirmed, ShelfError, reason, saving
from ..tardieu.checks import COMPARED
from .entering import ShelfEntering
from .lock import held


class ShelfTransfers(ShelfEntering):
    """The part of Shelf for sessions that leave a chart."""

    def withdraw(self, chart_id: str, session_id: str, author: str, why: str, at: str) -> Transfer:
        """Withdraw a closed session: it stays in the file and in the history, and counts no more.

        Args:
            chart_id: the chart.
            session_id: the session.
            author: who withdraws it.
            why: the reason, as typed.
            at: ISO 8601 local time with its UTC offset.

        Raises:
            ChartLocked: when somebody has the chart open for entry.
            ShelfError: when the session is not there or withdrawn already, an amendment of the
                chart is begun, or author or reason is missing.
            NotSaved: when it could not be written.
        """
        from .writing import add_transfer

        with saving("The withdrawal"), held(self._locks, chart_id):
            self._leaving(self._reader.chart(chart_id), session_id)
            transfer = Transfer(token_hex(16), "withdrawn", session_id, "", "", author, why, at)
            return add_transfer(self._charts, chart_id, transfer)

    def move(
        self, chart_id: str, session_id: str, to: str, author: str, why: str, at: str
    ) -> Session:
        """Move a closed session to another chart; returns the copy as it is signed there.

        The copy has the readings that hold now, not the former ones, and none of the questions
        that came from last values of the wrong patient. Args and errors as withdraw(), also of
        the other chart; NotConfirmed when the copy is there and the session not yet withdrawn.
        """
        from .writing import add_transfer, receive

        if to == chart_id:
            raise ShelfError("The session is in this chart already: nothing was changed")
        with saving("The move"), held(self._locks, chart_id), held(self._locks, to):
            chart = self._reader.chart(chart_id)
            chain = self._leaving(chart, session_id)
            if chain.conflict:
                raise ShelfError(
                    "Amendments of this session disagree: nothing was changed, settle that first"
                )
            target = self._reader.chart(to)
            if target.patient == UNREADABLE:
                raise ShelfError("The other chart is damaged: nothing was changed, restore it")
            if any(code in why.upper() for code in (chart.patient.code, target.patient.code)):
                raise ShelfError(
                    "The reason has a patient code in it, which must not stand in another "
                    "patient's chart: nothing was changed, leave the code out"
                )
            copy = _copy(chain.current(), copy_id(chart_id, session_id, to))
            note = Transfer(
                token_hex(16), "received", copy.id, chart_id, session_id, author, why, at
            )
            copy = receive(self._charts, to, copy, note)
            try:
                add_transfer(self._charts, chart_id, _left(note, to))
            except OSError as error:
                raise NotConfirmed(
                    "The session is in the other chart now, but it still counts here because "
                    f"{reason(error)}: nothing is lost, fix that and open the list of patients, "
                    "and it is withdrawn here"
                ) from error
        return copy

    def _leaving(self, chart: Chart, session_id: str) -> Chain:
        """The session that is to leave, with its amendments; raises ShelfError if it cannot."""
        chain = next((c for c in chart.every_chain if c.session.id == session_id), None)
        if chain is None or not seal_holds(chain.session):
            raise ShelfError(
                "The session is damaged or not in this chart: nothing was changed, look at "
                "limbscribe verify"
            )
        if session_id in chart.withdrawn:
            raise ShelfError("The session is withdrawn already: nothing was changed")
        if self.amending(chart.id):
            raise ShelfError(
                "An amendment in this chart was begun and not saved: nothing was changed, save "
                "or drop it first"
            )
        return chain

    def listed(self, entries: Callable[[], list[ChartEntry]]) -> list[ChartEntry]:
        """Every chart, in no order, once the moves that were cut short are finished."""
        found = entries()
        return entries() if self._finish(found) else found

    def _finish(self, entries: Sequence[ChartEntry]) -> bool:
        """Withdraw sessions whose copy is in another chart; returns whether any was."""
        done = False
        for chart_id, session_id, to in unfinished(entries):
            from .writing import add_transfer

            # Somebody else may be just at it; what fails is tried again with the next list.
            with suppress(ShelfError, OSError), held(self._locks, chart_id):
                chart = self._reader.chart(chart_id)
                there = {session.id for session in chart.sessions} - chart.withdrawn.keys()
                came = self._reader.chart(to).received.values()
                note = next((n for n in came if (n.chart, n.other) == (chart_id, session_id)), None)
                if note is not None and session_id in there:
                    add_transfer(self._charts, chart_id, _left(note, to))
                    done = True
        return done


def unfinished(entries: Sequence[ChartEntry]) -> Iterator[tuple[str, str, str]]:
    """List sessions whose copy came while they still count: chart, session, chart of the copy."""
    came = [entry for entry in entries if entry.came]
    if not came:  # as on nearly every list, however long
        return
    gone = {entry.id: entry.gone.split() for entry in entries}
    for entry in came:
        for pair in entry.came.split():
            chart, _, session = pair.partition("/")
            if chart in gone and session not in gone[chart]:
                yield chart, session, entry.id


def _left(note: Transfer, to: str) -> Transfer:
    """Make the document of the chart that is left from that of the one that has the copy."""
    other, session = note.session, note.other
    return replace(
        note, id=copy_id(to, other, note.chart), kind="withdrawn",
        session=session, chart=to, other=other, hash="",
    )  # fmt: skip


def _copy(session: Session, id_: str) -> Session:
    readings = tuple(
        replace(each, flags=tuple(flag for flag in each.flags if flag.rule not in COMPARED))
        for each in session.readings
    )
    return plain(replace(session, id=id_, readings=readings, seal=None))
