"""Amendments in a report: withdrawn readings, and a conflict that nobody has settled."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.report.forms import rendered
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Side

from tests.support.records import PATIENT
from tests.support.reports import NOON, report_of, sessions

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
