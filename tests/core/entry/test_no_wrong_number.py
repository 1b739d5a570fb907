"""No station that is done holds a number not meant for it, whatever slips; see support/blind.py.

The rules are the project's own; that they are needed is shown by taking each of them out. Of the
10,000 sessions of the full size none stores a number that was questioned or lies far from the
last one; in 42 a number that could be honest is stored, 31 of them because in slow-first order
the first digit of the next station is a grade when the grade was forgotten.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest
from limbscribe.core.entry import fields, holding, prompts, read_back, step
from limbscribe.core.entry.state import EntryState, Moment, Result, free
from limbscribe.core.tardieu import checks

from tests.support.blind import SLIPS, case, shown, tally, typed
from tests.support.sizes import and_deep

MOST = 0.02
"""Share of sessions with a number that no program can know from an honest one."""


@pytest.mark.parametrize("sessions", and_deep(500, 1000, 10_000))
def test_no_station_that_is_done_holds_a_number_not_meant_for_it(sessions: int):
    counts, faults = tally(sessions, 2)
    assert not faults, shown(faults)
    assert set(SLIPS) <= set(counts), "every kind of slip was tried"
    assert sum(counts[f"? {kind}"] for kind in SLIPS) <= MOST * sessions


def test_without_a_slip_stations_are_done():
    """What the other tests find is worth something only if numbers are stored at all."""
    chance, done, count = Random(5), 0, 0
    while count < 200:
        one = case(chance)
        if one.kind == "none":
            state = typed(one, chance)
            done += state.drafts[one.at].done + state.drafts[one.at + 1].done
            count += 2
    assert done > 0.7 * count


Plant = Callable[[pytest.MonkeyPatch], None]


def _nothing_holds(patch: pytest.MonkeyPatch) -> None:
    def held_action(state: EntryState, key: str, now: Moment) -> Result:
        return step.step(free(state), key, now)

    patch.setattr(step, "held_action", held_action)


def _a_digit_starts_anew_in_a_hold(patch: pytest.MonkeyPatch) -> None:
    held_action = step.held_action

    def taken(state: EntryState, key: str, now: Moment) -> Result:
        if key.isdigit():
            return step.step(holding.take_away(state), key, now)
        return held_action(state, key, now)

    patch.setattr(step, "held_action", taken)


def _any_enter_accepts(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(step, "accepts", lambda state, key, _now: bool(state.pending) and key == "enter")


def _bounces_are_answers(patch: pytest.MonkeyPatch) -> None:
    for module in (fields, holding, read_back):
        patch.setattr(module, "SLOW_ENOUGH_S", 0.0)


def _a_zero_leads(patch: pytest.MonkeyPatch) -> None:
    type_digit = fields.type_digit

    def lead(state: EntryState, key: str, now: Moment) -> Result:
        cursor = state.cursor
        if cursor.text == "0":
            state = replace(state, cursor=replace(cursor, text=None))
        return type_digit(state, key, now)

    for digit in "0123456789":
        patch.setitem(step._FIELDS, digit, lead)


def _points_are_ignored(patch: pytest.MonkeyPatch) -> None:
    for key in ".,":
        patch.setitem(step._FIELDS, key, lambda state, _key, _now: (state, ()))


def _minus_flips_what_is_preset(patch: pytest.MonkeyPatch) -> None:
    def flip(state: EntryState, key: str, now: Moment) -> Result:
        cursor = replace(state.cursor, signed=True)
        return type_sign(replace(state, cursor=cursor), key, now)

    type_sign = fields.type_sign
    patch.setitem(step._FIELDS, "-", flip)


def _undo_brings_digits_to_type_on(patch: pytest.MonkeyPatch) -> None:
    undone = step._FIELDS["u"]

    def back(state: EntryState, key: str, now: Moment) -> Result:
        new, effects = undone(state, key, now)
        return replace(new, cursor=replace(new.cursor, fresh=False)), effects

    patch.setitem(step._FIELDS, "u", back)


def _pain_goes_to_the_next_station(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(EntryState, "just_finished", None)


def _several_matches_go_to_the_first(patch: pytest.MonkeyPatch) -> None:
    matches = prompts.goto_matches
    patch.setattr(prompts, "goto_matches", lambda state, text: matches(state, text)[:1])


def _a_value_confirms_the_read_back(patch: pytest.MonkeyPatch) -> None:
    for digit in "0123456789":
        patch.setitem(
            step._READ_BACK, digit, lambda state, _key, now: read_back.confirm(state, "", now)
        )


def _a_quality_never_waits(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(fields, "quality_waits", lambda _state: False)


def _without_rule(name: str) -> Plant:
    def plant(patch: pytest.MonkeyPatch) -> None:
        rules = tuple(rule for rule in checks._FIELD_RULES if rule.__name__ != name)
        assert len(rules) == len(checks._FIELD_RULES) - 1
        patch.setattr(checks, "_FIELD_RULES", rules)

    return plant


PLANTS: dict[str, Plant] = {
    "nothing holds": _nothing_holds,
    "a digit starts anew in a hold": _a_digit_starts_anew_in_a_hold,
    "any Enter accepts": _any_enter_accepts,
    "bounces are answers": _bounces_are_answers,
    "digits behind a leading 0": _a_zero_leads,
    "points are ignored": _points_are_ignored,
    "minus flips what is preset": _minus_flips_what_is_preset,
    "undone digits are typed on": _undo_brings_digits_to_type_on,
    "pain goes to the next station": _pain_goes_to_the_next_station,
    "several matches go to the first": _several_matches_go_to_the_first,
    "a value confirms the read-back": _a_value_confirms_the_read_back,
    "a quality never waits": _a_quality_never_waits,
    "no rule for the order of angles": _without_rule("_order_of_angles"),
    "no rule for quality and catch": _without_rule("_quality_and_catch"),
    "no rule for the joint": _without_rule("_joint_limits"),
    "no rule against last time": _without_rule("_since_last"),
}


LOT = 25
FIRST_SEEDS = {
    "bounces are answers": 10,
    "digits behind a leading 0": 142,
    "points are ignored": 112,
    "undone digits are typed on": 72,
    "several matches go to the first": 30,
    "a quality never waits": 10,
    "no rule for the joint": 22,
}
"""Where a search begins that would else take many sessions to come upon the fault."""


@pytest.mark.parametrize("plant", PLANTS)
def test_a_rule_taken_out_is_found(plant, monkeypatch):
    PLANTS[plant](monkeypatch)
    first = FIRST_SEEDS.get(plant, 0)
    for seed in range(first, first + 25_000 // LOT):
        if tally(LOT, seed)[1]:
            return
    raise AssertionError(f"{plant}: 25,000 sessions did not show it")
