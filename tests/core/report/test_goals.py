"""Goals on the page: said as they stood on the day, and never at the cost of a second sheet.

The T scores are those of tests/core/chart/test_goals.py, which names their sources.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import strike
from limbscribe.core.chart.goals import goal_event, score_event
from limbscribe.core.report.forms import PDF, document, rendered
from limbscribe.core.report.page import Page
from limbscribe.core.report.page_build import MANY_ROWS
from limbscribe.core.report.page_text import LINES, page_text
from limbscribe.core.report.page_words import FEW_GOALS, MOST_GOALS, goal_lines

from tests.core.report.test_pdf import pages, squeezed
from tests.support.reports import flat, long, report_of

DAY, NOW = date(2026, 3, 1), date(2026, 4, 1)
GOAL, SPLINT = goal_event("g1", "hand opens for washing", DAY), goal_event("g2", "splint on", DAY)
SCORE, LATER = score_event("s1", "g1", 1, NOW), score_event("s2", "g2", 1, date(2026, 5, 1))
LINE = "GOAL hand opens for washing: attained +1 (more than expected)."
T_LINE = "T score 60.0 from 1 of 2 goals, treatment of 01 Mar 2026; 50 is the expected level."
FORMS = ("text", "markdown", "html", "short")


def with_goals(chart: Chart, *events: Event) -> Chart:
    return replace(chart, events=(*chart.events, *events))


def crowded(chart: Chart, stations: int) -> Page:
    """A page with more and longer goals than anybody sets, of two treatments on its day."""
    text = "opens the hand wide enough to have it washed and dried by one person " * 8
    events = [
        event
        for day, begins in ((DAY, "a"), (NOW, "b"))
        for n in range(12)
        for event in (
            goal_event(f"{begins}{n}", f"{n} {text}"[:500], day, 2.0),
            score_event(f"s{begins}{n}", f"{begins}{n}", -2, NOW),
        )
    ]
    goals = goal_lines(events, NOW, FEW_GOALS if stations > MANY_ROWS else MOST_GOALS)
    page = long(report_of(with_goals(chart, *events)), stations).page
    return replace(page, goals=tuple(goals))


def test_a_page_without_goals_says_nothing_of_them(tiny_chart: Chart, page: Page) -> None:
    assert page.goals == ()
    for form in FORMS:
        assert "GOAL" not in rendered(page, form)
        assert "T score" not in rendered(page, form)
    struck = with_goals(tiny_chart, GOAL, strike(GOAL, "x", "not agreed"))
    assert report_of(struck).page == page


def test_every_form_has_the_goals_and_the_t_score_as_they_were_then(tiny_chart: Chart) -> None:
    report = report_of(with_goals(tiny_chart, GOAL, SPLINT, SCORE, LATER))
    assert report.page.goals == (LINE, "GOAL splint on: not scored yet.", T_LINE)
    texts = {form: rendered(report.page, form) for form in FORMS}
    texts["pdf"] = "".join(pages(document(report.page, PDF)))
    for form, text in texts.items():
        for line in report.page.goals:
            shown = flat(text.replace("\\", ""))
            assert squeezed(line) in squeezed(shown), form


def test_the_full_report_has_every_goal_with_its_day_and_the_source(tiny_chart: Chart) -> None:
    goals = [goal_event(f"g{n}", f"goal of number {n}", DAY) for n in range(1, 9)]
    report = report_of(with_goals(tiny_chart, *goals, SCORE))
    text = flat(rendered(report, "text"))
    assert "GOALS UP TO THIS SESSION" in text
    for n in range(2, 9):
        assert f"treatment of 01 Mar 2026: goal of number {n}: not scored yet" in text
    assert "goal of number 1: attained +1 (more than expected), 01 Apr 2026" in text
    assert "Kiresuk and Sherman, Community Ment Health J 1968;4(6):443-453" in text
    assert f"50 is the expected level. {8 - MOST_GOALS} more goals in the full report." in text


def test_the_latest_treatment_with_goals_counts_and_on_its_day_the_one_before_too() -> None:
    new = goal_event("n1", "walks to the door", NOW)
    events = (GOAL, SCORE, new)
    before = [LINE, "T score 60.0 from 1 goal, treatment of 01 Mar 2026; 50 is the expected level."]
    assert list(goal_lines(events, date(2026, 3, 31))) == [
        "GOAL hand opens for washing: not scored yet."
    ]
    assert list(goal_lines(events, NOW)) == [*before, "GOAL walks to the door: not scored yet."]
    assert list(goal_lines(events, date(2026, 4, 2))) == ["GOAL walks to the door: not scored yet."]
    assert list(goal_lines(events, date(2026, 2, 28))) == []


def test_amounts_stand_in_the_treatment_line_of_the_latest_treatment_only(
    tiny_chart: Chart,
) -> None:
    old = Event("o", "botulinum-toxin", "2026-01-10", "soleus", "left", "", 30.0, "U")
    new = Event("n", "botulinum-toxin", "2026-03-01", "soleus", "left", "", 50.0, "U", "2 ml")
    head = flat(" ".join(report_of(with_goals(tiny_chart, old, new)).page.head))
    assert "Gastrocnemius Left, Soleus Left 50 U; " in head
    assert "30" not in head
    full = flat(rendered(report_of(with_goals(tiny_chart, old, new)), "text"))
    assert "10 Jan 2026 botulinum toxin, Soleus, Left: 30 U" in full
    assert "Soleus, Left: 50 U, dilution 2 ml" in full


@pytest.mark.parametrize("stations", [0, 4, 24, 30])
def test_many_long_goals_are_cut_and_counted_on_one_sheet_of_text(
    tiny_chart: Chart, stations: int
) -> None:
    page = crowded(tiny_chart, stations)
    named = FEW_GOALS if stations > MANY_ROWS else MOST_GOALS
    assert sum(line.startswith("GOAL") for line in page.goals) == named
    for one in (page, replace(page, beside=tuple("Note. " * 40 for _ in range(9)))):
        text = page_text(one)
        assert "\f" not in text
        assert len(text.splitlines()) <= LINES
        assert "GOAL 0 opens the hand" in text
        assert page.caution in flat(text)
        assert "in the full report" in flat(text)


@pytest.mark.parametrize("stations", [4, 30])
def test_many_long_goals_leave_the_pdf_on_one_sheet(tiny_chart: Chart, stations: int) -> None:
    page = crowded(tiny_chart, stations)
    found = pages(document(page, PDF))
    assert len(found) == 1
    assert squeezed(page.goals[0]) in squeezed(found[0])
