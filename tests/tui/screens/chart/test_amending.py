"""Correcting a closed session: the pure parts, and the way through the app."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from limbscribe.core.change.compare import Basis
from limbscribe.core.chart.amendment import Amendment
from limbscribe.core.chart.chart import Chart
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import (
    amendment_of,
    changes,
    draft_of,
)
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.errors import ShelfError
from limbscribe.core.shelf.maintenance.verify import verify
from limbscribe.core.tardieu.reading import Flag, Reading, Side
from limbscribe.tui.__main__ import main
from limbscribe.tui.kit.context import Context
from limbscribe.tui.screens.amend.form import AmendForm
from limbscribe.tui.screens.amend.screen import AmendScreen
from limbscribe.tui.screens.chart.layout import paint_chart
from limbscribe.tui.screens.chart.screen import ChartScreen
from limbscribe.tui.screens.chart.state import chart_data, first_state

from tests.support.amending import begun, typed
from tests.support.app import OneScreen, desk_on, fits, press, shown, text_of
from tests.support.records import MUSCLES, PATIENT, reading, session

LEFT, RIGHT = Side.LEFT, Side.RIGHT
NOON = "2026-11-25T12:00:00+01:00"


def closed() -> Session:
    """Gastrocnemius on both sides, soleus half done, and one reading that is on no list."""
    return session(
        "2026-01-02",
        reading("gastrocnemius", LEFT, -20, 5),
        reading("gastrocnemius", RIGHT, None, 10),
        reading("soleus", LEFT, 3, None, quality=None, entered=""),
        reading("hamstrings", RIGHT, 30, 60),
    )


# Pure parts ------------------------------------------------------------------------------


def test_the_entry_holds_every_reading_as_it_was():
    found = closed()
    state = begun(found)
    held = [reading_of(state, i) for i in range(len(state.drafts))]
    assert [r for r in held if r.quality is not None or r.r1 is not None] == list(found.readings)
    assert [draft.done for draft in state.drafts] == [True, True, False, False, True, False, False]
    assert changes(state, state, found.readings) == ()


def test_only_what_was_changed_is_in_the_amendment():
    found = closed()
    state = begun(found)
    now = typed(state, ">" + "\n" + "1" + "12\n")
    (one,) = changes(state, now, found.readings)
    assert (one.old, one.new and one.new.r2) == (found.readings[1], 12)
    assert amendment_of((one,)) == ((one.new,), ())
    assert changes(state, typed(now, "u"), found.readings) == ()


def test_typing_the_same_again_is_no_change():
    found = closed()
    state = begun(found)
    assert changes(state, typed(state, "20-\n25\n"), found.readings) == ()


def test_another_velocity_withdraws_the_reading_at_the_old_one():
    found = closed()
    state = begun(found)
    found_changes = changes(state, typed(state, "ff"), found.readings)
    readings, withdrawn = amendment_of(found_changes)
    assert [r.fast_velocity for r in readings] == ["V2"]
    assert withdrawn == (found.readings[0].station,)


def test_a_disputed_station_is_always_said():
    found = closed()
    state = begun(found)
    station = found.readings[3].station
    (one,) = changes(state, state, found.readings, [station])
    assert one.old == one.new == found.readings[3]


def test_an_imported_reading_keeps_its_values():
    bare = replace(reading("soleus", LEFT, 3, 12), r1_tries=(), r2_tries=())
    assert (draft_of(bare).r1, draft_of(bare).r2) == ((3,), (12,))
    none = replace(reading("soleus", LEFT, None, 12), r1_tries=())
    assert draft_of(none).r1 == (None,)


def test_the_scale_is_that_of_the_reading_even_if_the_clinic_changed_it():
    found = closed()
    moved = replace(found.readings[0], scale=replace(found.readings[0].scale, offset=90))
    found = replace(found, readings=(moved, *found.readings[1:]))
    state = begun(found)
    assert reading_of(state, 0).scale.offset == 90


# Painting --------------------------------------------------------------------------------


def painted(chart: Chart, width: int, height: int) -> list[str]:
    data = chart_data(chart, False, Basis(MUSCLES))
    state = replace(first_state(data), view="sessions")
    rows = paint_chart(state, data, "v", width, height)
    assert fits(rows, width, height)
    return text_of(rows)


def amended(*amendments: Amendment) -> Chart:
    return Chart("x", PATIENT, (closed(),), amendments, (), ())


def change(id_: str, on: tuple[str, ...] = (), **more: Any) -> Amendment:
    new = replace(reading("gastrocnemius", LEFT, -10, 5), **more)
    at = "2026-03-04T09:05:00+01:00"
    return Amendment(id_, "id-2026-01-02", "EF", f"why {id_}", at, (new,), made_on=on)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_former_values_stay_in_sight_with_their_flags(size: tuple[int, int]):
    flag = Flag("x", "unlikely", "r1", "looks odd")
    chart = amended(change("one", flags=(flag,)), change("two", ("one",), r2=6))
    text = " ".join(" ".join(painted(chart, *size)).split())
    assert "amended by EF on 04 Mar 2026 09:05: why one" in text
    assert "~ was R1 -20, quality 2, R2 5 until 04 Mar 2026 09:05 by EF: why one" in text
    flags = "(flagged unlikely: looks odd)"
    assert f"~ was R1 -10, quality 2, R2 5 {flags} until 04 Mar 2026 09:05 by EF: why two" in text


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
def test_a_conflict_is_shown_with_what_each_says(size: tuple[int, int]):
    chart = amended(change("one"), change("two", r2=6))
    text = " ".join(" ".join(painted(chart, *size)).split())
    assert "CONFLICT: amendments by EF and EF were made on the same record" in text
    assert "? 04 Mar 2026 09:05 by EF: why one says R1 -10, quality 2, R2 5" in text
    assert "? 04 Mar 2026 09:05 by EF: why two says R1 -10, quality 2, R2 6" in text
    assert "-20" in text


def test_a_withdrawn_reading_is_still_told():
    gone = Amendment(
        "a", "id-2026-01-02", "EF", "wrong patient", NOON, (), (closed().readings[3].station,)
    )
    text = " ".join(" ".join(painted(amended(gone), 80, 40)).split())
    assert "hamstrings, Right, V3: was R1 30, quality 2, R2 60 until 25 Nov 2026 12:00" in text


# Through the app ---------------------------------------------------------------------------


def opened(tmp_path: Path, *more: Session) -> tuple[Context, str, OneScreen]:
    desk, chart_id = desk_on(tmp_path, closed(), *more)
    return desk, chart_id, OneScreen(ChartScreen(desk, chart_id))


def current(desk: Context, chart_id: str) -> dict[Any, Reading]:
    chart = desk.shelf.load(chart_id)
    return {r.station: r for r in chart.current[0].readings}


async def test_a_closed_session_is_corrected(tmp_path: Path):
    desk, chart_id, app = opened(tmp_path)
    before = desk.shelf.load(chart_id).sessions
    async with app.run_test() as pilot:
        await press(pilot, "a")
        assert any("an amendment corrects one session" in line for line in shown(pilot))
        await press(pilot, "vva")
        assert isinstance(app.screen, AmendScreen)
        assert "AMENDING the session of" in shown(pilot)[0]
        await press(pilot, "r")
        assert any("nothing is changed yet" in line for line in shown(pilot))
        await press(pilot, "15-\n25\n")
        await press(pilot, "r")
        assert isinstance(app.screen, AmendForm)
        text = " ".join(" ".join(shown(pilot)).split())
        assert "Gastrocnemius, Left, V3: R1 -20 -> -15" in text
        await press(pilot, "\n")
        assert any("it is missing" in line for line in shown(pilot))
        await press(pilot, "ef\nmisheard\n")
        assert isinstance(app.screen, ChartScreen)
        text = " ".join(" ".join(shown(pilot)).split())
        assert "the amendment is saved and signed" in text
        assert "~ was R1 -20, quality 2, R2 5 until 25 Nov 2026 12:00 by EF: misheard" in text
    chart = desk.shelf.load(chart_id)
    assert chart.sessions == before
    (made,) = chart.amendments
    assert (made.author, made.reason, len(made.readings)) == ("EF", "misheard", 1)
    assert current(desk, chart_id)["gastrocnemius", LEFT, "V3"].r1 == -15
    assert not desk.shelf.amending(chart_id)
    assert verify(desk.shelf.folder) == ()


async def test_an_amendment_left_half_way_goes_on_where_it_was(tmp_path: Path):
    desk, chart_id, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        await press(pilot, "15-\n25\n")
        await press(pilot, "q")
        assert "amendment not signed yet: a goes on with it" in " ".join(shown(pilot))
        assert desk.shelf.amending(chart_id)
        assert verify(desk.shelf.folder) == ()
        assert desk.shelf.load(chart_id).amendments == ()
        await press(pilot, "a")
        assert any("the amendment goes on where it was left" in line for line in shown(pilot))
        await press(pilot, "r")
        await press(pilot, "ef\nmisheard\n")
    assert current(desk, chart_id)["gastrocnemius", LEFT, "V3"].r1 == -15
    assert verify(desk.shelf.folder) == ()


async def test_leaving_without_a_change_leaves_nothing(tmp_path: Path):
    desk, chart_id, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        await press(pilot, "15-\nu")
        await press(pilot, "q")
        assert isinstance(app.screen, ChartScreen)
    assert not desk.shelf.amending(chart_id)
    assert verify(desk.shelf.folder) == ()


async def test_an_amendment_made_meanwhile_becomes_a_conflict_and_is_settled(tmp_path: Path):
    desk, chart_id, app = opened(tmp_path)
    station = ("gastrocnemius", LEFT, "V3")
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        await press(pilot, "15-\n25\n")
        await press(pilot, "q")
        other = replace(closed().readings[0], r1=-12, r1_tries=(-12,))
        desk.shelf.amend(chart_id, Amendment("x", closed().id, "GH", "read again", NOON, (other,)))
        await press(pilot, "a")
        await press(pilot, "r")
        await press(pilot, "ef\nmisheard\n")
        text = " ".join(" ".join(shown(pilot)).split())
        assert "another amendment was made meanwhile: both are kept" in text
        assert "CONFLICT" in text
        assert current(desk, chart_id)[station].r1 == -20
        await press(pilot, "a")
        assert any("amendments disagree about 1" in line for line in shown(pilot))
        await press(pilot, "13-\n25\n")
        await press(pilot, "r")
        assert "Settles the conflict" in " ".join(shown(pilot))
        await press(pilot, "jt\nboth looked\n")
        assert "CONFLICT" not in " ".join(shown(pilot))
    assert current(desk, chart_id)[station].r1 == -13
    assert desk.shelf.load(chart_id).amendments[-1].settles
    assert verify(desk.shelf.folder) == ()


async def test_the_chart_is_held_while_it_is_amended(tmp_path: Path):
    desk, chart_id, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        with pytest.raises(ShelfError):
            desk.shelf.amend(chart_id, Amendment("x", closed().id, "GH", "why", NOON, ()))
        await press(pilot, "q")
    assert desk.shelf.amend(chart_id, Amendment("x", closed().id, "GH", "why", NOON, ())).hash


async def test_two_stations_must_not_become_one(tmp_path: Path):
    twice = replace(closed(), id="twice", started="2026-02-02T10:00:00+01:00")
    slow = replace(closed().readings[0], fast_velocity="V2")
    desk, chart_id, app = opened(tmp_path, replace(twice, readings=(*twice.readings, slow)))
    async with app.run_test() as pilot:
        await press(pilot, "vvaff")
        text = " ".join(" ".join(shown(pilot)).split())
        assert "is a station of its own" in text
        await press(pilot, "q")
    assert desk.shelf.load(chart_id).amendments == ()


def test_a_journal_left_by_a_saved_amendment_is_cleared_away(tmp_path: Path):
    desk, chart_id, _ = opened(tmp_path)
    (chain,) = desk.shelf.load(chart_id).chains
    amendment = desk.shelf.open_amendment(chart_id, chain.session, chain.tips)
    path = desk.shelf.folder / "journals" / f"{chart_id}.amending"
    left = path.read_bytes()
    amendment.save("EF", "why", NOON, (closed().readings[0],), ())
    path.write_bytes(left)
    path.chmod(0o600)
    again = desk.shelf.open_amendment(chart_id, chain.session, chain.tips)
    assert again.id != amendment.id
    again.drop()
    assert not desk.shelf.amending(chart_id)
    assert len(desk.shelf.load(chart_id).amendments) == 1


def test_a_damaged_journal_of_an_amendment_is_set_aside(tmp_path: Path):
    desk, chart_id, _ = opened(tmp_path)
    (chain,) = desk.shelf.load(chart_id).chains
    desk.shelf.open_amendment(chart_id, chain.session, chain.tips).leave()
    path = desk.shelf.folder / "journals" / f"{chart_id}.amending"
    path.write_bytes(b"\0" * 50)
    assert verify(desk.shelf.folder)
    with pytest.raises(ShelfError, match="set aside"):
        desk.shelf.open_amendment(chart_id, chain.session, chain.tips)
    kept = list((desk.shelf.folder / "journals" / "discarded").iterdir())
    assert [p.read_bytes() for p in kept] == [b"\0" * 50]
    desk.shelf.open_amendment(chart_id, chain.session, chain.tips).drop()


async def test_it_opens_at_the_row_that_is_chosen(tmp_path: Path):
    _, _, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vv>")
        assert any(line.startswith(">") and "Right" in line for line in shown(pilot))
        await press(pilot, "a")
        assert isinstance(app.screen, AmendScreen)
        station = app.screen.state.station
        assert (station.muscle.id, station.side) == ("gastrocnemius", RIGHT)


async def test_what_was_not_to_be_tested_is_neither_counted_nor_opened(tmp_path: Path):
    _, _, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vva")
        assert isinstance(app.screen, AmendScreen)
        plan = app.screen.state.plan
        names = {plan.stations[index].name for index in plan.aside}
        assert names == {"Soleus, Right", "Hamstrings, Left"}
        assert "3 of 5 done" in shown(pilot)[0]


async def test_left_and_right_are_exchanged_in_one_amendment(tmp_path: Path, capsys: Any):
    desk, chart_id, app = opened(tmp_path)
    async with app.run_test() as pilot:
        await press(pilot, "vvajj")
        await press(pilot, "r")
        assert any("nothing is changed yet" in line for line in shown(pilot))
        await press(pilot, "jr")
        assert isinstance(app.screen, AmendForm)
        assert any("left and right were swapped" in line for line in shown(pilot))
        await press(pilot, "ef\n\n")
        assert isinstance(app.screen, ChartScreen)
    (made,) = desk.shelf.load(chart_id).amendments
    assert (made.author, made.reason) == ("EF", "left and right were swapped")
    now = current(desk, chart_id)
    assert now["gastrocnemius", RIGHT, "V3"].r1 == -20
    assert now["hamstrings", LEFT, "V3"].r1 == 30
    assert ("hamstrings", RIGHT, "V3") not in now
    assert verify(desk.shelf.folder) == ()
    assert main(["history", PATIENT.code, "--shelf", str(desk.shelf.folder)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "gastrocnemius, Right, V3: R1 no catch -> -20; quality 1 -> 2" in told
    assert "left and right were swapped" in told
