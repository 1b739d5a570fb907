"""The drill without a screen: what is dealt, counted and found to differ."""

from __future__ import annotations

from random import Random

import pytest
from limbscribe.core.entry.deck import Spoken, deal, drill_plan, keys_of
from limbscribe.core.entry.plan import Plan
from limbscribe.core.entry.readings import reading_of
from limbscribe.core.entry.state import Moment
from limbscribe.core.tardieu.checks import CheckContext, check_reading
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.kit.paint import width_of
from limbscribe.tui.screens.drill.paint import paint_drill, paint_result, result_lines
from limbscribe.tui.screens.drill.state import (
    Drill,
    Slip,
    new_drill,
    pressed,
    read_out,
    result_of,
    together,
)

from tests.support.app import text_of
from tests.support.records import CHECKLISTS, MUSCLES


def plan() -> Plan:
    return drill_plan(CHECKLISTS, MUSCLES, 2026)


def typed_at(drill: Drill, index: int) -> list[str]:
    """A station typed as it is read, with the fewest keys."""
    spoken, presign = drill.spoken[index], drill.entry.plan.stations[index].scale.presign
    return list(keys_of(spoken, presign))


def typed(drill: Drill, keys: list[str], start: float = 0.0) -> Drill:
    """Keys one second apart."""
    for number, key in enumerate(keys):
        drill, _ = pressed(drill, key, Moment(start + number))
    return drill


@pytest.mark.parametrize("seed", range(20))
def test_a_session_typed_as_read_has_no_slip_no_flag_and_no_key_too_many(seed: int):
    drill = new_drill(plan(), Random(seed))
    for index in range(len(drill.spoken)):
        assert not drill.over
        drill = typed(drill, typed_at(drill, index), start=float(drill.keys))
        assert drill.entry.flags == ()
    result = result_of(drill)
    assert drill.over
    assert (result.readings, result.values, result.slips) == (24, 72, ())
    assert result.keys == result.least
    assert result.seconds == result.keys - 1
    assert result.per_minute == pytest.approx(60 * 24 / (result.keys - 1))


def test_both_signs_and_both_kinds_of_catch_are_dealt():
    dealt = [spoken for seed in range(20) for spoken in deal(plan(), Random(seed))]
    assert {spoken.quality for spoken in dealt} == {0, 1, 2}
    assert any(spoken.r2 < 0 for spoken in dealt)
    assert any(spoken.r2 > 99 for spoken in dealt)
    assert all((spoken.r1 is None) == (spoken.quality < 2) for spoken in dealt)


def test_a_slip_is_named_with_what_was_read_and_typed():
    drill = new_drill(plan(), Random(1))
    spoken = (Spoken(10, 2, 20), *drill.spoken[1:])
    drill = typed(Drill(drill.entry, spoken), ["1", "2", "enter", "2", "2", "0", "enter"])
    result = result_of(drill)
    assert result.slips == (Slip("Hip flexors, Left", "R1", "10", "12"),)
    assert str(result.slips[0]) == "Hip flexors, Left: R1 read 10, typed 12"
    assert result.readings == 1


def test_a_station_not_tested_is_three_slips_and_a_corrected_one_none():
    first = new_drill(plan(), Random(1))
    first = Drill(first.entry, (Spoken(10, 2, 20), *first.spoken[1:]))
    refused = typed(first, ["n", "p"])
    assert [slip.typed for slip in result_of(refused).slips] == ["not tested"] * 3
    again = typed(first, ["1", "2", "backspace", "0", "enter", "2", "2", "0", "enter"])
    result = result_of(again)
    assert (result.slips, result.keys - result.least) == ((), 2)


@pytest.mark.parametrize(
    ("spoken", "presign", "keys"),
    [
        (Spoken(45, 2, 10), False, 7),
        (Spoken(None, 0, 110), False, 6),
        (Spoken(-5, 2, 3), False, 6),
        (Spoken(-66, 2, -39), True, 7),
        (Spoken(-6, 2, 0), True, 5),
        (Spoken(-6, 2, 4), True, 6),
    ],
)
def test_fewest_keys(spoken: Spoken, presign: bool, keys: int):
    assert len(keys_of(spoken, presign)) == keys


def test_nothing_typed_has_no_pace():
    assert result_of(new_drill(plan(), Random(1))).per_minute is None
    assert together(()).readings == 0


def test_what_is_read_out_stands_whole_at_every_size():
    for seed in range(5):
        drill = new_drill(plan(), Random(seed))
        for size in ((60, 20), (80, 24), (120, 40)):
            rows = paint_drill(drill, 1, 2, 0.0, (), size)
            assert read_out(drill) in text_of(rows)[0]
            assert "0 of 24 done" in text_of(rows)[0]
            assert len(rows) == size[1]


def test_the_result_lists_every_slip_or_counts_the_rest():
    drill = new_drill(plan(), Random(1))
    while not drill.over:
        drill, _ = pressed(drill, "n", Moment())
        drill, _ = pressed(drill, "p", Moment())
    result = result_of(drill)
    assert len(result.slips) == 72
    for first in (0, 30, 71):
        rows = paint_result(result, 0, first, (60, 20), Keymap().names("drill"))
        text = "\n".join(text_of(rows))
        assert max(map(width_of, rows)) <= 60
        assert len(rows) == 20
        listed = text.count("typed not tested")
        counted = int(text.split("and ")[1].split(" more")[0]) if "more: Down" in text else 0
        assert listed + counted == 72 - first
        for line in result_lines(result):
            assert line in text


def test_dealt_values_pass_the_checks():
    made = plan()
    dealt = deal(made, Random(3))
    drill = Drill(new_drill(made, Random(3)).entry, dealt)
    for index, station in enumerate(made.stations):
        drill = typed(drill, typed_at(drill, index))
        context = CheckContext(station.muscle, reference=station.reference_range)
        assert check_reading(reading_of(drill.entry, index), context) == ()
