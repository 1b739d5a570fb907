"""The plan of a session of a chart, and an open session as last saved, for reading only."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from ..chart.chart import Chart
from ..chart.session import Session
from ..config.catalogue import Catalogue
from .keys import STANDARD_KEYS
from .log import replay
from .plan import Plan, make_plan
from .readings import session_readings


def plan_of(
    catalogue: Catalogue, chart: Chart, session: Session, keys: Mapping[str, str] = STANDARD_KEYS
) -> Plan:
    """Plan a session of a chart as the clinic's settings say.

    Args:
        catalogue: muscle groups and settings.
        chart: the patient's chart.
        session: one of its sessions, open or closed.
        keys: what the keys are called in messages.

    Raises:
        KeyError: when its checklist names a muscle group that no longer exists.
    """
    settings = catalogue.settings
    plan = make_plan(
        session.checklist,
        chart.patient,
        session.when,
        catalogue.muscles,
        chart.before(session),
        settings.limits,
    )
    blind = session.conditions.blind
    return replace(plan, read_back=settings.read_back, keys=keys, blind=blind)


def session_so_far(
    catalogue: Catalogue, chart: Chart, session: Session, entries: Iterable[dict[str, Any]]
) -> Session | None:
    """Give an open session the readings of its journal.

    Returns:
        The session, None when it is closed already or its readings cannot be shown.
    """
    if session.id in {closed.id for closed in chart.sessions}:
        return None
    try:
        plan = plan_of(catalogue, chart, session)
    except KeyError:
        return None
    state, _ = replay(plan, entries)
    return replace(session, readings=session_readings(state))
