"""The compare screen: sessions chosen, sorting, details, figures, and its keys."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from limbscribe.core.change.compare import Comparison
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.event import Event
from limbscribe.core.chart.session import Session
from limbscribe.core.tardieu.figure import gap_sign
from limbscribe.tui.kit.body import figure_rows, spot_of
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.compare.figures import (
    GAPS,
    MARKS,
    both_figures,
    change_mark,
    state_mark,
)
from limbscribe.tui.screens.compare.paint import CompareFrame, detail_rows, paint_compare
from limbscribe.tui.screens.compare.screen import CompareScreen
from limbscribe.tui.screens.compare.state import (
    CompareData,
    CompareState,
    compare_data,
    first_state,
    moved,
    next_view,
    rows_shown,
    since_injection,
    with_sessions,
)

from tests.support.app import OneScreen, fits, press, shown, text_of
from tests.support.compared import BASIS, CAST, FIRST, LAST, LEFT, SECOND, TOXIN, compare_desk, many
from tests.support.records import MUSCLES, PATIENT, reading, session

SIZES = [(60, 20), (80, 24), (120, 40)]


def data(*sessions: Session, events: tuple[Event, ...] = (TOXIN, CAST)) -> CompareData:
    chart = Chart("c", PATIENT, sessions or (FIRST, SECOND, LAST), (), events, ())
    found = compare_data(chart, BASIS)
    assert isinstance(found, CompareData)
    return found


def frame(found: CompareData, state: CompareState) -> CompareFrame:
    comparison: Comparison = found.compared(state)
    rows = rows_shown(state, comparison)
    return CompareFrame(comparison, rows, len(found.sessions), MUSCLES, "v")


def painted(found: CompareData, state: CompareState, width: int = 80, height: int = 24):
    return text_of(paint_compare(state, frame(found, state), width, height))


# State ------------------------------------------------------------------------------------


def test_it_begins_with_the_baseline_and_the_latest_or_the_chosen() -> None:
    found = data()
    assert (first_state(found).then, first_state(found).now) == (0, 2)
    assert first_state(found, 1).now == 1
    assert first_state(found, 0).now == 2


def test_sessions_are_chosen_by_keys_and_then_stays_before_now() -> None:
    state = CompareState(0, 3)
    assert (with_sessions(state, "previous", 4) or state).then == 2
    assert (with_sessions(replace(state, then=2), "baseline", 4) or state).then == 0
    assert (with_sessions(CompareState(0, 1), "latest", 4) or state).now == 3
    for action, wanted in (("then_after", (1, 3)), ("now_before", (0, 2))):
        new = with_sessions(state, action, 4)
        assert new is not None
        assert (new.then, new.now) == wanted
    for action in ("then_before", "now_after"):
        assert with_sessions(state, action, 4) is None
    assert with_sessions(CompareState(0, 1), "then_after", 4) is None


def test_the_session_before_an_injection_is_chosen_or_it_says_why_not() -> None:
    """The invented toxin is of 10 Feb, between the first session and the second."""
    found = data()
    state = since_injection(found, CompareState(1, 2))
    assert isinstance(state, CompareState)
    before = found.sessions[state.then].when.date()
    assert before <= date(2026, 2, 10) < found.sessions[state.then + 1].when.date()
    assert "no injection is on record" in str(since_injection(data(events=()), state))
    early = replace(TOXIN, date="2026-01-01")
    assert "no session before the injection" in str(since_injection(data(events=(early,)), state))


def test_gaps_are_digits_and_what_is_not_there_has_its_letter() -> None:
    found = data()
    rows = both_figures(found.compared(first_state(found)).rows, MUSCLES, -1, 80, gaps=True)
    text = "\n".join(text_of(rows))
    assert GAPS in text
    gaps = {gap_sign(row.change.gap.after, True) for row in found.compared(first_state(found)).rows}
    digits = {sign for sign in gaps if sign.isdigit()}
    assert digits
    assert all(sign in text for sign in digits)


def test_views_go_round_and_rows_stop_at_the_ends() -> None:
    state = CompareState(0, 1)
    seen: list[str] = []
    for _ in range(5):
        seen.append(state.view)
        state = next_view(state)
    assert seen == ["table", "details", "figures", "gaps", "table"]
    assert moved(CompareState(0, 1), "end", 5, 3).row == 4
    assert moved(CompareState(0, 1, row=4), "down", 5, 3).row == 4
    assert moved(CompareState(0, 1, row=4), "pageup", 5, 3).row == 1
    assert moved(CompareState(0, 1, "details"), "pagedown", 5, 3).top == 3


def test_two_closed_sessions_are_needed() -> None:
    for sessions, words in (((), "no closed session"), ((FIRST,), "one closed session only")):
        found = compare_data(Chart("c", PATIENT, sessions, (), (), ()), BASIS)
        assert isinstance(found, str)
        assert words in found


# What is shown ----------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("view", ["table", "details", "figures", "gaps"])
def test_every_view_fits_every_window(size: tuple[int, int], view) -> None:
    for found in (data(), data(*many(30))):
        last = len(found.compared(first_state(found)).rows) - 1
        for row in (0, last):
            state = replace(first_state(found), view=view, row=row)
            assert fits(paint_compare(state, frame(found, state), *size), *size)


@pytest.mark.parametrize("size", SIZES)
def test_the_table_shows_the_selected_station_and_both_dates(size: tuple[int, int]) -> None:
    found = data(*many(30))
    for row in range(30):
        state = replace(first_state(found), row=row)
        text = painted(found, state, *size)
        assert sum(line.startswith("> ") for line in text[4:]) == 1
    assert "then 02 Jan 2026" in text[1]
    assert "now 01 Apr 2026" in text[1]
    assert "…" not in "".join(text[:2])


def test_sorting_puts_the_most_changed_first() -> None:
    """Hamstrings R2 -20 and gastrocnemius R1 +18, of an MDC of 10; the elbow has no figure."""
    found = data()
    state = replace(first_state(found), by_size=True)
    text = painted(found, state)
    names = [line[2:].split(" Left")[0] for line in text[5:9]]
    assert names == ["Hamstrings", "Gastrocnemius", "Soleus", "Elbow flexors"]


def details(muscle: str, width: int = 80) -> str:
    found = data()
    given = frame(found, first_state(found))
    row = next(row for row in given.rows if row.muscle == muscle)
    return " ".join(" ".join(text_of(detail_rows(row, given, width))).split())


def test_details_tell_pattern_unfairness_events_and_the_source() -> None:
    text = details("soleus")
    assert text.startswith("Soleus, Left, V3: catch and range unchanged")
    assert "! examiner: AB then, QQ now (unfair to" in text
    assert "no toxin on record then, toxin day 50 (waning) now" in text
    assert "10 Feb 2026 botulinum toxin, Soleus, Left: as told; 01 Mar 2026 cast off" in text
    assert "R1 and R2 and gap: MDC95 10.0 deg: invented leg (an invented study)" in text
    assert "R1 +2 deg: within MDC95 10.0 deg" in text
    other = details("hamstrings")
    assert "botulinum" not in other
    assert "between: 01 Mar 2026 cast off" in other
    assert "the gap shrank by 14: " in other


def test_marks_of_the_figures() -> None:
    found = data()
    rows = {row.muscle: row for row in found.compared(first_state(found)).rows}
    assert change_mark(rows["gastrocnemius"]) == "larger"
    assert change_mark(rows["soleus"]) == "within"
    assert change_mark(rows["elbow-flexors"]) == "not tested"
    assert state_mark(rows["elbow-flexors"].before) == "no catch"
    assert state_mark(rows["soleus"].before) == "catch"
    assert state_mark(None) == "not tested"


def test_a_catch_that_is_gone_is_shown_although_the_range_is_within() -> None:
    gone = session("2026-05-01", reading("soleus", LEFT, None, 12))
    found = data(FIRST, gone)
    row = next(r for r in found.compared(first_state(found)).rows if r.muscle == "soleus")
    assert change_mark(row) == "no catch"


def test_the_signs_are_not_part_of_the_drawing() -> None:
    outline = "".join(text_of(figure_rows({})))
    drawn = set(outline) - set("RightLeftfrontback ")
    assert drawn
    assert not drawn & {sign for sign, _, _ in MARKS.values()}
    assert len({sign for sign, _, _ in MARKS.values()}) == len(MARKS)


def test_both_figures_stand_side_by_side_with_their_own_marks() -> None:
    found = data()
    state = replace(first_state(found), view="figures", row=1)
    text = painted(found, state)
    _, y, x = spot_of(MUSCLES["gastrocnemius"], LEFT)
    view = MUSCLES["gastrocnemius"].place.view
    column = x + (19 if view == "back" else 0)
    assert text[3 + y][column] == "x"
    assert text[3 + y][40 + column] == ">"
    for words in ("> now: larger", "x catch", "= now: within", "o no catch", "n not tested"):
        assert words in text[20]
    small = painted(found, state, 60, 20)
    [row] = [line for line in small if "Gastrocnemius, Left" in line]
    assert row.split()[-2:] == ["x", ">"]


# Keys -------------------------------------------------------------------------------------


async def test_from_the_chart_and_back(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path, events=(TOXIN,))
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "x")
        assert "compare: table (v)" in shown(pilot)[0]
        assert "then 02 Jan 2026 (1 of 3, baseline)" in shown(pilot)[1]
        await press(pilot, "p")
        assert "then 02 Feb 2026 (2 of 3)" in shown(pilot)[1]
        await press(pilot, "b,")
        assert "now 02 Feb 2026 (2 of 3)" in shown(pilot)[1]
        await press(pilot, ",")
        assert "no further" in "".join(shown(pilot))
        await press(pilot, "l>>")
        assert "station 3 of 4" in shown(pilot)[0]
        screen = app.screen
        assert isinstance(screen, CompareScreen)
        await press(pilot, "s")
        assert screen.state.row == 0, "hamstrings stay selected and are the most changed"
        await press(pilot, "vv")
        assert "now: larger" in "".join(shown(pilot))
        await press(pilot, "j")
        assert "does nothing here" in "".join(shown(pilot))
        await press(pilot, "?")
        assert shown(pilot)[0].startswith(" Help: ")
        await press(pilot, "qq")
        assert isinstance(app.screen, ChartScreen)


async def test_a_chart_of_one_session_says_why_there_is_nothing_to_compare(tmp_path) -> None:
    desk, chart_id = compare_desk(tmp_path, FIRST)
    app = OneScreen(ChartScreen(desk, chart_id))
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "x")
        assert isinstance(app.screen, ChartScreen)
        assert "one closed session only: a comparison needs two" in "".join(shown(pilot))
