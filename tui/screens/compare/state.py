"""What the compare screen shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from ....core.change.compare import Basis, CompareRow, Comparison, compare
from ....core.chart.chart import Chart
from ....core.chart.event import Event
from ....core.chart.events import day_words, latest_injection
from ....core.chart.patient import Patient
from ....core.chart.session import Session
from ...kit.scroll import clamped, following
from ...kit.scroll import moved as row_moved

View = Literal["table", "details", "figures", "gaps"]
VIEWS: tuple[View, ...] = ("table", "details", "figures", "gaps")


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
    """What of a comparison is in sight.

    Attributes:
        then: index of the earlier session.
        now: index of the later session, always greater.
        view: which of the views is shown.
        by_size: the most changed rows come first.
        row: index of the selected row in the order shown.
        top: first line shown of the details.
    """

    then: int
    now: int
    view: View = "table"
    by_size: bool = False
    row: int = 0
    top: int = 0


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


SESSION_ACTIONS = (
    *("baseline", "previous", "latest"),
    *("then_before", "then_after", "now_before", "now_after"),
)


def with_sessions(state: CompareState, action: str, count: int) -> CompareState | None:
    """Choose other sessions; None where there are none, or "now" would not come after "then".

    Args:
        state: the state.
        action: one of SESSION_ACTIONS, the part of a binding's id behind "compare.".
        count: number of sessions.
    """
    then, now = state.then, state.now
    earlier, later = {
        "baseline": (0, now),
        "previous": (now - 1, now),
        "latest": (then, count - 1),
        "then_before": (then - 1, now),
        "then_after": (then + 1, now),
        "now_before": (then, now - 1),
        "now_after": (then, now + 1),
    }[action]
    if not 0 <= earlier < later < count:
        return None
    return replace(state, then=earlier, now=later, top=0)


def since_injection(data: CompareData, state: CompareState) -> CompareState | str:
    """Choose the last session up to the latest injection before "now", or say why there is none.

    A session on the day of an injection counts as before it: one measures, then injects.
    """
    injected = latest_injection(data.events, data.sessions[state.now].when.date())
    if injected is None:
        return "no injection is on record up to the later session; e in the chart keeps the dates"
    past = [n for n, one in enumerate(data.sessions[: state.now]) if one.when.date() <= injected]
    if not past:
        return f"there is no session before the injection of {day_words(injected)}"
    return replace(state, then=past[-1], top=0)


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
    place = next(iter((*same, *places)), clamped(state.row, len(rows)))
    return replace(state, row=place)


def next_view(state: CompareState) -> CompareState:
    """Turn to the next view, from its top."""
    return replace(state, view=following(VIEWS, state.view), top=0)


def moved(state: CompareState, action: str, total: int, page: int) -> CompareState:
    """Select another row; page keys scroll the details where those fill the page.

    Args:
        state: the state.
        action: one of scroll.STEPS.
        total: number of rows.
        page: rows on a page.
    """
    if action in ("pageup", "pagedown") and state.view == "details":
        return replace(state, top=max(0, state.top + (page if action == "pagedown" else -page)))
    return replace(state, row=row_moved(state.row, action, total, page), top=0)
