"""Cues and taps: their arithmetic, the screen's keys, its painting, and the screen driven."""

from __future__ import annotations

from dataclasses import replace
from math import inf, sqrt

import pytest
from limbscribe.core.chart.session import seal_holds
from limbscribe.core.entry.readings import session_readings
from limbscribe.core.problem import Problem
from limbscribe.core.tardieu.fall import Fall
from limbscribe.core.tardieu.pace import (
    FRAME_S,
    LEAD_S,
    MEASURED,
    MEASURED_SOURCE,
    Cue,
    Tapped,
    share_done,
    tapped,
    ticked,
    until_next,
)
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.screens.entry.screen import EntryScreen
from limbscribe.tui.screens.pace.paint import paint_pace
from limbscribe.tui.screens.pace.screen import PaceScreen
from limbscribe.tui.screens.pace.state import (
    END,
    HEIGHT,
    SECONDS,
    START,
    begin_pace,
    fall_now,
    speed_now,
    step,
    tick,
)

from tests.support.app import OneScreen, desk_on, fits, press, shown, text_of
from tests.support.records import PATIENT, session, state_of

TALL = replace(PATIENT, height_cm=170)
ELBOW = ">>>"
"""From the first station of the invented list to its elbow flexors."""


def pace_of(keys: str = ELBOW, patient=TALL):
    return begin_pace(state_of(keys), patient)


def typed(state, keys: str, ticks: float = 0.0):
    """The screen after keys at one moment, and all effects."""
    names = {"\n": "enter", "^": "up", "<": "backspace"}
    effects = []
    for char in keys:
        key = names.get(char, char)
        state, new = step(state, key, Keymap().action("pace", key), ticks)
        effects += new
    return state, effects


# Arithmetic -------------------------------------------------------------------------------


def test_taps_give_the_mean_speed_and_how_far_it_may_be_off():
    """Two taps, each 0.05 s off: the time is off by sqrt(2) times that."""
    found = tapped(90, 0.5)
    assert isinstance(found, Tapped)
    assert found.speed == 180
    assert found.error_s == pytest.approx(sqrt(2) * 0.05)
    assert found.slowest == round(90 / (0.5 + found.error_s)) == 158
    assert found.fastest == round(90 / (0.5 - found.error_s)) == 210


def test_another_spread_of_taps():
    found = tapped(90, 0.5, sd=0.1)
    assert isinstance(found, Tapped)
    assert (found.slowest, found.fastest) == (140, 251)


@pytest.mark.parametrize(
    ("arc", "seconds", "taken"),
    [(1, 0.5, True), (0, 0.5, False), (-5, 0.5, False), (90, 0.0708, True), (90, 0.07, False),
     (90, 0.0, False), (10, 19, True), (10, 21, False)],
)  # fmt: skip
def test_what_taps_cannot_say(arc, seconds, taken):
    """No arc, a time within its own error, and less than 1 deg/s."""
    assert isinstance(tapped(arc, seconds), Tapped) is taken


def test_a_cue_rings_at_its_start_and_at_its_end_and_never_twice():
    cue: Cue | None = Cue("V1", 10.0, 2.0)
    rung = []
    for ticks in (9.0, 9.99, 10.0, 10.5, 11.99, 12.0):
        assert cue is not None
        cue, bells = ticked(cue, ticks)
        rung.append(bells)
    assert rung == [0, 0, 1, 0, 0, 1]
    assert cue is None


def test_a_late_look_rings_what_was_missed():
    assert ticked(Cue("V2", 10.0, 0.3), 99.0) == (None, 2)


def test_the_next_look_is_when_something_happens():
    cue = Cue("V2", 10.0, 0.30)
    assert until_next(cue, 9.0) == FRAME_S
    assert until_next(cue, 9.98) == pytest.approx(0.02)
    assert until_next(cue, 10.29) == pytest.approx(0.01)
    moments, ticks = [], 9.0
    while cue.rung < 2 and ticks < 11:
        ticks += until_next(cue, ticks)
        moments.append(ticks)
        after, _ = ticked(cue, ticks)
        if after is None:
            break
        cue = after
    assert any(moment == pytest.approx(10.0, abs=1e-9) for moment in moments)
    assert moments[-1] == pytest.approx(10.3, abs=1e-9)


def test_the_bar_is_even_at_v1_and_starts_slowly_at_v2():
    even, falls = Cue("V1", 10.0, 2.0), Cue("V2", 10.0, 2.0, (130, 30))
    assert [share_done(even, t) for t in (9, 10, 11, 12, 13)] == [0, 0, 0.5, 1, 1]
    assert share_done(falls, 10) == pytest.approx(0, abs=1e-9)
    assert 0.1 < share_done(falls, 11) < 0.4
    assert share_done(falls, 12) == pytest.approx(1)


