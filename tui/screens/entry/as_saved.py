"""The open session of a chart with its readings as last saved, for reading only."""

from __future__ import annotations

from dataclasses import replace

from ....core.chart.chart import Chart
from ....core.chart.session import Session
from ....core.entry.log import replay
from ....core.entry.plan import Plan, make_plan
from ....core.entry.state import session_readings
from ...kit.context import Context


def plan_of(context: Context, chart: Chart, session: Session) -> Plan:
    """The plan of a session of a chart, in the ways and with the keys of this context.

    Raises:
        KeyError: when its checklist names a muscle group that no longer exists.
    """
    settings = context.catalogue.settings
    plan = make_plan(
        session.checklist,
        chart.patient,
        session.when.year,
        context.catalogue.muscles,
        chart.by_date,
        settings.limits,
    )
    keys = context.keymap.names("entry")
    return replace(plan, read_back=settings.read_back, keys=keys)


def open_session(context: Context, chart: Chart) -> Session | None:
    """The open session, None when there is none or its readings cannot be shown.

    Raises:
        ShelfError: when it cannot be read.
    """
    saved = context.shelf.look(chart.id)
    if saved is None or saved.session.id in {session.id for session in chart.sessions}:
        return None
    try:
        plan = plan_of(context, chart, saved.session)
    except KeyError:
        return None
    state, _ = replay(plan, saved.entries)
    return replace(saved.session, readings=session_readings(state))
