"""What the chart screen shows, and how keys move in it: plain values, no terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from ....core.change.compare import Basis
from ....core.change.numbers import JointRow, joint_rows
from ....core.change.trend import stations_seen
from ....core.chart.amendment import Amendment
from ....core.chart.chain import Chain
from ....core.chart.chart import Chart, Event
from ....core.chart.events import standing
from ....core.chart.patient import Patient
from ....core.chart.session import Session
from ....core.chart.transfer import Transfer, withdrawn_words
from ....core.entry.amending import Place
from ....core.entry.rows import StationRow, session_rows
from ....core.tardieu.muscles import Muscle
from ....core.tardieu.reading import Side
from ...kit.scroll import clamped as index_clamped

Joint = tuple[str, Side]
"""Id of a muscle group, and side."""

View = Literal["trend", "numbers", "sessions", "page"]
VIEWS: tuple[View, ...] = ("trend", "numbers", "sessions", "page")

PAGE_STEP = 9
"""Joints passed over by a page key in the page of small trends: a page at 80x24."""


@dataclass(frozen=True, slots=True)
class ChartData:
    """What was loaded.

    Attributes:
        patient: the patient.
        sessions: in the order of their dates, amendments applied; the open one comes last
            when it is shown.
        amendments: as written.
        problems: damaged documents, each in a sentence.
        has_open: a session of this chart is open.
        joints: every muscle group and side that can be chosen.
        muscles: all muscle groups by id.
        reading_error: deg.
        shown_open: id of the session that is still open and shown with the others, or "".
        chains: the amendments of each closed session, by its id.
        events: what was done when, without what was struck.
        received: of the sessions that came from another chart: who moved them when and why.
        withdrawn: the sessions that no longer count, each in a sentence.
        basis: what the bands of a trend are made with; None for the figures that come with
            the program.
    """

    patient: Patient
    sessions: tuple[Session, ...]
    amendments: tuple[Amendment, ...]
    problems: tuple[str, ...]
    has_open: bool
    joints: tuple[Joint, ...]
    muscles: Mapping[str, Muscle]
    reading_error: int
    shown_open: str = ""
    chains: Mapping[str, Chain] = field(default_factory=dict[str, Chain])
    events: tuple[Event, ...] = ()
    received: Mapping[str, Transfer] = field(default_factory=dict[str, Transfer])
    withdrawn: tuple[str, ...] = ()
    basis: Basis | None = None

    def name(self, joint: Joint) -> str:
        """Muscle group and side in full."""
        muscle = self.muscles.get(joint[0])
        return f"{muscle.name if muscle else joint[0]}, {joint[1].word}"

    def short(self, joint: Joint) -> str:
        """Abbreviation and side in full."""
        muscle = self.muscles.get(joint[0])
        return f"{muscle.abbreviation if muscle else joint[0][:8]:<8} {joint[1].word}"


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
    muscles: Mapping[str, Muscle],
    reading_error: int,
    start: Joint | None = None,
    open_session: Session | None = None,
    basis: Basis | None = None,
) -> ChartData:
    """What the screen needs of a chart; ``start`` is among the joints in any case.

    Args:
        chart: the chart.
        has_open: it has an open session.
        muscles: all muscle groups by id.
        reading_error: deg.
        start: the joint asked for.
        open_session: the open session as last saved, to be shown with the others.
        basis: see ChartData.
    """
    sessions = (*chart.by_date, *((open_session,) if open_session else ()))
    joints = stations_seen(sessions)
    if start and start not in joints:
        joints = (start, *joints)
    return ChartData(
        patient=chart.patient,
        sessions=sessions,
        amendments=chart.amendments,
        problems=tuple(str(problem) for problem in chart.problems),
        has_open=has_open,
        joints=joints,
        muscles=muscles,
        reading_error=reading_error,
        shown_open=open_session.id if open_session else "",
        chains={chain.session.id: chain for chain in chart.chains},
        events=standing(chart.events),
        received=chart.received,
        withdrawn=withdrawn_words(chart.sessions, chart.withdrawn),
        basis=basis,
    )


def first_state(data: ChartData, start: Joint | None = None) -> ChartState:
    """The state to begin with: the joint asked for, and the latest session."""
    joint = data.joints.index(start) if start in data.joints and start else 0
    return ChartState(joint=joint, session=max(0, len(data.sessions) - 1))


def rows_of_joint(data: ChartData, state: ChartState) -> tuple[JointRow, ...]:
    """The readings of the chosen joint."""
    if not data.joints:
        return ()
    return joint_rows(data.sessions, data.joints[state.joint], data.muscles, data.patient)


def rows_of_session(data: ChartData, state: ChartState) -> tuple[StationRow, ...]:
    """The stations of the chosen session."""
    if not data.sessions:
        return ()
    return session_rows(data.sessions[state.session], data.muscles, data.patient)


def place_of_row(state: ChartState, data: ChartData) -> Place | None:
    """The chosen station of the session, None when it has none."""
    rows = rows_of_session(data, state)
    if not rows:
        return None
    row = rows[state.row]
    return row.muscle, row.side, row.reading.fast_velocity if row.reading else None


def moved(state: ChartState, data: ChartData, action: str) -> ChartState:
    """Move by an action of MOVES."""
    return MOVES[action](state, data)


def clamped(state: ChartState, data: ChartData) -> ChartState:
    """Bring the indices inside data that may have changed."""
    state = replace(
        state,
        joint=index_clamped(state.joint, len(data.joints)),
        session=index_clamped(state.session, len(data.sessions)),
    )
    return replace(state, row=index_clamped(state.row, len(rows_of_session(data, state))))


def _next_view(state: ChartState, data: ChartData) -> ChartState:
    view = VIEWS[(VIEWS.index(state.view) + 1) % len(VIEWS)]
    state = replace(state, view=view)
    return replace(state, row=_row_of_joint(state, data)) if view == "sessions" else state


def _to_joint(state: ChartState, data: ChartData, step: int) -> ChartState:
    return replace(state, joint=index_clamped(state.joint + step, len(data.joints)))


def _to_row(state: ChartState, data: ChartData, step: int) -> ChartState:
    """Another station of the session; the other views follow it."""
    rows = rows_of_session(data, state)
    state = replace(state, row=index_clamped(state.row + step, len(rows)))
    if rows:
        joint = (rows[state.row].muscle, rows[state.row].side)
        if joint in data.joints:
            return replace(state, joint=data.joints.index(joint))
    return state


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


def _step(by: int) -> Callable[[ChartState, ChartData], ChartState]:
    """To the next row of the session's table, or to the next joint."""
    return lambda state, data: (
        _to_row(state, data, by) if state.view == "sessions" else _to_joint(state, data, by)
    )


def _page(by: int) -> Callable[[ChartState, ChartData], ChartState]:
    """To the next session, or to the next page of joints."""
    return lambda state, data: (
        _to_joint(state, data, PAGE_STEP * by)
        if state.view == "page"
        else _to_session(state, data, by)
    )


MOVES: dict[str, Callable[[ChartState, ChartData], ChartState]] = {
    "up": _step(-1),
    "down": _step(1),
    "pageup": _page(-1),
    "pagedown": _page(1),
    "view": _next_view,
    "sides": lambda state, _: replace(state, both=not state.both, view="trend"),
}
"""What the keys that move make of the state."""
