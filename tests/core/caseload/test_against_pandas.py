"""Every figure of a caseload against pandas over the exported rows, intervals against scipy.

Times are held against the curve of Kaplan and Meier of statsmodels.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from limbscribe.core.caseload.caseload import Caseload, caseload_of
from limbscribe.core.caseload.choosing import Choice
from limbscribe.core.caseload.document import caseload_doc
from limbscribe.core.caseload.facts import ChartFacts
from limbscribe.core.caseload.reading import read_facts
from limbscribe.core.caseload.summary import terms_of
from limbscribe.core.change.compare import Basis, compare
from limbscribe.core.chart.cycles import DEFAULT_CYCLE_WINDOWS
from limbscribe.core.chart.event import Event
from limbscribe.core.config.settings import Settings
from limbscribe.core.exchange.frames import read_shelf
from limbscribe.core.shelf import Shelf
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

from tests.support.planted import Planted, planted

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
    events = events[events["kind"].isin(KINDS)].rename(columns={"day": "treated"})
    days = events[["patient", "kind", "treated"]].drop_duplicates().sort_values("treated")
    days["until"] = days.groupby(["patient", "kind"])["treated"].shift(-1)
    days["until"] = days["until"].fillna(pd.Timestamp("2200-01-01"))
    stations = events[["patient", "kind", "treated", "muscle", "side"]].drop_duplicates()
    rows = stations.merge(days, on=["patient", "kind", "treated"]).reset_index(names="row")
    pairs = rows.merge(readings, on=["patient", "muscle", "side"])
    pairs = pairs[pairs["day"] <= pairs["until"]]
    pairs["since"] = (pairs["day"] - pairs["treated"]).dt.days
    for window in DEFAULT_CYCLE_WINDOWS:
        rows = rows.join(_nearest(pairs, window), on="row")
    return rows


def _nearest(pairs: pd.DataFrame, window) -> pd.DataFrame:
    """Of each row the reading nearest to the middle of a window."""
    inside = pairs[pairs["since"].between(window.first, window.last)].copy()
    inside["off"] = (inside["since"] - (window.first + window.last) / 2).abs()
    best = inside.sort_values(["off", "since", "order"]).drop_duplicates("row").set_index("row")
    names = ["r1_stretch", "r2_stretch", "gap", "catch", "not_tested", "date", "since"]
    return best[names].add_prefix(f"{window.name}|")


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


def _changes(own: pd.DataFrame, window: str, angle: str) -> pd.Series:
    column = angle if angle == "gap" else f"{angle}_stretch"
    return (own[f"{window}|{column}"] - own[f"before|{column}"]).astype(float)


def _near(found: dict, angle: str, values: pd.Series) -> None:
    values = values.dropna()
    assert found[f"{angle}_n"] == len(values)
    assert found[f"{angle}_mean_change"] == pytest.approx(values.mean(), abs=1e-4)
    assert found[f"{angle}_median_change"] == pytest.approx(values.median(), abs=1e-4)
    low, high = stats.t.interval(0.95, len(values) - 1, values.mean(), values.sem())
    assert found[f"{angle}_low"] == pytest.approx(low, abs=1e-4)
    assert found[f"{angle}_high"] == pytest.approx(high, abs=1e-4)


def test_the_composite_is_the_mean_over_the_muscle_groups_of_a_cycle(
    table: pd.DataFrame, caseloads: dict[str, Caseload]
) -> None:
    toxin = table[table["kind"] == "botulinum-toxin"].copy()
    doc = caseload_doc(caseloads["botulinum-toxin"])
    for found in doc["composite"]:
        for angle in ANGLES:
            toxin["change"] = _changes(toxin, found["name"], angle)
            means = toxin.dropna(subset="change").groupby(["patient", "treated"])["change"].mean()
            _near(found, angle, means)


def test_both_sides_together_and_the_mean_of_two_windows(
    table: pd.DataFrame, facts: tuple[ChartFacts | None, ...]
) -> None:
    names = ("14 to 48 days", "49 to 83 days")
    doc = caseload_doc(count(facts, sides_together=True, mean_of=names))
    toxin = table[table["kind"] == "botulinum-toxin"]
    for station in doc["stations"]:
        own = toxin[toxin["muscle"] == station["muscle"]]
        assert station["cycles"] == len(own.drop_duplicates(["patient", "treated"]))
        for angle in ANGLES:
            both = pd.concat([_changes(own, name, angle) for name in names], axis=1)
            _near(station["mean_of"], angle, both.mean(axis=1, skipna=False))
            window = next(w for w in station["windows"] if w["name"] == names[0])
            _near(window, angle, _changes(own, names[0], angle))


def test_how_the_record_is_kept_is_that_of_the_exported_rows(
    folder: Path, caseloads: dict[str, Caseload]
) -> None:
    readings = read_shelf(folder, "pandas").readings
    angles = readings.melt(["recorder"], ["r1", "r2"], value_name="angle").dropna(subset="angle")
    doc = caseload_doc(caseloads["botulinum-toxin"])
    assert {one["recorder"] for one in doc["recorders"]} >= set(readings["recorder"])
    for one in doc["recorders"]:
        own = readings[readings["recorder"] == one["recorder"]]
        visits = own.drop_duplicates(["patient", "date", "time"])
        assert (one["sessions"], one["readings"]) == (len(visits), len(own))
        assert one["not_tested"] == int((own["not_tested"].fillna("") != "").sum())
        assert one["overrides"] == int((own["override"].fillna("") != "").sum())
        typed = angles[angles["recorder"] == one["recorder"]]["angle"]
        rounded = int((typed % 5 == 0).sum())
        exact = stats.binomtest(rounded, len(typed)).proportion_ci(0.95, "exact")
        assert one["round_share"] == pytest.approx(rounded / len(typed), abs=1e-4)
        assert one["round_low"] == pytest.approx(exact.low, abs=1e-4)
        assert one["round_high"] == pytest.approx(exact.high, abs=1e-4)


def test_goals_are_those_of_the_charts_with_the_formula_written_out(
    folder: Path, caseloads: dict[str, Caseload]
) -> None:
    """T = 50 + 10 sum(w x) / sqrt(0.7 sum(w^2) + 0.3 (sum w)^2), Kiresuk and Sherman 1968."""
    shelf = Shelf(folder)
    rows = [
        (entry.code, event)
        for entry in shelf.charts()
        for event in shelf.load(entry.id).events
        if event.kind in ("goal", "goal-score", "botulinum-toxin")
    ]
    events = pd.DataFrame([{"patient": code, **vars_of(event)} for code, event in rows])
    toxin = events[events["kind"] == "botulinum-toxin"]
    scores = events[events["kind"] == "goal-score"].copy()
    scores[["goal", "score"]] = scores["note"].str.split(" ", n=1, expand=True)
    t_scores, goals, scored, attained, cycles = [], 0, 0, 0, 0
    for (patient, day), own in events[events["kind"] == "goal"].groupby(["patient", "date"]):
        treated = toxin[toxin["patient"] == patient]["date"]
        if day not in set(treated):
            continue
        later = treated[treated > day]
        end = later.min() if len(later) else "9999"
        found = scores[scores["goal"].isin(own["id"]) & (scores["date"] <= end)]
        last = found.sort_values("date", kind="stable").groupby("goal")["score"].last().astype(int)
        cycles, goals = cycles + 1, goals + len(own)
        scored, attained = scored + len(last), attained + int((last >= 0).sum())
        if len(last):
            x = last.to_numpy()
            w = own.set_index("id")["weight"].astype(float).fillna(1.0)[last.index].to_numpy()
            spread = 0.7 * (w**2).sum() + 0.3 * w.sum() ** 2
            t_scores.append(50 + 10 * (w * x).sum() / np.sqrt(spread))
    doc = caseload_doc(caseloads["botulinum-toxin"])["goals"]
    assert (doc["cycles"], doc["goals"]) == (cycles, goals)
    assert (doc["scored"], doc["attained"]) == (scored, attained)
    assert scored > 10
    assert doc["t_n"] == len(t_scores)
    assert doc["t_mean"] == pytest.approx(np.mean(t_scores), abs=1e-4)
    low, high = stats.t.interval(0.95, len(t_scores) - 1, np.mean(t_scores), stats.sem(t_scores))
    assert doc["t_low"] == pytest.approx(low, abs=1e-4)
    assert doc["t_high"] == pytest.approx(high, abs=1e-4)


def vars_of(event: Event) -> dict[str, object]:
    """An event as a row."""
    return {name: getattr(event, name) for name in ("id", "kind", "date", "note", "weight")}


def test_how_long_r1_stays_beyond_error_is_that_of_statsmodels(
    folder: Path, table: pd.DataFrame, caseloads: dict[str, Caseload]
) -> None:
    shelf = Shelf(folder)
    charts = {entry.code: shelf.load(entry.id) for entry in shelf.charts()}
    toxin = table[(table["kind"] == "botulinum-toxin") & table["before|date"].notna()]
    seen: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for _, row in toxin.iterrows():
        chart, place = charts[row["patient"]], (row["muscle"], row["side"])
        by_date = {s.when.date().isoformat(): s for s in chart.by_date}
        base = by_date[row["before|date"]]
        if base.reading_of(*place).r1 is None:  # no catch that could come back
            continue
        watched = None
        for day, session in by_date.items():
            since = (pd.Timestamp(day) - row["treated"]).days
            reading = session.reading_of(*place)
            if since <= 0 or pd.Timestamp(day) > row["until"] or reading is None:
                continue
            rows = compare(chart.patient, base, session, (), BASIS).rows
            change = next(r.change for r in rows if (r.muscle, r.side.value) == place)
            if change.r1.mdc is None:  # nothing that it could be within
                continue
            if change.catch_gone or change.r1.direction == 1:
                watched = since
            elif change.r1.direction is not None and watched is not None:
                seen.setdefault(place, []).append((since, 1))
                watched = None
                break
        if watched is not None:
            seen.setdefault(place, []).append((watched, 0))
    assert sum(map(len, seen.values())) > 30
    for station in caseload_doc(caseloads["botulinum-toxin"])["stations"]:
        found = station["beyond_error"]
        own = seen.get((station["muscle"], station["side"]), [])
        assert (found["n"], found["ended"]) == (len(own), sum(end for _, end in own))
        if any(end for _, end in own):
            curve = SurvfuncRight([day for day, _ in own], [end for _, end in own])
            reached = curve.surv_times[curve.surv_prob <= 0.5 + 1e-9]
            assert found["median_days"] == (int(reached[0]) if len(reached) else None)


def test_coefficients_are_those_of_the_exported_angles(folder: Path, table: pd.DataFrame) -> None:
    """C_SH = (X_N - X_V1) / X_N, C_SP = (X_V1 - X_V3) / X_V1, X from least stretch."""
    most = 150
    settings = Settings(normal_maximum={"elbow-flexors": most})
    terms = terms_of(settings, BASIS.muscles, ON)
    facts = list(read_facts(Shelf(folder), Basis(BASIS.muscles, settings)))
    doc = caseload_doc(caseload_of(facts, Choice(), terms, tuple(BASIS.muscles)))
    least = BASIS.muscles["elbow-flexors"].scale("minimal-stretch").stretch(0)
    of_kind = table[(table["kind"] == "botulinum-toxin") & (table["muscle"] == "elbow-flexors")]
    looked = 0
    for station in doc["stations"]:
        if station["muscle"] != "elbow-flexors":
            assert "shortening" not in station["windows"][0]
            continue
        own = of_kind[of_kind["side"] == station["side"]]
        for window in station["windows"]:
            slow, fast = (
                pd.to_numeric(own[f"{window['name']}|{angle}_stretch"], errors="coerce") - least
                for angle in ("r2", "r1")
            )
            short, spastic = ((most - slow) / most).dropna(), ((slow - fast) / slow).dropna()
            assert window["shortening"]["n"] == len(short)
            assert window["shortening"]["mean"] == pytest.approx(short.mean(), abs=1e-4)
            assert window["spasticity"]["n"] == len(spastic)
            assert window["spasticity"]["mean"] == pytest.approx(spastic.mean(), abs=1e-4)
            looked += 1
    assert looked == 8
