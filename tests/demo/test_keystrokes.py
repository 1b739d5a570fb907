"""The keys around the stations, typed into the program: no more of them than are promised."""

from __future__ import annotations

from pathlib import Path

from limbscribe.demo.bench_keystrokes import (
    ALLOWED_AROUND,
    ALLOWED_TO_FIRST,
    floor_of,
    main,
    to_first_field,
    to_list,
    to_signed,
)
from limbscribe.tui.app import LimbscribeApp
from limbscribe.tui.screens.entry.screen import EntryScreen

from tests.support.app import desk_on, press, type_keys
from tests.support.records import session

STATIONS = "10\n220\n5\n315\n5\n315\n50\n240\n"
"""Four stations, without one key more than their floor."""


async def test_from_the_shell_to_signed_takes_the_floor_and_28_keys(tmp_path: Path):
    desk, chart_id = desk_on(tmp_path, session("2026-01-02"))
    app = LimbscribeApp(desk)
    ahead, signing = to_first_field("INV-07"), to_signed()
    async with app.run_test(size=(80, 24)) as pilot:
        for key in ahead:
            await type_keys(pilot, key)
        assert isinstance(app.screen, EntryScreen)
        assert not any(draft.r1 for draft in app.screen.state.drafts)
        await press(pilot, STATIONS)
        for key in signing:
            await type_keys(pilot, key)
    signed = desk.shelf.load(chart_id).by_date[-1]
    assert signed.seal.author == "JT"
    floors = [floor_of(reading) for reading in signed.readings]
    assert len(floors) == 4
    assert sum(floors) == len(STATIONS)
    assert len(ahead) <= ALLOWED_TO_FIRST == 12
    assert len(to_list()) + len(ahead) + len(signing) <= ALLOWED_AROUND == 28


def test_the_script_prints_both(capsys):
    main()
    printed = capsys.readouterr().out
    assert "from the list to the first field: 12 keys, at most 12" in printed
    assert "+ 28, at most + 28" in printed
