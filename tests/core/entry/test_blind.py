"""Blind rating: last values are hidden, and what the checks say of them names no figure."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Conditions
from limbscribe.core.entry.as_saved import plan_of
from limbscribe.core.entry.blind import HIDDEN, blind_flags
from limbscribe.core.entry.linear import answer_lines, station_lines
from limbscribe.core.entry.rows import entry_rows
from limbscribe.core.entry.state import begin
from limbscribe.core.entry.step import step
from limbscribe.core.report.model_build import BLIND, make_report
from limbscribe.core.tardieu.checks import CheckContext, check_reading
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.cli.linear import review_lines
from limbscribe.tui.screens.entry.panel import field_rows
from limbscribe.tui.screens.review.view import ReviewView, paint_review

from tests.support.app import catalogue, text_of
from tests.support.records import MUSCLES, PATIENT, SHORT, reading, session

LAST = -37
"""deg; in none of the values typed below, nor in their differences from it."""


def soleus(r1: int | None, r2: int | None, side: Side = Side.LEFT):
    return reading("soleus", side, r1, r2)


def entry(blind: bool):
    before = session("2026-05-02", soleus(LAST, LAST + 1), checklist=SHORT)
    chart = Chart("c" * 32, PATIENT, (before,), (), (), ())
    now = session("2026-11-25", checklist=SHORT, conditions=Conditions(blind=blind))
    return begin(plan_of(catalogue(SHORT), chart, now))


@pytest.mark.parametrize(
    ("now", "last", "rule"),
    [(10, LAST, "big-change"), (37, LAST, "sign-opposite"), (3, LAST, "slip")],
)
def test_flags_from_last_values_name_no_figure_of_theirs(now, last, rule):
    context = CheckContext(MUSCLES["soleus"], last=soleus(last, None))
    [open_] = check_reading(soleus(now, None), context)
    [hidden] = blind_flags(soleus(now, None), context)
    assert (open_.rule, hidden.rule) == (rule, rule)
    assert re.search(r"\d\d", open_.text)
    assert not re.search(r"\d", hidden.text.removeprefix("R1"))
    assert (hidden.level, hidden.field) == (open_.level, open_.field)


def test_other_flags_stay_as_they_are():
    context = CheckContext(MUSCLES["soleus"], last=soleus(10, 20))
    assert blind_flags(soleus(20, 10), context) == check_reading(soleus(20, 10), context)
    assert blind_flags(soleus(20, 10), context)


def test_swapped_sides_are_still_asked_about():
    left, right = soleus(0, 5), soleus(20, 30, Side.RIGHT)
    context = CheckContext(
        MUSCLES["soleus"],
        last=soleus(0, 5, Side.RIGHT),
        other_side=soleus(0, 5),
        other_side_last=soleus(20, 30),
    )
    assert [flag.rule for flag in blind_flags(right, context)][-1] == "sides-swapped"
    assert not [flag for flag in blind_flags(left, context) if re.search(r"\d", flag.text)]


def everything(state) -> str:
    panel = text_of(field_rows(state, 5, 42))
    return "\n".join((*panel, *station_lines(state)))


def test_neither_the_panel_nor_a_line_shows_a_last_value():
    assert str(LAST) in everything(entry(blind=False))
    hidden = everything(entry(blind=True))
    assert hidden.count(HIDDEN) == 2
    assert not re.search("37|36|02 May", hidden)


@pytest.mark.parametrize("blind", [False, True])
def test_what_is_answered_shows_none_either(blind):
    before = after = entry(blind)
    for key in ("1", "0", "enter"):
        after, _ = step(after, key)
    said = "\n".join(answer_lines(before, after, 5))
    assert "UNLIKELY" in said
    assert (str(LAST) in said) is not blind
    assert (after.pending, after.drafts[0].r1) == ("enter", ())


@pytest.mark.parametrize("blind", [False, True])
def test_the_review_shows_none_on_the_screen_and_in_lines(blind):
    """A change that was asked about and accepted stays flagged there."""
    state = entry(blind)
    for key in ("1", "0", "enter", "enter", "2", "2", "0", "enter", "enter"):
        state, _ = step(state, key)
    rows = tuple(entry_rows(state))
    assert rows[0].reading.flags, "there is something to show"
    view = ReviewView(("review",), rows, "fast-first", "first", 5)
    for text in ("\n".join(text_of(paint_review(view, 80, 24))), "\n".join(review_lines(state))):
        assert "R1" in text
        assert bool(re.search("37|36|02 May", text)) is not blind


def test_the_report_says_so():
    seen = session("2026-11-25", soleus(0, 5), checklist=SHORT)
    one = replace(seen, conditions=Conditions(blind=True))
    for given, wanted in ((seen, False), (one, True)):
        chart = Chart("c" * 32, PATIENT, (given,), (), (), ())
        report = make_report(chart, given, Basis(MUSCLES, catalogue().settings), "0")
        assert (BLIND in repr(report)) is wanted
