"""A session typed in later: when it was measured, what it may know, how it is marked."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from limbscribe.core.change.history import history
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import (
    Conditions,
    Session,
    conditions_to_doc,
    session_from_doc,
    session_to_doc,
)
from limbscribe.core.entry.as_saved import plan_of
from limbscribe.core.entry.setup import session_of, setup_of, when_measured
from limbscribe.core.problem import Problem
from limbscribe.core.shelf import Shelf
from limbscribe.core.tardieu.reading import Side

from tests.support.app import catalogue
from tests.support.records import PATIENT, SHORT, reading, session

NOW = datetime(2026, 11, 25, 9, 41).astimezone()


def of(r2: int, day: str) -> Session:
    return session(day, reading("soleus", Side.LEFT, None, r2), checklist=SHORT)


def values(chart: Chart, **typed: str) -> dict[str, str]:
    setup = setup_of(catalogue(SHORT), chart, lambda: NOW)
    asked = {question.name: question.value for question in setup.questions}
    found = {**asked, "examiner": "JT", "recorder": "AB", "checklist": "short"}
    found |= setup.ways("short") | typed
    assert not setup.problems(found)
    return found


def test_an_empty_date_is_now_and_leaves_no_mark():
    assert when_measured("", "", NOW) is None
    made = session_of(values(of_chart()), catalogue(SHORT), of_chart(), "0f", NOW.isoformat())
    assert (made.started, made.conditions.typed_later) == (NOW.isoformat(), "")
    assert "typed_later" not in conditions_to_doc(made.conditions)


def of_chart(*sessions: Session) -> Chart:
    return Chart("c" * 32, PATIENT, sessions, (), (), ())


@pytest.mark.parametrize(
    ("day", "at", "wanted"),
    [
        ("2026-11-20", "14:05", datetime(2026, 11, 20, 14, 5)),
        ("20.11.2026", "9:05", datetime(2026, 11, 20, 9, 5)),
        ("-1", "", datetime(2026, 11, 24)),
        ("", "08:30", datetime(2026, 11, 25, 8, 30)),
        ("2026-11-25", "09:41", datetime(2026, 11, 25, 9, 41)),
    ],
)
def test_when_it_was_measured(day, at, wanted):
    assert when_measured(day, at, NOW) == wanted.astimezone()


@pytest.fixture
def berlin(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer in Berlin: on 29 March 2026 no 02:00 to 03:00, on 25 October twice."""
    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("berlin")
def test_an_hour_that_the_clocks_left_out_is_refused_and_one_that_comes_twice_is_the_first():
    found = when_measured("2026-03-29", "2:30", NOW)
    assert isinstance(found, Problem)
    assert (found.where, found.what) == (
        "time",
        "there was no 2:30 on 2026-03-29: the clocks went forward then",
    )
    for day, at, stored in (
        ("2026-03-29", "01:59", "2026-03-29T01:59:00+01:00"),
        ("2026-03-29", "03:00", "2026-03-29T03:00:00+02:00"),
        ("2026-10-25", "02:30", "2026-10-25T02:30:00+02:00"),
    ):
        when = when_measured(day, at, NOW)
        assert isinstance(when, datetime)
        assert when.isoformat() == stored


@pytest.mark.usefixtures("berlin")
def test_a_day_that_begins_an_hour_late_is_not_the_day_before(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("TZ", "America/Havana")
    time.tzset()
    when = when_measured("2026-03-08", "", NOW)
    assert isinstance(when, datetime)
    assert when.isoformat() == "2026-03-08T01:00:00-04:00"


@pytest.mark.parametrize(
    ("day", "at", "where", "what"),
    [
        ("2026-11-26", "", "date", "2026-11-26 00:00 is in the future"),
        ("2026-11-25", "09:42", "date", "is in the future"),
        ("", "23:00", "time", "is in the future"),
        ("2026-02-30", "", "date", "no day"),
        ("11/12/2026", "", "date", "more than one day"),
        ("2026-11-20", "24:00", "time", "no time of day"),
        ("2026-11-20", "8", "time", "no time of day"),
    ],
)
def test_what_cannot_be_is_refused(day, at, where, what):
    found = when_measured(day, at, NOW)
    assert isinstance(found, Problem)
    assert found.where == where
    assert what in found.what
    assert found.mend
    setup = setup_of(catalogue(SHORT), of_chart(), lambda: NOW)
    asked = {question.name: question.value for question in setup.questions}
    assert setup.problems({**asked, "date": day, "time": at})[where] == found


def test_last_values_come_from_earlier_dates_only():
    chart = of_chart(of(5, "2026-05-02"), of(25, "2026-11-20"))
    on = {"date": "2026-08-01", "time": "10:30"}
    made = session_of(values(chart, **on), catalogue(SHORT), chart, "0f", NOW.isoformat())
    assert made.started == datetime(2026, 8, 1, 10, 30).astimezone().isoformat(timespec="seconds")
    assert made.conditions.typed_later == NOW.isoformat()
    last = plan_of(catalogue(SHORT), chart, made).stations[0].last
    assert last is not None
    assert last.r2 == 5
    now = replace(made, started=(NOW + timedelta(hours=1)).isoformat())
    latest = plan_of(catalogue(SHORT), chart, now).stations[0].last
    assert latest is not None
    assert latest.r2 == 25


def test_a_posture_of_a_later_date_is_not_remembered():
    later = replace(of(25, "2026-11-20").readings[0], posture="prone, on a wedge")
    chart = of_chart(session("2026-11-20", later, checklist=SHORT))
    first = session_of(
        values(chart, date="2026-08-01"), catalogue(SHORT), chart, "0f", NOW.isoformat()
    )
    assert first.checklist.items[0].posture != later.posture
    now = session_of(values(chart), catalogue(SHORT), chart, "0f", NOW.isoformat())
    assert now.checklist.items[0].posture == later.posture


def test_the_mark_is_kept_and_the_history_shows_it(tmp_path):
    marks = Conditions(typed_later=NOW.isoformat(), blind=True)
    typed = replace(of(5, "2026-05-02"), conditions=marks)
    assert session_from_doc(session_to_doc(typed)) == typed
    shelf = Shelf(tmp_path)
    chart_id = shelf.create(PATIENT)
    shelf.add_closed(chart_id, [typed, of(9, "2026-06-02")], "AB", NOW.isoformat())
    _, marked, other = history(shelf.load(chart_id))
    assert "typed later, on 25 Nov 2026 09:41" in marked.what
    assert "blind rating: last values were hidden" in marked.what
    assert not any("later" in line or "blind" in line for line in other.what)


def test_zero_minutes_are_still_written():
    assert conditions_to_doc(Conditions(minutes_since_orthosis=0))["minutes_since_orthosis"] == 0
    assert "blind" not in conditions_to_doc(Conditions())
