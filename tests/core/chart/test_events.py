"""Treatment dates: parsing, CSV, days since toxin, bands and who is due."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import count
from pathlib import Path

import pytest
from limbscribe.core.change.worklist import worklist
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.chart_entry import ChartEntry
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.events import (
    KINDS,
    NEXT_DATE,
    TOXIN,
    between,
    day_words,
    event_words,
    injection_days,
    kind_words,
    next_date,
    parse_event,
    toxin_day,
)
from limbscribe.core.chart.goals import new_events
from limbscribe.core.chart.patient import Patient
from limbscribe.core.chart.windows import DEFAULT_BANDS, DEFAULT_WINDOWS, Band, Window, band_of
from limbscribe.core.config.settings import parse_settings
from limbscribe.core.exchange.events_csv import COLUMNS, EventRows, read_events, write_events
from limbscribe.core.exchange.import_row import refused_lines
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import Side

MUSCLES = shipped_muscles()
TODAY = date(2026, 11, 25)
GOOD = {
    "date": "2026-03-02",
    "kind": TOXIN,
    "muscle": "soleus",
    "side": "left",
    "note": "100 units, as told",
}


def event(day: str, kind: str = TOXIN, muscle: str = "soleus", side: str = "left") -> Event:
    return Event(f"id-{day}-{kind}", kind, day, muscle, side, "")


def chart(events: tuple[Event, ...]) -> Chart:
    return Chart("c", Patient("P-01"), (), (), events, ())


def listed(*days: str, events: tuple[Event, ...] = (), code: str = "P-01") -> ChartEntry:
    """The line in the list of charts of sessions on some days, with events."""
    last = max((f"{day}T10:00:00+01:00" for day in days), default="")
    injected = " ".join(day.isoformat() for day in injection_days(events))
    wanted = next_date(events)
    return ChartEntry(
        "c", code, "", "", None, len(days), last, injected, wanted.date if wanted else ""
    )


def test_an_event_is_read_as_typed() -> None:
    found = parse_event(GOOD, "e1", MUSCLES)
    assert found == Event("e1", TOXIN, "2026-03-02", "soleus", "left", "100 units, as told")
    for kind in KINDS:
        bare = {"date": "2026-03-02", "kind": kind}
        assert parse_event(bare, "e", MUSCLES) == Event("e", kind, "2026-03-02", "", "", "")
    assert kind_words("cast-on") == "cast on"
    assert kind_words("of a later version") == "of a later version"


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("date", ""),
        ("date", "02.03.2026"),
        ("date", "2026-02-30"),
        ("date", "20260302"),
        ("date", "\u0662026-03-02"),
        ("date", "0026-03-02"),
        ("kind", "injection"),
        ("kind", ""),
        ("muscle", "calf"),
        ("side", "Left"),
        ("side", "both"),
        ("note", "x" * 501),
        ("note", "safe\u202ednim"),
    ],
)
def test_what_is_wrong_with_an_event_is_told_by_its_field(name: str, text: str) -> None:
    problems = parse_event({**GOOD, name: text}, "e1", MUSCLES, "events.csv line 3")
    assert isinstance(problems, list)
    assert [problem.where for problem in problems] == [f"events.csv line 3, {name}"]
    assert problems[0].mend


def test_all_faults_of_an_event_are_told_at_once() -> None:
    problems = parse_event({"date": "x", "kind": "y", "muscle": "z", "side": "s"}, "e", MUSCLES)
    assert isinstance(problems, list)
    assert [problem.where for problem in problems] == ["date", "kind", "muscle", "side"]


def test_days_since_toxin_are_per_muscle_and_side() -> None:
    events = (
        event("2026-01-01"),
        event("2026-02-01"),
        event("2026-02-20", side="right"),
        event("2026-02-25", kind="cast-on"),
        event("2026-02-26", muscle="gastrocnemius"),
    )
    day = date(2026, 3, 1)
    assert toxin_day(events, "soleus", Side.LEFT, day) == 28
    assert toxin_day(events, "soleus", Side.RIGHT, day) == 9
    assert toxin_day(events, "soleus", Side.LEFT, date(2026, 1, 31)) == 30
    assert toxin_day(events, "soleus", Side.LEFT, date(2026, 1, 1)) == 0
    assert toxin_day(events, "soleus", Side.LEFT, date(2025, 12, 31)) is None
    assert toxin_day(events, "hamstrings", Side.LEFT, day) is None
    anywhere = (event("2026-02-10", muscle="", side=""),)
    assert toxin_day(anywhere, "hamstrings", Side.RIGHT, day) == 19
    assert toxin_day((event("not a date"),), "soleus", Side.LEFT, day) is None


def test_an_injection_counts_in_every_test_position_of_its_group() -> None:
    day = date(2026, 3, 1)
    for injected, tested in (
        ("hamstrings", "hamstrings-hip-40"),
        ("hamstrings-hip-40", "hamstrings"),
        ("hip-adductors", "hip-adductors-knee-bent"),
    ):
        assert toxin_day((event("2026-02-10", muscle=injected),), tested, Side.LEFT, day) == 19
    hip = (event("2026-02-10", muscle="hip-adductors"),)
    for other in ("hip-flexors", "hip-extensors", "hamstrings-hip-40"):
        assert toxin_day(hip, other, Side.LEFT, day) is None


@pytest.mark.parametrize(
    ("day", "band"),
    [
        (0, "early"),
        (13, "early"),
        (14, "rising"),
        (27, "rising"),
        (28, "peak"),
        (48, "peak"),
        (49, "waning"),
        (83, "waning"),
        (84, "late"),
        (400, "late"),
    ],
)
def test_bands_of_days(day: int, band: str) -> None:
    assert band_of(day) == band


def test_bands_and_follow_up_come_from_the_settings() -> None:
    text = "[toxin_bands]\nlate = 60\nfirst = 0\n[follow_up]\n'week 6' = [35, 49]\n"
    settings = parse_settings(text, Path("config.toml"), shipped_muscles())
    assert settings.problems == ()
    assert settings.toxin_bands == (Band("first", 0), Band("late", 60))
    assert settings.follow_up == (Window("week 6", 35, 49),)
    assert parse_settings("[follow_up]\n", Path("c"), shipped_muscles()).follow_up == ()


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("[toxin_bands]\nlate = 60\n", "c.toml line 1"),
        ("[toxin_bands]\na = 0\nb = 0\n", "c.toml line 1"),
        ("[toxin_bands]\na = -1\n", "c.toml line 1"),
        ("[toxin_bands]\n", "c.toml line 1"),
        ("toxin_bands = 3\n", "c.toml line 1"),
        ("[follow_up]\na = [42, 28]\n", "c.toml line 1"),
        ("[follow_up]\na = [true, 28]\n", "c.toml line 1"),
        ("[follow_up]\na = 28\n", "c.toml line 1"),
        ("\nmdc_level = 99\n", "c.toml line 2"),
        ("own_measurement_error = 'yes'\n", "c.toml line 1"),
    ],
)
def test_settings_that_cannot_be_used_keep_their_defaults(text: str, where: str) -> None:
    settings = parse_settings(text, Path("c.toml"), shipped_muscles())
    assert [problem.where for problem in settings.problems] == [where]
    assert settings.toxin_bands == DEFAULT_BANDS
    assert settings.follow_up == DEFAULT_WINDOWS
    assert (settings.mdc_level, settings.own_measurement_error) == (95, False)


def ids() -> object:
    numbers = count(1)
    return lambda: f"e{next(numbers)}"


def read(data: bytes) -> EventRows:
    found = read_events(data, "events.csv", MUSCLES, ids(), TODAY)  # type: ignore[arg-type]
    assert isinstance(found, EventRows)
    return found


def events_in(data: bytes) -> tuple[Event, ...]:
    return tuple(e for rows in read(data).by_patient.values() for e, _ in rows)


def added(existing: tuple[Event, ...], *incoming: Event) -> tuple[Event, ...]:
    """What of events without a score is not there yet."""
    return tuple(e for each in new_events(existing, ((e, None) for e in incoming)) for e in each)


def test_events_go_through_a_file_and_come_back() -> None:
    events = (
        replace(event("2026-04-01", kind="cast-on", muscle=""), note='=1+1, "quoted"'),
        replace(event("2026-03-02"), note="-5 deg splint"),
    )
    data = write_events([chart(events=events)])
    assert data.startswith(b"patient,date,kind,muscle,side,note,amount,unit,")
    found = read(data)
    assert found.refused == ()
    assert list(found.by_patient) == ["P-01"]
    there = events_in(data)
    assert [e.date for e in there] == ["2026-03-02", "2026-04-01"]
    assert added(events, *there) == ()
    assert write_events([chart(events=there)]) == data


GIVEN_ROW = (
    b"patient,date,kind,muscle,side,note,unit,amount\r\n"
    b"P-01,2026-03-02,botulinum-toxin,soleus,left,as told,units,%s\r\n"
)


@pytest.mark.parametrize(
    ("typed", "kept"), [(b"50", 50.0), (b"2.5", 2.5), (b'"2,5"', 2.5), (b"x", None), (b"", None)]
)
def test_what_was_given_is_read_in_any_order_of_columns(typed: bytes, kept: float | None) -> None:
    found = read(GIVEN_ROW % typed)
    if kept is None:
        assert "amount" in found.refused[0].reason
        return
    (given,) = events_in(GIVEN_ROW % typed)
    assert (given.amount, given.unit, given.product) == (kept, "units", "")
    assert f": {kept:g} units; as told" in event_words(given, {})
    (again,) = events_in(write_events([chart(events=(given,))]))
    assert again == replace(given, id=again.id)


@pytest.mark.parametrize(
    ("typed", "mend"),
    [
        ("1,000", "type 1000 or 1.0"),
        ("2,500", "type 2500 or 2.5"),
        ("1.500", "type 1500 or 1.5"),
        ("1.125", "type 1125 or 1.1250"),
    ],
)
def test_three_digits_behind_the_mark_may_be_thousands(typed: str, mend: str) -> None:
    found = read(GIVEN_ROW % f'"{typed}"'.encode())
    assert not found.by_patient
    assert f"{typed} can be " in found.refused[0].reason
    assert mend in found.refused[0].reason


@pytest.mark.parametrize(
    ("typed", "kept"), [("0,125", 0.125), ("1.1250", 1.125), ("1234.500", 1234.5), ("1.0", 1.0)]
)
def test_a_fraction_that_is_no_thousands_is_read_and_comes_back(typed: str, kept: float) -> None:
    """Also from a chart of before, whatever was stored: what is exported can be imported."""
    (given,) = events_in(GIVEN_ROW % f'"{typed}"'.encode())
    assert given.amount == kept
    (again,) = events_in(write_events([chart(events=(given,))]))
    assert again.amount == kept


def test_the_same_file_twice_adds_nothing() -> None:
    data = write_events([chart(events=(event("2026-03-02"), event("2026-03-09")))])
    first = events_in(data)
    assert added((), *first, *first) == first
    assert added(first, *events_in(data)) == ()
    other = replace(first[0], id="x", note="second site")
    assert added(first, other) == (other,)


def test_bad_rows_are_refused_with_reasons_and_the_good_ones_kept() -> None:
    data = (
        b"patient,date,kind,muscle,side,note\r\n"
        b"P-01,2026-03-02,surgery,,,\r\n"
        b"\r\n"
        b"p,2026-13-02,surgery,,,\r\n"
        b"P-01,2026-03-02,surgery,,,a note, with a comma\r\n"
    )
    found = read(data)
    assert [e.kind for e in events_in(data)] == ["surgery"]
    first, second = (refused.reason for refused in found.refused)
    assert first.startswith("events.csv line 4, patient: ")
    assert "; events.csv line 4, date: " in first
    assert second.startswith("events.csv line 5: ")
    again = b"".join(refused_lines(found.refused, COLUMNS))
    assert b"is not a date" in again
    mended = again.replace(b"p,2026-13-02", b"P-02,2026-12-02")
    assert list(read(mended).by_patient) == ["P-02"]
    assert read(mended).refused[0].row.cells[:7] == found.refused[1].row.cells  # nothing was lost


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "empty"),
        (b"patient;date;kind\n", "column 4 is missing"),
        (b"\xff", "column 1"),
        (b'patient,date,kind,muscle,side,note\nP-01,2026-01-01,pump,,,"x\n', "quote"),
    ],
)
def test_a_file_that_cannot_be_read_is_told(data: bytes, what: str) -> None:
    found = read_events(data, "events.csv", MUSCLES, lambda: "e", TODAY)
    assert isinstance(found, Problem)
    assert what in found.what
    assert found.where.startswith("events.csv line")


def test_a_table_that_a_spreadsheet_parted_by_semicolons_is_read() -> None:
    data = b"patient;date;kind;muscle;side;note\nP-01;2026-01-02;surgery;;;\n"
    assert list(read(data).by_patient) == ["P-01"]


def test_what_lies_between_two_days() -> None:
    events = (
        event("2026-03-09"),
        event("2026-03-02", kind="cast-on"),
        event("2026-03-01"),
        event("2026-03-10"),
        event("2026-03-05", kind=NEXT_DATE),
    )
    found = between(events, date(2026, 3, 2), date(2026, 3, 9))
    assert [one.date for one in found] == ["2026-03-02", "2026-03-09"]
    assert day_words(date(2026, 3, 2)) == "02 Mar 2026"


INJECTED = (event("2026-01-01"),)
"""Day 28 is 29 Jan, day 42 is 12 Feb, day 84 is 26 Mar, day 112 is 23 Apr 2026."""


@pytest.mark.parametrize(
    ("today", "measured", "expected"),
    [
        ("2026-01-28", (), []),
        ("2026-01-29", (), [("2026-02-12", False)]),
        ("2026-02-12", ("2025-12-20",), [("2026-02-12", False)]),
        ("2026-02-13", (), [("2026-02-12", True)]),
        ("2026-02-13", ("2026-01-28",), [("2026-02-12", True)]),
        ("2026-02-13", ("2026-01-29",), []),
        ("2026-02-20", ("2026-02-19",), []),
        ("2026-03-26", ("2026-02-01",), [("2026-04-23", False)]),
        ("2026-03-26", (), [("2026-02-12", True), ("2026-04-23", False)]),
        ("2026-04-30", ("2026-03-26",), []),
    ],
)
def test_who_is_due_after_an_injection(
    today: str, measured: tuple[str, ...], expected: list[tuple[str, bool]]
) -> None:
    due = worklist([listed(*measured, events=INJECTED)], date.fromisoformat(today))
    assert [(one.by.isoformat(), one.overdue) for one in due if one.by] == expected
    assert len(due) == len(expected)
    assert all(one.entry.code == "P-01" for one in due)
    assert all("after toxin on 01 Jan 2026" in one.why for one in due)


def test_a_later_injection_begins_anew_and_a_planned_one_does_not_count() -> None:
    events = (*INJECTED, event("2026-02-01"), event("2026-12-01"))
    assert worklist([listed(events=events)], date(2026, 2, 20)) == ()
    due = worklist([listed(events=events)], date(2026, 2, 20), ahead=10)
    assert [one.by for one in due] == [date(2026, 3, 15)]


def test_a_next_date_set_by_hand() -> None:
    set_twice = (
        event("2026-03-01", kind=NEXT_DATE),
        replace(event("2026-05-01", kind=NEXT_DATE), note="new splint"),
    )
    charts = [listed("2026-02-01", events=set_twice), listed(code="P-02")]
    assert worklist(charts, date(2026, 4, 30)) == ()
    (due,) = worklist(charts, date(2026, 5, 1))
    assert (due.entry.code, due.why, due.overdue) == ("P-01", "next date set by hand", False)
    assert worklist(charts, date(2026, 5, 2))[0].overdue
    kept = [listed("2026-05-01", events=set_twice)]
    assert worklist(kept, date(2026, 6, 1)) == ()


def test_the_longest_due_comes_first() -> None:
    charts = [
        listed(events=(event("2026-01-01"),), code="P-02"),
        listed(events=(event("2025-12-25"),), code="P-01"),
        listed(events=(event("2026-01-10", kind=NEXT_DATE),), code="P-03"),
    ]
    due = worklist(charts, date(2026, 2, 1), (Window("week", 7, 14),))
    assert [one.entry.code for one in due] == ["P-01", "P-03", "P-02"]