def test_measured_speeds_carry_their_source_and_stay_below_the_ideal():
    """The published soleus V3, and the point that V3 need not exceed V2 of the shank, 416."""
    assert "Banky 2019" in MEASURED_SOURCE
    v3 = {one.name: one.v3 for one in MEASURED}
    assert v3["soleus"] == 404.4
    assert v3["hamstrings, hip 90"] == 350.9
    assert max(v3.values()) < 416
    assert [one.v3 for one in MEASURED if one.note] == [pytest.approx(64.3 / 0.185, abs=0.5)]
    assert all(one.v1 < one.v3 < inf for one in MEASURED)


# Keys -------------------------------------------------------------------------------------


def test_what_is_offered_at_the_start():
    """Height of the patient; this session's catch as the end; never an old angle."""
    state = pace_of(ELBOW + "45\n2")
    assert [state.boxes[box].value for box in (START, END, HEIGHT, SECONDS)] == [None, -45, 170, 5]
    assert state.boxes[START].negative
    assert pace_of().boxes[END].value is None
    assert pace_of(patient=PATIENT).boxes[HEIGHT].value is None


def test_fields_give_the_fall():
    state, effects = typed(pace_of(), "130\n30")
    assert not effects
    found = fall_now(state)
    assert isinstance(found, Fall)
    assert (found.start_deg, found.end_deg) == (130, 30)
    assert found.time_s == pytest.approx(0.321, abs=6e-4)
    other, _ = typed(state, "t")
    assert fall_now(other) != found


def test_a_muscle_without_a_fall_says_so_at_once():
    found = fall_now(pace_of(""))
    assert isinstance(found, Problem)
    assert "no falling segment" in found.what
    state, effects = typed(pace_of(""), "f")
    assert state.cue is None
    assert effects == ["bell"]
    assert "no V2 cue" in state.message


@pytest.mark.parametrize(
    ("keys", "words"),
    [("180\n30", "balances upright"), ("30\n130", "nothing falls"), ("130\n30\n<<<", "needs")],
)
def test_a_refused_fall_says_why(keys, words):
    state, effects = typed(pace_of(), keys + "f")
    assert state.cue is None
    assert words in state.message
    assert effects == ["bell"]


def test_editing_the_fields():
    state, _ = typed(pace_of(), "13<5-")
    assert state.boxes[START].value == 15
    state, effects = typed(state, "123")
    assert (state.boxes[START].digits, effects) == ("151", ["bell", "bell"])
    state, effects = typed(state, "\n\n-")
    assert (state.at, effects) == (HEIGHT, ["bell"])
    state, _ = typed(state, "<<<<")
    assert state.at == END
    _, effects = typed(state, "z")
    assert effects == ["bell"]


@pytest.mark.parametrize(
    ("typing", "taken"), [("1", True), ("60", True), ("0", False), ("61", False)]
)
def test_length_of_the_v1_cue(typing, taken):
    state, effects = typed(pace_of(), f"\n\n\n{typing}s", ticks=100.0)
    assert (state.cue is not None) is taken
    assert effects == ([] if taken else ["bell"])
    if state.cue:
        assert (state.cue.starts, state.cue.seconds) == (100.0 + LEAD_S, int(typing))


def test_the_first_digit_replaces_what_is_offered():
    """And the next one follows it; Backspace edits the offer instead."""
    state, _ = typed(pace_of(), "\n\n165")
    assert state.boxes[HEIGHT].value == 165
    state, _ = typed(pace_of(), "\n\n<2")
    assert state.boxes[HEIGHT].value == 172


def test_a_cue_runs_and_the_same_key_stops_it():
    state, _ = typed(pace_of(), "s", ticks=100.0)
    state, effects = tick(state, 101.0)
    assert effects == ("bell",)
    assert state.message.startswith("ready")
    ended, effects = tick(state, 106.0)
    assert (ended.cue, effects) == (None, ("bell",))
    assert "V1 cue over" in ended.message
    assert tick(ended, 200.0) == (ended, ())
    stopped, effects = typed(state, "s", ticks=102.0)
    assert (stopped.cue, effects) == (None, [])


def test_two_taps_time_a_stretch_and_a_third_starts_anew():
    state, _ = typed(pace_of(), "130\n40")
    state, _ = typed(state, " ", ticks=50.0)
    assert speed_now(state) is None
    state, _ = typed(state, " ", ticks=50.4)
    found = speed_now(state)
    assert isinstance(found, Tapped)
    assert found.speed == 225
    state, effects = typed(state, "k")
    assert effects == ["keep"]
    state, _ = typed(state, " ", ticks=60.0)
    assert state.taps == (60.0,)


def test_nothing_is_kept_without_a_speed():
    for keys in ("k", " k", "  k", "130\n40  k"):
        state, effects = typed(pace_of(), keys)
        assert "keep" not in effects
        assert "no speed to keep" in state.message


