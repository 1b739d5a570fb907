"""Amendments in a report: withdrawn readings, and a conflict that nobody has settled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from limbscribe.core.change.compare import compare_dates
from limbscribe.core.change.compare_words import comparison_lines
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Session
from limbscribe.core.problem import Problem
from limbscribe.core.report.forms import FORMS, rendered
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.cli.trend_text import trend_lines

from tests.support.records import PATIENT, reading
from tests.support.reports import BASIS, NOON, report_of, session, sessions

SOLEUS = ("soleus", Side.LEFT, "V3")


def amended(folder: Path, *amendments: Amendment) -> Chart:
    """A chart of the last invented session with these amendments."""
    shelf = Shelf(folder / "shelf")
    chart_id = shelf.create(PATIENT)
    shelf.add_closed(chart_id, [sessions()[-1]], "CD", NOON)
    seal = shelf.load(chart_id).sessions[0].seal
    assert seal is not None
    for each in amendments:
        on = (seal.hash,) if each.made_on else ()
        shelf.amend(chart_id, replace(each, made_on=on))
    return shelf.load(chart_id)


def flat(chart: Chart, form: str = "text") -> str:
    """The full report as one line; in short the page."""
    return " ".join(rendered(report_of(chart), form).split())


def test_a_withdrawn_reading_stays_in_sight_as_superseded(tmp_path: Path):
    session = sessions()[-1]
    gone = Amendment("a", session.id, "GH", "wrong side", NOON, (), (SOLEUS,))
    chart = amended(tmp_path, gone)
    assert [s.name for s in report_of(chart).stations].count("Soleus") == 0
    for form in ("text", "markdown", "html"):
        text = flat(chart, form)
        assert "SUPERSEDED Soleus, Left, V3: R1 14, quality 2, R2 12" in text
        assert "withdrawn by GH: wrong side" in text
        assert "Left open: Soleus Left" in text
    assert "Withdrawn since it was signed: Soleus Left." in flat(chart, "short")


def test_a_conflict_is_told_with_what_each_side_says(tmp_path: Path):
    session = sessions()[-1]
    soleus = session.readings[1]
    sides = [
        Amendment(
            name, session.id, who, f"{who} was there", NOON, (replace(soleus, r2=r2),), (), ("x",)
        )
        for name, who, r2 in (("a", "GH", 18), ("b", "JK", 22))
    ]
    chart = amended(tmp_path, *sides)
    assert len(chart.conflicts) == 1
    report = report_of(chart)
    [station] = [each for each in report.stations if each.name == "Soleus"]
    assert station.r2 == "12"
    assert station.reading.flags
    assert len(report.page.record.split("+")) == 2
    for form in ("text", "markdown", "html"):
        text = flat(chart, form)
        assert "CONFLICT: amendments by GH and JK disagree" in text
        assert "IN DISPUTE: GH says R1 14, quality 2, R2 18" in text
        assert "IN DISPUTE: JK says R1 14, quality 2, R2 22" in text
    assert "disagree" in flat(chart, "short")


@pytest.mark.parametrize("disputed", [0, 1])
def test_no_change_is_told_where_amendments_disagree_now_or_before(tmp_path: Path, disputed: int):
    """Nor is the last of them told as if it were applied, nor a change judged or marked."""
    both = (
        session("2026-06-01", reading("elbow-flexors", Side.LEFT, -60, -10)),
        session("2026-06-20", reading("elbow-flexors", Side.LEFT, -10, -5)),
    )
    calm = report_of(charted(tmp_path / "calm", both))
    assert calm.page.rows[0].mark == ">"
    given = both[disputed]
    sides = [
        Amendment(who, given.id, who, "misheard", NOON, (replace(given.readings[0], r1=r1),))
        for who, r1 in (("JY", -20), ("VZ", -40))
    ]
    chart = charted(tmp_path, both, *sides)
    page = report_of(chart).page
    r2, day = (("-10", "01 Jun"), ("-5", "20 Jun"))[disputed]
    for text in (flat(chart), *(" ".join(rendered(page, form).split()) for form in FORMS)):
        text = text.replace("\\", "")
        assert f"Elbow flexors Left, {day} 2026 (JY: R1 -20, quality 2, R2 {r2}; VZ" in text
        assert "no change is told" in text
        assert "catch" not in text.split("no change is told")[1].split("No catch is gone")[0]
        assert "Amended" not in text.split("AMENDMENTS")[0]
        assert "remark of the checks" not in text
    assert [row.mark for row in page.rows] == [""]
    assert calm.page.chance.startswith("2 numbers compared")
    assert page.chance.startswith("no number")
    comparison = compare_dates(chart, BASIS)
    assert not isinstance(comparison, Problem)
    when, said = ("then", "now")[disputed], f"JY says R1 -20, quality 2, R2 {r2}; VZ says R1 -40"
    lines = " ".join(" ".join(comparison_lines(comparison, {})).split())
    assert f"no change is told {when}: amendments disagree" in lines
    assert said in lines
    row = comparison.rows[0]
    assert "R1: no change to report, amendments disagree" in row.change.r1.words
    trend = trend_lines(chart, ("elbow-flexors", Side.LEFT), BASIS)
    assert f"{day} 2026: amendments disagree" in " ".join(trend)
    assert said in " ".join(trend)


def test_stations_in_dispute_beyond_three_are_counted_and_one_that_settles_is_told(tmp_path: Path):
    muscles = ("elbow-flexors", "wrist-flexors", "gastrocnemius", "soleus")
    given = session("2026-06-01", *(reading(muscle, Side.LEFT, -60, -10) for muscle in muscles))
    sides = [
        Amendment(
            who, given.id, who, "misheard", NOON, tuple(replace(r, r1=r1) for r in given.readings)
        )
        for who, r1 in (("JY", -20), ("VZ", -40))
    ]
    chart = charted(tmp_path, (given,), *sides)
    assert "; 1 more station." in report_of(chart).page.changes[0]
    assert "First session" in report_of(chart).page.changes[1]
    tips = chart.chains[0].tips
    settling = Amendment("s", given.id, "QX", "both asked", NOON, sides[0].readings, (), tips)
    shelf = Shelf(tmp_path / "shelf")
    shelf.amend(chart.id, settling)
    page = report_of(shelf.load(chart.id)).page
    assert len(page.changes) == 1
    assert any(note.startswith("Amended 3 times, last by QX") for note in page.beside)


def charted(folder: Path, given: Sequence[Session], *amendments: Amendment) -> Chart:
    """A chart of these sessions, each amendment made on its session."""
    shelf = Shelf(folder / "shelf")
    chart_id = shelf.create(PATIENT)
    shelf.add_closed(chart_id, given, "CD", NOON)
    hashes = {one.id: one.seal.hash for one in shelf.load(chart_id).sessions if one.seal}
    for each in amendments:
        shelf.amend(chart_id, replace(each, made_on=(hashes[each.parent],)))
    return shelf.load(chart_id)
