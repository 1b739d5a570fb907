"""The readings CSV: what is written comes back, and spreadsheets are not fooled."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from limbscribe.core.chart.checklist import Checklist
from limbscribe.core.chart.session import Session
from limbscribe.core.exchange.csv_rows import (
    COLUMNS,
    guard,
    session_rows,
    unguard,
    write_rows,
)
from limbscribe.core.exchange.import_row import ParsedRow, parse_row
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.muscles import shipped_muscles
from limbscribe.core.tardieu.reading import NOT_TESTED, Reading, Side

from tests.support.csv_rows import cells, file_of, line, read_rows

MUSCLES = shipped_muscles()
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)

NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?|[+-][0-9]{2}:[0-9]{2}", re.ASCII)

words = st.text(st.characters(exclude_categories=("C", "Zl", "Zp")), max_size=30).map(str.strip)
comments = st.one_of(words, st.tuples(st.sampled_from("'=+-@"), words).map("".join))
angles = st.one_of(st.none(), st.integers(-200, 300))


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """Any reading a row can hold; whether it is likely is not asked here."""
    muscle = MUSCLES[draw(st.sampled_from(sorted(MUSCLES)))]
    reason = draw(st.sampled_from(["", "", *NOT_TESTED]))
    r1, r2 = draw(angles), draw(angles)
    quality = draw(st.one_of(st.none(), st.integers(0, 5)))
    if (r1, r2, quality, reason) == (None, None, None, ""):
        r2 = 10
    posture = draw(words.filter(lambda text: text != muscle.posture)) or muscle.posture_words
    return Reading(
        muscle=muscle.id,
        side=draw(st.sampled_from(Side)),
        posture=posture,
        scale=draw(st.sampled_from(muscle.scales)),
        fast_velocity=draw(st.sampled_from(("V2", "V3"))),
        r1=r1,
        r2=r2,
        quality=quality,
        r1_tries=() if r1 is None and quality is None else (r1,),
        r2_tries=() if r2 is None else (r2,),
        clonus_s=draw(st.one_of(st.none(), st.integers(0, 999))),
        pain=draw(st.one_of(st.none(), st.integers(0, 10))),
        not_tested=reason,
        not_tested_note=(draw(words) or "cast") if reason == "other" else "",
        comment=draw(comments).strip(),
    )


def session_of(*found: Reading, examiner: str = "EX") -> Session:
    started = datetime(2026, 3, 2, 9, 30, 5, tzinfo=timezone(timedelta(hours=-3, minutes=-30)))
    return Session(
        "s", started.isoformat(), examiner, "RC", Checklist("c", "C", ()), readings=found
    )


@given(st.lists(readings(), min_size=1, max_size=4), words)
def test_readings_come_back_as_they_were(found: list[Reading], examiner: str) -> None:
    session = session_of(*found, examiner=examiner)
    data = write_rows(session_rows("P-01", session))
    rows = read_rows(data)
    assert not isinstance(rows, Problem)
    parsed = [parse_row(row, MUSCLES, NOW) for row in rows]
    assert all(isinstance(row, ParsedRow) for row in parsed), parsed
    assert [row.reading for row in parsed] == found  # type: ignore[union-attr]
    visit = parsed[0].whose.visit  # type: ignore[union-attr]
    assert (visit.started, visit.examiner) == (session.started, examiner)


@given(st.lists(readings(), min_size=1, max_size=4))
def test_an_outside_reader_sees_the_columns_and_no_formula(found: list[Reading]) -> None:
    data = write_rows(session_rows("P-01", session_of(*found)))
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    assert len(rows) == len(found)
    for row, reading in zip(rows, found, strict=True):
        assert tuple(row) == COLUMNS
        assert row["r1"] == ("" if reading.r1 is None else str(reading.r1))
        assert row["utc_offset"] == "UTC-03:30"
        for name in ("posture", "not_tested", "comment"):
            assert not row[name].startswith(tuple("=+-@\t\r")) or NUMBER.fullmatch(row[name])


@given(st.text())
def test_guard_is_undone_by_unguard(text: str) -> None:
    assert unguard(guard(text)) == text


@pytest.mark.parametrize("text", ["=1+1", "+1 more", "-a", "@sum", "\tx", "\rx", "'=1", "-1-1"])
def test_what_looks_like_a_formula_gets_an_apostrophe(text: str) -> None:
    assert guard(text) == "'" + text


@pytest.mark.parametrize("text", ["-35", "0", "+01:00", "-03:30", "a=b", "'tis", ""])
def test_numbers_and_harmless_text_stay_bare(text: str) -> None:
    assert guard(text) == text


def test_lines_end_in_cr_lf_and_cells_are_quoted_where_needed() -> None:
    data = write_rows([cells(comment='a, "b"\nc')])
    assert data == (",".join(COLUMNS) + "\r\n" + line(comment='"a, ""b""\nc"') + "\r\n").encode()


def test_a_byte_order_mark_and_bare_line_feeds_are_accepted() -> None:
    data = b"\xef\xbb\xbf" + file_of(line()).replace(b"\r\n", b"\n")
    rows = read_rows(data)
    assert not isinstance(rows, Problem)
    assert [(row.line, list(row.cells)) for row in rows] == [(2, cells())]


def test_a_row_knows_the_line_it_starts_on() -> None:
    rows = read_rows(file_of(line(comment='"two\nlines"'), "", ",,,", line()))
    assert not isinstance(rows, Problem)
    assert [row.line for row in rows] == [2, 6]


def test_the_reason_of_a_refused_row_is_passed_over() -> None:
    data = file_of(line() + ",too late", header=",".join((*COLUMNS, "reason")))
    rows = read_rows(data)
    assert not isinstance(rows, Problem)
    assert list(rows[0].cells) == cells()


@pytest.mark.parametrize(
    ("data", "where", "what"),
    [
        (b"", "x.csv line 1", "empty"),
        (b"patient;date\r\n", "x.csv line 1", "column 3 is missing"),
        (file_of(header="patient,day"), "x.csv line 1", "column 2 is 'day', wanted 'date'"),
        (file_of(header=",".join(COLUMNS[:-1])), "x.csv line 1", "column 18 is missing"),
        (file_of(header=",".join((*COLUMNS, "x"))), "x.csv line 1", "'x' is a column too many"),
        (file_of(line(), line(comment="caf\0")), "x.csv line 3", "NUL"),
        (file_of(line(examiner="\u00c4")) + b"\xff\xfe", "x.csv line 3", "not UTF-8"),
        (file_of(line()) + b"\x81", "x.csv line 3", "not windows-1252"),
        (file_of(line()).decode().encode("utf-16")[:-1], "x.csv", "not UTF-16"),
        (file_of(line(), line(comment='"open'), line()), "x.csv line 3", "never closed"),
        (file_of(line(comment='"a"b'), line()), "x.csv line 2", "closing quote"),
        (file_of(line(comment="a" * 200_000)), "x.csv line 2", "too long"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_with_its_line(
    data: bytes, where: str, what: str
) -> None:
    problem = read_rows(data)
    assert isinstance(problem, Problem)
    assert problem.where == where
    assert what in problem.what
