"""Every figure of a caseload against pandas over the exported rows, intervals against scipy."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from limbscribe.core.caseload.caseload import Caseload
from limbscribe.core.caseload.choosing import Choice
from limbscribe.core.caseload.document import caseload_doc
from limbscribe.core.caseload.facts import ChartFacts
from limbscribe.core.change.compare import compare
from limbscribe.core.chart.cycles import DEFAULT_CYCLE_WINDOWS
from limbscribe.core.exchange.frames import read_shelf
from limbscribe.core.shelf import Shelf
from limbscribe.demo.planted import Planted, planted
from scipy import stats

from .conftest import BASIS, ON, PATIENTS, count

KINDS = ("botulinum-toxin", "cast-on", "cast-off", "surgery")
ANGLES = ("r1", "r2", "gap")


@pytest.fixture(scope="module")
def table(folder: Path) -> pd.DataFrame:
    """A row for each treated muscle group and side of a cycle and window, made with pandas."""
    frames = read_shelf(folder, "pandas")
    readings, events = frames.readings.copy(), frames.events.copy()
    readings["day"] = pd.to_datetime(readings["date"])
    readings["order"] = np.arange(len(readings))
    readings["catch"] = np.where(
        readings["r1"].notna(), "yes", np.where(readings["quality"].isin([0, 1]), "no", "")
    )
    events["day"] = pd.to_datetime(events["date"])
    events = events[events["kind"].isin(KINDS)]
    rows: list[dict[str, object]] = []
    for (patient, kind), own in events.groupby(["patient", "kind"]):
        days = sorted(own["day"].unique())
        for place, day in enumerate(days):
            until = days[place + 1] if place + 1 < len(days) else pd.Timestamp.max
            treated = own[own["day"] == day][["muscle", "side"]].drop_duplicates()
            for _, event in treated.iterrows():
                mine = readings[
                    (readings["patient"] == patient)
                    & (readings["muscle"] == event["muscle"])
                    & (readings["side"] == event["side"])
                    & (readings["day"] <= until)
                ].copy()
                mine["since"] = (mine["day"] - day).dt.days
                row = {"patient": patient, "kind": kind, "treated": day, "until": until}
                rows.append(row | event.to_dict() | _windows(mine))
    return pd.DataFrame(rows)


def _windows(mine: pd.DataFrame) -> dict[str, object]:
    found: dict[str, object] = {}
    for window in DEFAULT_CYCLE_WINDOWS:
        inside = mine[mine["since"].between(window.first, window.last)].copy()
        inside["off"] = (inside["since"] - (window.first + window.last) / 2).abs()
        best = inside.sort_values(["off", "since", "order"]).head(1)
        for name in ("r1_stretch", "r2_stretch", "gap", "catch", "not_tested", "date", "since"):
            value = best[name].iloc[0] if len(best) else None
            found[f"{window.name}|{name}"] = value
    return found


@pytest.fixture(scope="module")
def caseloads(facts: tuple[ChartFacts | None, ...]) -> dict[str, Caseload]:
    return {kind: count(facts, Choice(kind)) for kind in KINDS}


def test_every_count_and_figure_is_that_of_pandas(
    table: pd.DataFrame, caseloads: dict[str, Caseload]
) -> None:
    compared = 0
    for kind, caseload in caseloads.items():
        doc = caseload_doc(caseload)
        of_kind = table[table["kind"] == kind]
        stations = {(s["muscle"], s["side"]): s for s in doc["stations"]}
        assert set(stations) == set(zip(of_kind["muscle"], of_kind["side"], strict=True))
        for key, own in of_kind.groupby(["muscle", "side"]):
            assert stations[key]["cycles"] == len(own)
            for window in DEFAULT_CYCLE_WINDOWS[1:]:
                found = next(w for w in stations[key]["windows"] if w["name"] == window.name)
                _same_counts(found, own, window)
                for angle in ANGLES:
                    compared += _same_figures(found, own, window.name, angle)
    assert compared > 100, "there was something to compare"


def _same_counts(found: dict, own: pd.DataFrame, window) -> None:
    there, before = own[f"{window.name}|date"], own["before|date"]
    over = (pd.Timestamp(ON) - own["treated"]).dt.days > window.last
    again = (own["until"] - own["treated"]).dt.days < window.first
    assert found["n"] == int((there.notna() & before.notna()).sum())
    assert found["missed"] == int((there.isna() & over & ~again).sum())
    assert found["treated_again"] == int((there.isna() & again).sum())
    assert found["no_baseline"] == int((there.notna() & before.isna()).sum())
    gone = (own["before|catch"] == "yes") & (own[f"{window.name}|catch"] == "no")
    assert found["catch_gone"] == int(gone.sum())
    reasons = own[f"{window.name}|not_tested"].dropna()
    reasons = reasons[reasons != ""].map(lambda text: text.partition(":")[0])
    assert found["not_tested"] == reasons.value_counts().to_dict()


def _same_figures(found: dict, own: pd.DataFrame, window: str, angle: str) -> int:
    column = angle if angle == "gap" else f"{angle}_stretch"
    changes = (own[f"{window}|{column}"] - own[f"before|{column}"]).dropna().astype(float)
    assert found[f"{angle}_n"] == len(changes)
    if changes.empty:
        assert found[f"{angle}_mean_change"] is None
        return 0
    assert found[f"{angle}_mean_change"] == pytest.approx(changes.mean(), abs=1e-4)
    assert found[f"{angle}_median_change"] == pytest.approx(changes.median(), abs=1e-4)
    if len(changes) < 2:
        assert found[f"{angle}_low"] is None
        return 1
    if changes.std() == 0:
        low = high = changes.mean()
    else:
        low, high = stats.t.interval(0.95, len(changes) - 1, changes.mean(), changes.sem())
    assert found[f"{angle}_low"] == pytest.approx(low, abs=1e-4)
    assert found[f"{angle}_high"] == pytest.approx(high, abs=1e-4)
    return 1


def test_beyond_and_within_error_are_those_of_comparing_the_two_sessions(
    folder: Path, table: pd.DataFrame, caseloads: dict[str, Caseload]
) -> None:
    shelf = Shelf(folder)
    charts = {entry.code: shelf.load(entry.id) for entry in shelf.charts()}
    toxin = table[table["kind"] == "botulinum-toxin"]
    window = "14 to 48 days"
    counts = {"larger": 0, "within": 0, "range_lost": 0}
    for _, row in toxin.iterrows():
        if pd.isna(row["before|date"]) or pd.isna(row[f"{window}|date"]):
            continue
        chart = charts[row["patient"]]
        by_date = {s.when.date().isoformat(): s for s in chart.by_date}
        pair = by_date[row["before|date"]], by_date[row[f"{window}|date"]]
        rows = compare(chart.patient, *pair, (), BASIS).rows
        change = next(
            r.change
            for r in rows
            if (r.muscle, r.side.value) == (row["muscle"], row["side"]) and r.before and r.after
        )
        verdicts = [angle.verdict for angle in (change.r1, change.r2)]
        counts["larger"] += verdicts.count("larger")
        counts["within"] += verdicts.count("within")
        counts["range_lost"] += change.r2.direction == -1
    found = [
        one
        for station in caseloads["botulinum-toxin"].stations
        for one in station.windows
        if one.window.name == window
    ]
    assert counts["within"] > 100
    for name, number in counts.items():
        assert sum(getattr(one, name) for one in found) == number, name
    assert sum(one.by_chance for one in found) == pytest.approx(
        0.05 * (counts["larger"] + counts["within"])
    )


@pytest.fixture(scope="module")
def truth() -> Planted:
    return planted(PATIENTS)


def test_the_planted_truth_is_found_again(caseloads: dict[str, Caseload], truth: Planted) -> None:
    caseload = caseloads["botulinum-toxin"]
    assert (caseload.patients, caseload.sessions) == (truth.patients, truth.sessions)
    inside = told = 0
    for station in caseload.stations:
        for one in station.windows[1:]:
            planned = truth.window(station.muscle, one.window.name, station.side)
            assert (one.n, one.missed) == (planned.n, planned.missed)
            assert (one.rule_met, one.catch_gone) == (planned.met, planned.gone)
            assert one.rule_known == planned.told
            told += one.rule_known
            for angle in ANGLES:
                spread, mean = one.changes[angle], getattr(planned, angle)
                if spread.low is not None and spread.high is not None and mean is not None:
                    inside += spread.low <= mean <= spread.high
                    inside -= not spread.low <= mean <= spread.high
    assert told > 100
    intervals = sum(
        one.changes[angle].low is not None
        for station in caseload.stations
        for one in station.windows[1:]
        for angle in ANGLES
    )
    # 95 % of them hold; fewer than 85 % of some hundred would be no chance.
    assert (inside + intervals) / 2 > 0.85 * intervals
    assert intervals > 60


def missed(caseload: Caseload) -> int:
    return sum(w.missed for s in caseload.stations for w in s.windows)


def test_on_a_later_day_more_windows_are_over(facts: tuple[ChartFacts | None, ...]) -> None:
    now, later = count(facts), count(facts, on=date(2028, 1, 1))
    assert missed(later) > missed(now)
    assert sum(w.n for s in later.stations for w in s.windows) == sum(
        w.n for s in now.stations for w in s.windows
    )
