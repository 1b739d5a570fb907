"""One line of the list of charts."""

from __future__ import annotations

from typing import NamedTuple

from .chart import UNREADABLE


class ChartEntry(NamedTuple):  # ten thousand of them are made for one list of charts
    """One line of the list of charts.

    Attributes:
        id: the chart's random id.
        code: patient code; that of UNREADABLE when the patient's document is damaged.
        diagnosis: as in Patient.
        affected: as in Patient.
        birth_year: as in Patient.
        sessions: how many closed sessions.
        last: ISO start of the latest of them, "" when there is none.
        injected: days of toxin injections, YYYY-MM-DD, the earliest first, blanks between.
        wanted: YYYY-MM-DD, the next date that was set by hand, "" when there is none.
        conflicts: how many sessions have amendments that disagree.
        gone: ids of the sessions withdrawn, blanks between; they are not among the above.
        came: where sessions came from, CHART/SESSION, blanks between.
        open_since: ISO time at which the open session was begun here, "" when there is none.
        open_recorder: who records the open session, "" when there is none.
        amending: an amendment was begun and not saved.
    """

    id: str
    code: str
    diagnosis: str
    affected: str
    birth_year: int | None
    sessions: int
    last: str
    injected: str = ""
    wanted: str = ""
    conflicts: int = 0
    gone: str = ""
    came: str = ""
    open_since: str = ""
    open_recorder: str = ""
    amending: bool = False

    @property
    def is_readable(self) -> bool:
        """Whether it is known whose the chart is."""
        return self.code != UNREADABLE.code


def cannot_be_read(charts: int) -> str:
    """Say that charts cannot be read, with their number."""
    return f"{charts} chart{'s' if charts != 1 else ''} cannot be read"
