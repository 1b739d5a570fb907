"""What the compare screen shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ....core.change.compare import Basis, CompareRow, Comparison, compare
from ....core.chart.chart import Chart, Event
from ....core.chart.patient import Patient
from ....core.chart.session import Session

View = Literal["table", "details", "figures"]
VIEWS: tuple[View, ...] = ("table", "details", "figures")


@dataclass(frozen=True, slots=True)
class CompareData:
    """What was loaded.

    Attributes:
        patient: the patient.
        sessions: closed sessions by date, at least two.
        events: of the chart.
        basis: muscle groups, settings and figures.
    """

    patient: Patient
    sessions: tuple[Session, ...]
    events: tuple[Event, ...]
    basis: Basis

    def compared(self, state: CompareState) -> Comparison:
        """The comparison of the two chosen sessions."""
        then, now = self.sessions[state.then], self.sessions[state.now]
        return compare(self.patient, then, now, self.events, self.basis)


@dataclass(frozen=True, slots=True)
class CompareState:
    """Where the compare screen stands.

    Attributes:
        then: index of the earlier session.
        now: index of the later session, always greater.
        view: which of the views is shown.
        by_size: the most changed rows come first.
        row: index of the selected row in the order shown.
        top: first line shown of the details.
        message: last word to the reader.
    """

    then: int
    now: int
    view: View = "table"
    by_size: bool = False
    row: int = 0
    top: int = 0
    message: str = ""


def compare_data(chart: Chart, basis: Basis) -> CompareData | str:
    """What the screen needs of a chart, or why there is nothing to compare."""
    sessions = chart.by_date
    if len(sessions) < 2:
        count = "no closed session yet" if not sessions else "one closed session only"
        return f"there is {count}: a comparison needs two"
    return CompareData(chart.patient, sessions, chart.events, basis)


def first_state(data: CompareData, chosen: int | None = None) -> CompareState:
    """The state to begin with: the first session against the latest, or the chosen one."""
    last = len(data.sessions) - 1
    now = last if chosen is None or not 0 < chosen <= last else chosen
    return CompareState(0, now)


def with_sessions(state: CompareState, action: str, count: int) -> CompareState | None:
    """The state after a key that chooses sessions, None when the action does not.

    Args:
        state: the state.
        action: the part of a binding's id behind "compare.".
        count: number of sessions.
    """
    then, now = state.then, state.now
    chosen = {
        "baseline": (0, now),
        "previous": (now - 1, now),
        "latest": (then, count - 1),
        "then_before": (then - 1, now),
        "then_after": (then + 1, now),
        "now_before": (then, now - 1),
        "now_after": (then, now + 1),
    }.get(action)
    if chosen is None:
        return None
    if not 0 <= chosen[0] < chosen[1] < count:
        return replace(state, message="no further: then comes before now, and both are sessions")
    return replace(state, then=chosen[0], now=chosen[1], top=0, message="")


def rows_shown(state: CompareState, comparison: Comparison) -> tuple[CompareRow, ...]:
    """The rows in the order shown."""
    return comparison.by_size if state.by_size else comparison.rows


def on_station(
    state: CompareState, rows: Sequence[CompareRow], wanted: CompareRow | None
) -> CompareState:
    """The state with the station of a row selected, where it still is."""
    places = [
        index
        for index, row in enumerate(rows)
        if wanted and (row.muscle, row.side) == (wanted.muscle, wanted.side)
    ]
    same = [place for place in places if wanted and rows[place].velocity == wanted.velocity]
    place = next(iter((*same, *places)), max(0, min(state.row, len(rows) - 1)))
    return replace(state, row=place)


def moved(state: CompareState, action: str, total: int, page: int) -> CompareState | None:
    """The state after a key that moves, None when the action does not move.

    Args:
        state: the state.
        action: the part of a binding's id behind "compare.".
        total: number of rows.
        page: rows on a page.
    """
    quiet = replace(state, message="")
    if action == "view":
        view = VIEWS[(VIEWS.index(state.view) + 1) % len(VIEWS)]
        return replace(quiet, view=view, top=0)
    if action in ("pageup", "pagedown") and state.view == "details":
        return replace(quiet, top=max(0, state.top + (page if action == "pagedown" else -page)))
    steps = {"up": -1, "down": 1, "pageup": -page, "pagedown": page, "home": -total, "end": total}
    if action not in steps:
        return None
    row = max(0, min(state.row + steps[action], total - 1))
    return replace(quiet, row=row, top=0)
