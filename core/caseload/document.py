"""A caseload as a JSON document."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date

from ..chart.strict_json import Json
from .caseload import CAUTION, NARROW, Caseload, RecorderSummary
from .choosing import Choice
from .figures import Spread
from .summary import ANGLES, StationSummary, Terms, WindowSummary

PLACES = 4
"""Decimal places of a figure."""


def caseload_doc(caseload: Caseload) -> Json:
    """Build the document; angles are stretch angles, deg, changes are later minus before."""
    terms = caseload.terms
    return {
        "on": terms.on.isoformat(),
        "chosen": _choice(caseload.choice),
        "patients": caseload.patients,
        "sessions": caseload.sessions,
        "cycles": caseload.cycles,
        "unread": caseload.unread,
        "level": terms.level,
        "rule": terms.rule.words if terms.rule else None,
        "stations": [_station(one, caseload) for one in caseload.stations],
        "composite": [
            {"name": window.name, **_changes(changes)}
            for window, changes in zip(terms.windows, caseload.composite, strict=True)
            if window.first > 0
        ],
        "goals": _goals(caseload),
        "recorders": [_recorder(one) for one in caseload.recorders],
        "caution": CAUTION,
        "intervals": NARROW,
    }


def _choice(choice: Choice) -> Json:
    found = {name: None if value == "" else value for name, value in asdict(choice).items()}
    return {n: v.isoformat() if isinstance(v, date) else v for n, v in found.items()}


def _station(station: StationSummary, caseload: Caseload) -> Json:
    doc: Json = {"muscle": station.muscle, "side": station.side, "cycles": station.cycles}
    if not station.side:
        del doc["side"]
    doc["windows"] = [window_doc(window, caseload.terms) for window in station.windows]
    if station.mean_of is not None:
        doc["mean_of"] = {"windows": list(caseload.mean_of), **_changes(station.mean_of)}
    doc["beyond_error"] = station.back._asdict()
    return doc


def window_doc(found: WindowSummary, terms: Terms) -> Json:
    """Build what was found in one window around the treatment."""
    doc: Json = {
        "name": found.window.name,
        "from_day": found.window.first,
        "to_day": found.window.last,
        "n": found.n,
        "missed": found.missed,
        "treated_again": found.treated_again,
        "no_baseline": found.no_baseline,
        **_changes(found.changes),
        "catch_gone": found.catch_gone,
        "range_lost": found.range_lost,
        "larger": found.larger,
        "within": found.within,
        "by_chance": round(found.by_chance, PLACES),
        "not_tested": dict(found.not_tested),
    }
    if terms.rule:
        doc |= {"rule_met": found.rule_met, "rule_known": found.rule_known}
    if found.coefficients:
        doc["shortening"] = spread_doc(found.coefficients.shortening)
        doc["spasticity"] = spread_doc(found.coefficients.spasticity)
    return doc


def _changes(changes: Mapping[str, Spread]) -> Json:
    doc: Json = {}
    for angle in ANGLES:
        found = spread_doc(changes[angle])
        names = {"mean": "mean_change", "median": "median_change"}
        doc |= {f"{angle}_{names.get(name, name)}": value for name, value in found.items()}
    return doc


def spread_doc(found: Spread) -> Json:
    """Build the figures of many numbers."""
    return {n: round(v, PLACES) if v is not None else None for n, v in found._asdict().items()}


def _goals(caseload: Caseload) -> Json:
    goals = caseload.goals
    counts = {name: getattr(goals, name) for name in ("cycles", "goals", "scored", "attained")}
    return {**counts, **{f"t_{name}": value for name, value in spread_doc(goals.t).items()}}


def _recorder(one: RecorderSummary) -> Json:
    doc = asdict(one)
    share = doc.pop("round_share")
    names = {"value": "round_share", "low": "round_low", "high": "round_high"}
    for name, key in names.items():
        doc[key] = None if share[name] is None else round(share[name], PLACES)
    return doc