# Painting ---------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
@pytest.mark.parametrize("keys", ["", "130\n30s", "130\n30f", "130\n30 ", "30\n130f", "k"])
@pytest.mark.parametrize("station", ["", ELBOW])
def test_every_size_is_filled(size, keys, station):
    state, _ = typed(pace_of(station), keys, ticks=10.0)
    rows = paint_pace(state, 11.1, *size)
    assert fits(rows, *size)
    text = "\n".join(text_of(rows))
    assert text.isascii()
    for word in ("Pace and speed", "Left", "start of the stretch", "deg", "V1", "V2", "taps"):
        assert word in text


def test_what_is_said_about_a_fall():
    state, _ = typed(pace_of(ELBOW + "pside lying\n"), "130\n30")
    text = " ".join(" ".join(text_of(paint_pace(state, 0.0, 80, 24))).split())
    for words in ("0.32 s: mean 311", "625 deg/s", "forearm with hand 0.248 m", "upper bound"):
        assert words in text
    assert "position is not the standard one" in text
    assert "20 deg/s" in text  # V1: 100 deg in 5 s


def test_the_bar_moves():
    state, _ = typed(pace_of(), "s", ticks=10.0)

    def done(ticks: float) -> int:
        return sum(row.count("#") for row in text_of(paint_pace(state, ticks, 80, 24)))

    assert [done(t) for t in (10.5, 11.0)] == [0, 0]
    assert 0 < done(12.0) < done(15.0) < done(16.0)


def test_measured_speeds_are_shown_where_there_is_room():
    text = " ".join(" ".join(text_of(paint_pace(pace_of(""), 0.0, 120, 40))).split())
    for words in ("38 347", "56 320", "Banky 2019", "not for children"):
        assert words in text


# Driven -----------------------------------------------------------------------------------


async def until_shown(pilot, words: str) -> None:
    """Wait for words on the screen, on a busy machine too."""
    for _ in range(200):
        if any(words in row for row in shown(pilot)):
            return
        await pilot.pause(0.02)
    raise AssertionError(f"{words!r} is not in {shown(pilot)}")


async def test_it_ticks_only_while_a_cue_runs(tmp_path):
    desk, _ = desk_on(tmp_path)
    now = [100.0]
    bells: list[float] = []
    screen = PaceScreen(replace(desk, ticks=lambda: now[0]), state_of(ELBOW), TALL)
    app = OneScreen(screen)
    app.bell = lambda: bells.append(now[0])  # type: ignore[method-assign]
    async with app.run_test() as pilot:
        await press(pilot, "130\n30 ")
        assert screen.ticking is None
        await press(pilot, "f")
        assert screen.ticking is not None
        now[0] = 101.0
        await until_shown(pilot, "cue    V2    [")
        assert bells == [101.0]
        now[0] = 101.33
        await until_shown(pilot, "V2 cue over, 0.32 s")
        assert bells == [101.0, 101.33]
        assert screen.ticking is None


async def test_leaving_keeps_nothing_and_stops_the_clock(tmp_path):
    desk, _ = desk_on(tmp_path)
    screen = PaceScreen(desk, state_of(ELBOW), TALL)
    app = OneScreen(screen)
    async with app.run_test() as pilot:
        await press(pilot, "s")
        await press(pilot, "q")
        assert app.answers == [None]


async def test_a_speed_goes_from_the_entry_into_the_closed_session(tmp_path):
    """v, two taps, k; undone, redone, and signed with the reading."""
    desk, chart_id = desk_on(tmp_path)
    now = [100.0]
    desk = replace(desk, ticks=lambda: now[0])
    opened = desk.shelf.start(chart_id, session("2026-11-25"), "CD")
    entry = EntryScreen(desk, desk.shelf.load(chart_id), opened)
    app = OneScreen(entry)
    async with app.run_test() as pilot:
        await press(pilot, "5\n220")
        await press(pilot, "v")
        await until_shown(pilot, "Pace and speed")
        assert isinstance(app.screen, PaceScreen)
        await press(pilot, "-40 ")
        now[0] += 0.3
        await press(pilot, " ")
        await press(pilot, "k")
        await until_shown(pilot, "speed 150 deg/s")
        assert app.screen is entry
        assert entry.state.draft.speed_deg_s == 150
        assert entry.state.cursor.text == "20"
        await press(pilot, "uu")
        assert entry.state.draft.speed_deg_s is None
        await press(pilot, "y")
        await press(pilot, "20\n")
        assert entry.state.drafts[0].done
        await press(pilot, "q")
    again = EntryScreen(desk, desk.shelf.load(chart_id), desk.shelf.resume(chart_id, "CD"))
    assert again.state.drafts == entry.state.drafts
    again._opened.leave()
    resumed = desk.shelf.resume(chart_id, "CD")
    done = replace(resumed.session, readings=session_readings(again.state))
    resumed.close(done, "CD", "2026-11-25T12:00:00+01:00")
    chart = desk.shelf.load(chart_id)
    assert [r.speed_deg_s for r in chart.sessions[-1].readings] == [150]
    assert seal_holds(chart.sessions[-1])
