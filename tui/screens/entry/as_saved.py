"""The open session of a chart with its readings as last saved, for reading only."""

from __future__ import annotations

from dataclasses import replace

from ....core.chart.chart import Chart
from ....core.chart.session import Session
from ....core.entry.log import replay
from ....core.entry.plan import Plan, make_plan
from ....core.entry.readings import session_readings
from ...context import Desk


def plan_of(desk: Desk, chart: Chart, session: Session) -> Plan:
    """The plan of a session of a chart, in the ways and with the keys of this desk.

    Raises:
        KeyError: when its checklist names a muscle group that no longer exists.
    """
    settings = desk.catalogue.settings
    plan = make_plan(
        session.checklist,
        chart.patient,
        session.when.year,
        desk.catalogue.muscles,
        chart.by_date,
        settings.limits,
    )
    keys = desk.keymap.names("entry")
    return replace(plan, read_back=settings.read_back, keys=keys)


def open_session(desk: Desk, chart: Chart) -> Session | None:
    """The open session, None when there is none or its readings cannot be shown.

    Raises:
        ShelfError: when it cannot be read.
    """
    saved = desk.shelf.look(chart.id)
    if saved is None or saved.session.id in {session.id for session in chart.sessions}:
        return None
    try:
        plan = plan_of(desk, chart, saved.session)
    except KeyError:
        return None
    state, _ = replay(plan, saved.entries)
    return replace(saved.session, readings=session_readings(state))
