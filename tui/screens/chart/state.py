"""What the chart screen shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from ....core.change.compare import Basis
from ....core.change.numbers import JointRow, joint_rows
from ....core.change.trend import changed_first, series_of_all, stations_seen
from ....core.chart.chain import Chain
from ....core.chart.chart import Chart
from ....core.chart.session import Session
from ....core.entry.amending import Place
from ....core.entry.rows import StationRow, session_rows
from ....core.tardieu.reading import Side
from ....core.text import cut, padded, visible
from ...kit.scroll import STEPS, following
from ...kit.scroll import clamped as index_clamped
from ...kit.scroll import moved as row_moved

Joint = tuple[str, Side]
"""Id of a muscle group, and side."""

View = Literal["trend", "numbers", "sessions", "page"]
VIEWS: tuple[View, ...] = ("trend", "numbers", "sessions", "page")


@dataclass(frozen=True, slots=True)
class ChartData:
    """What was loaded.

    Attributes:
        chart: the chart as it was read.
        sessions: in the order of their dates, amendments applied; the open one comes last
            when it is shown.
        has_open: a session of this chart is open.
        joints: every muscle group and side that can be chosen.
        changed: their indices, those that changed most at the last session first.
        chains: the amendments of each closed session, by its id.
        basis: muscle groups and settings of the clinic.
        shown_open: id of the session that is still open and shown with the others, or "".
    """

    chart: Chart
    sessions: tuple[Session, ...]
    has_open: bool
    joints: tuple[Joint, ...]
    changed: tuple[int, ...]
    chains: Mapping[str, Chain]
    basis: Basis
    shown_open: str = ""

    def name(self, joint: Joint) -> str:
        """Muscle group and side in full."""
        muscle = self.basis.muscles.get(joint[0])
        return f"{muscle.name if muscle else joint[0]}, {joint[1].word}"

    def short(self, joint: Joint) -> str:
        """Abbreviation and side in full."""
        muscle = self.basis.muscles.get(joint[0])
        name = visible(muscle.abbreviation if muscle else joint[0])
        return f"{padded(cut(name, 8), 8)} {joint[1].word}"

    def rows_of(self, joint: Joint) -> tuple[JointRow, ...]:
        """The readings of a joint, in the order of the sessions."""
        return joint_rows(self.sessions, joint, self.basis.muscles, self.chart.patient)

    def stations_of(self, session: Session) -> tuple[StationRow, ...]:
        """The stations of a session."""
        return session_rows(session, self.basis.muscles, self.chart.patient)


@dataclass(frozen=True, slots=True)
class ChartState:
    """What of a chart is in sight.

    Attributes:
        view: which of the views is shown.
        joint: index of the joint.
        session: index of the session.
        row: index of the selected station within that session.
        both: the trend shows both sides of the joint together.
    """

    view: View = "trend"
    joint: int = 0
    session: int = 0
    row: int = 0
    both: bool = False


def chart_data(
    chart: Chart,
    has_open: bool,
    basis: Basis,
    start: Joint | None = None,
    open_session: Session | None = None,
) -> ChartData:
    """What the screen needs of a chart; ``start`` is among the joints in any case.

    Args:
        chart: the chart.
        has_open: it has an open session.
        basis: muscle groups and settings of the clinic.
        start: the joint asked for.
        open_session: the open session as last saved, to be shown with the others.
    """
    sessions = (*chart.by_date, *((open_session,) if open_session else ()))
    joints = stations_seen(sessions)
    if start and start not in joints:
        joints = (start, *joints)
    changed = tuple(changed_first(series_of_all(sessions, joints)))
    shown = open_session.id if open_session else ""
    return ChartData(chart, sessions, has_open, joints, changed, chart.amended, basis, shown)


def first_state(data: ChartData, start: Joint | None = None) -> ChartState:
    """The state to begin with: the joint asked for, or the most changed; the latest session."""
    joint = data.changed[0] if data.changed else 0
    if start in data.joints and start:
        joint = data.joints.index(start)
    return ChartState(joint=joint, session=max(0, len(data.sessions) - 1))


def rows_of_joint(data: ChartData, state: ChartState) -> tuple[JointRow, ...]:
    """The readings of the chosen joint."""
    return data.rows_of(data.joints[state.joint]) if data.joints else ()


def rows_of_session(data: ChartData, state: ChartState) -> tuple[StationRow, ...]:
    """The stations of the chosen session."""
    return data.stations_of(data.sessions[state.session]) if data.sessions else ()


def place_of_row(state: ChartState, data: ChartData) -> Place | None:
    """The chosen station of the session, None when it has none."""
    rows = rows_of_session(data, state)
    if not rows:
        return None
    row = rows[state.row]
    return row.muscle, row.side, row.reading.fast_velocity if row.reading else None


def moved(state: ChartState, data: ChartData, action: str, page: int = 1) -> ChartState:
    """Move by an action: one of STEPS, or one that changes session, view or sides.

    Args:
        state: before it.
        data: what was loaded.
        action: what the key means.
        page: rows, or small trends, that a page key passes over.
    """
    if action in STEPS:
        return selected(
            state, data, row_moved(at_row(state, data), action, count(data, state), page)
        )
    return MOVES[action](state, data)


def names(data: ChartData, state: ChartState) -> list[str]:
    """Name every row of the view: the stations of the session, or the joints."""
    if state.view == "sessions":
        return [f"{row.name} {row.short} {row.side.word}" for row in rows_of_session(data, state)]
    order = data.changed if state.view == "page" else range(len(data.joints))
    return [f"{data.name(data.joints[at])} {data.short(data.joints[at])}" for at in order]


def count(data: ChartData, state: ChartState) -> int:
    """How many rows the view has to choose from."""
    return len(rows_of_session(data, state)) if state.view == "sessions" else len(data.joints)


def at_row(state: ChartState, data: ChartData) -> int:
    """Which of them is chosen."""
    if state.view == "sessions":
        return state.row
    in_page = state.view == "page" and data.changed
    return data.changed.index(state.joint) if in_page else state.joint


def selected(state: ChartState, data: ChartData, row: int) -> ChartState:
    """Choose a row of the view; where it is a station, the other views follow it."""
    if state.view == "page" and data.changed:
        return replace(state, joint=data.changed[row])
    if state.view != "sessions":
        return replace(state, joint=row)
    state, rows = replace(state, row=row), rows_of_session(data, state)
    joint = (rows[row].muscle, rows[row].side) if rows else None
    return replace(state, joint=data.joints.index(joint)) if joint in data.joints else state


def clamped(state: ChartState, data: ChartData) -> ChartState:
    """Bring the indices inside data that may have changed."""
    state = replace(
        state,
        joint=index_clamped(state.joint, len(data.joints)),
        session=index_clamped(state.session, len(data.sessions)),
    )
    return replace(state, row=index_clamped(state.row, len(rows_of_session(data, state))))


def _next_view(state: ChartState, data: ChartData) -> ChartState:
    state = replace(state, view=following(VIEWS, state.view))
    return replace(state, row=_row_of_joint(state, data)) if state.view == "sessions" else state


def _to_session(state: ChartState, data: ChartData, step: int) -> ChartState:
    """Another session; where one joint is looked at, the next one that has a reading of it."""
    if state.view == "sessions":
        state = replace(state, session=index_clamped(state.session + step, len(data.sessions)))
        return replace(state, row=_row_of_joint(state, data))
    there = [row.session for row in rows_of_joint(data, state)]
    beyond = [session for session in there if (session - state.session) * step > 0]
    if not beyond:
        return state
    return replace(state, session=min(beyond) if step > 0 else max(beyond))


def _row_of_joint(state: ChartState, data: ChartData) -> int:
    """The station of the session that is the chosen joint, else the first."""
    wanted = data.joints[state.joint] if data.joints else None
    stations = [(row.muscle, row.side) for row in rows_of_session(data, state)]
    return stations.index(wanted) if wanted in stations else 0


def _across(by: int) -> Callable[[ChartState, ChartData], ChartState]:
    """To the next session; in the page, which has no session chosen, to the next joint."""
    step = "down" if by > 0 else "up"
    return lambda state, data: (
        moved(state, data, step) if state.view == "page" else _to_session(state, data, by)
    )


MOVES: dict[str, Callable[[ChartState, ChartData], ChartState]] = {
    "before": _across(-1),
    "after": _across(1),
    "view": _next_view,
    "sides": lambda state, _: replace(state, both=not state.both, view="trend"),
}
"""What the keys that go to another session, view or side make of the state."""
