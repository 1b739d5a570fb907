"""No station that is done holds a number not meant for it, whatever slips; see support/blind.py.

The rules are the project's own; that they are needed is shown by taking each of them out. Of the
10,000 sessions of the full size (1 Dec 2026) none stores a number that a program could have known
to be wrong. In 20 a number is stored that could be honest: the grade was forgotten, or the order of
testing was another one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest
from limbscribe.core.entry import doubt, fields, holding, prompts, read_back, step, undo
from limbscribe.core.entry.moving import previous_field
from limbscribe.core.entry.state import EntryState, Field, Mode, Moment, Result
from limbscribe.core.entry.stopping import free
from limbscribe.core.tardieu import checks
from limbscribe.tui.screens.entry import keys

from tests.support.blind import HONEST, case, shown, tally, typed
from tests.support.blind_slips import SLIPS
from tests.support.sizes import and_deep

MOST = 0.02
"""Share of sessions with a number that is honest for all a program can know."""


@pytest.mark.parametrize("sessions", and_deep(500, 1000, 10_000))
def test_no_station_that_is_done_holds_a_number_not_meant_for_it(sessions: int):
    counts, faults = tally(sessions, 2)
    assert not faults, shown(faults)
    assert set(SLIPS) <= set(counts), "every kind of slip was tried"
    assert counts[HONEST] <= MOST * sessions


@pytest.mark.parametrize("sessions", and_deep(200, 1000, 10_000))
def test_nor_on_any_other_angle_scale(sessions: int):
    counts, faults = tally(sessions, 3, any_scale=True)
    assert not faults, shown(faults)
    assert counts[HONEST] <= MOST * sessions


def test_without_a_slip_stations_are_done():
    """What the other tests find is worth something only if numbers are stored at all."""
    chance, done, count = Random(5), 0, 0
    while count < 200:
        one = case(chance, ("none",))
        state = typed(one, chance)
        done += state.drafts[one.at].done + state.drafts[one.at + 1].done
        count += 2
    assert done > 0.7 * count


Plant = Callable[[pytest.MonkeyPatch], None]


def _nothing_holds(patch: pytest.MonkeyPatch) -> None:
    def held_action(state: EntryState, key: str, now: Moment) -> Result:
        return step.step(free(state), key, now)

    patch.setattr(step, "held_action", held_action)


def _backspace_always_ends_a_hold(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(holding, "AT_ONCE_S", 0.0)


def _a_digit_starts_anew_in_a_hold(patch: pytest.MonkeyPatch) -> None:
    held_action = step.held_action

    def taken(state: EntryState, key: str, now: Moment) -> Result:
        if key.isdigit():
            return step.step(holding.take_away(state), key, now)
        return held_action(state, key, now)

    patch.setattr(step, "held_action", taken)


def _any_enter_accepts(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(step, "accepts", lambda state, key, _now: bool(state.pending) and key == "enter")


def _what_is_accepted_is_not_doubted(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(step, "accepted", lambda _state, _key, new: new)


def _no_reading_is_doubted(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(step, "reads_as_no_catch", lambda _state, _key: False)


def _no_station_is_opened_again(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(doubt, "_with_done", lambda state, effects, _doubt: (state, effects))


def _an_enter_too_many_is_refused(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(fields, "_one_enter_a_try", lambda _state: False)


def _not_tested_is_never_asked_about(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        prompts, "_not_tested", lambda state, now: prompts.mark_not_tested(state, "", now)
    )


def _more_is_said_of_what_is_held(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(holding, "_AFTER_MORE", {})


def _texts_behind_a_hold_are_taken(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(step, "drop_if_void", lambda _before, new, effects: (new, effects))


def _a_letter_overrides(patch: pytest.MonkeyPatch) -> None:
    held_action = step.held_action

    def override(state: EntryState, key: str, now: Moment) -> Result:
        if key == "o" and state.impossible:
            return holding.open_override(state)
        return held_action(state, key, now)

    patch.setattr(step, "held_action", override)


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


def _undo_takes_a_change_back(patch: pytest.MonkeyPatch) -> None:
    patch.setitem(step._FIELDS, "u", lambda state, _key, _now: undo.taken_back(state))


def _typed_on_after_moving_back(patch: pytest.MonkeyPatch) -> None:
    type_digit = fields.type_digit

    def on(state: EntryState, key: str, now: Moment) -> Result:
        return type_digit(replace(state, cursor=fields._loaded(state)), key, now)

    for digit in "0123456789":
        patch.setitem(step._FIELDS, digit, on)


def _backspace_leaves_a_field(patch: pytest.MonkeyPatch) -> None:
    def rub_out(state: EntryState, key: str, now: Moment) -> Result:
        typed = state.cursor.text or state.cursor.signed
        return fields.rub_out(state, key, now) if typed else previous_field(state, key, now)

    patch.setitem(step._FIELDS, "backspace", rub_out)


def _plus_does_nothing(patch: pytest.MonkeyPatch) -> None:
    patch.setitem(step._FIELDS, "+", lambda state, _key, _now: (state, ()))


def _a_fourth_digit_pushes_one_out(patch: pytest.MonkeyPatch) -> None:
    type_digit = fields.type_digit

    def push(state: EntryState, key: str, now: Moment) -> Result:
        text = state.cursor.text or ""
        if len(text) == fields.MAX_DIGITS and not state.cursor.fresh:
            state = replace(state, cursor=replace(state.cursor, text=text[1:]))
        return type_digit(state, key, now)

    for digit in "0123456789":
        patch.setitem(step._FIELDS, digit, push)


def _pad_key_is_always_bound(char: str) -> Plant:
    def plant(patch: pytest.MonkeyPatch) -> None:
        belongs = keys._belongs_to_a_number
        patch.setattr(keys, "_belongs_to_a_number", lambda s, k: k != char and belongs(s, k))

    return plant


def _no_catch_where_not_tested(patch: pytest.MonkeyPatch) -> None:
    def accept(state: EntryState, key: str, now: Moment) -> Result:
        if state.draft.not_tested and state.field is Field.R1 and not state.cursor.text:
            return fields._with_value(state, None, "enter", now)
        return fields.accept_field(state, key, now)

    patch.setitem(step._FIELDS, "enter", accept)


def _no_catch_as_a_later_try(patch: pytest.MonkeyPatch) -> None:
    def accept(state: EntryState, key: str, now: Moment) -> Result:
        if state.field is Field.R1 and state.cursor.attempt and not state.cursor.text:
            return fields._with_value(state, None, "enter", now)
        return fields.accept_field(state, key, now)

    patch.setitem(step._FIELDS, "enter", accept)


def _m_writes_an_empty_try(patch: pytest.MonkeyPatch) -> None:
    def more(state: EntryState, key: str, now: Moment) -> Result:
        if state.field is Field.R1 and not state.cursor.text:
            return fields._with_value(state, None, "m", now)
        return fields.add_try(state, key, now)

    patch.setitem(step._FIELDS, "m", more)


def _a_digit_chooses_a_reason_at_once(patch: pytest.MonkeyPatch) -> None:
    def choose(state: EntryState, key: str, now: Moment) -> Result:
        reason = prompts.REASON_DIGITS.get(key)
        chosen = replace(state, prompt=key)
        return prompts._because(chosen, reason, now) if reason else (state, ())

    patch.setitem(step._ACTIONS[Mode.REASON], step._ANY, choose)


def _seconds_always_go_back(patch: pytest.MonkeyPatch) -> None:
    def start(state: EntryState, key: str, now: Moment) -> Result:
        new, effects = prompts.press_stopwatch(state, key, now)
        return replace(new, target=state.just_finished), effects

    patch.setitem(step._FIELDS, "k", start)


def _without_rule(name: str) -> Plant:
    def plant(patch: pytest.MonkeyPatch) -> None:
        rules = tuple(rule for rule in checks._FIELD_RULES if rule.__name__ != name)
        assert len(rules) == len(checks._FIELD_RULES) - 1
        patch.setattr(checks, "_FIELD_RULES", rules)

    return plant


ANGLES = ("outside the joint", "far from last time", "R1 and R2 crossed", "wrong grade")
ASKED = ("one try far off", "minus forgotten", "far from last time")
UNDONE = ("undone and typed anew",)

PLANTS: dict[str, tuple[Plant, tuple[str, ...]]] = {
    "nothing holds": (_nothing_holds, ANGLES),
    "a Backspace always ends a hold": (_backspace_always_ends_a_hold, ANGLES),
    "a digit starts anew in a hold": (_a_digit_starts_anew_in_a_hold, ANGLES),
    "any Enter accepts": (_any_enter_accepts, ANGLES),
    "what is accepted is not doubted": (_what_is_accepted_is_not_doubted, ASKED),
    "no reading is doubted": (_no_reading_is_doubted, ASKED),
    "no station is opened again": (_no_station_is_opened_again, ASKED),
    "an Enter a try is refused": (_an_enter_too_many_is_refused, UNDONE),
    "not tested is never asked about": (_not_tested_is_never_asked_about, ANGLES),
    "more is said of what is held": (_more_is_said_of_what_is_held, ANGLES),
    "texts behind a hold are taken": (_texts_behind_a_hold_are_taken, ANGLES),
    "a letter overrides": (_a_letter_overrides, ("clonus that cannot be",)),
    "bounces are answers": (_bounces_are_answers, ("doubled Enter",)),
    "digits behind a leading 0": (_a_zero_leads, ("Enter for no catch forgotten",)),
    "a fourth digit pushes one out": (_a_fourth_digit_pushes_one_out, ("four digits",)),
    "points are ignored": (_points_are_ignored, ("decimals",)),
    "a point is always Backspace": (_pad_key_is_always_bound("."), ("decimals",)),
    "a plus is always one more try": (_pad_key_is_always_bound("+"), ("none",)),
    "minus flips what is preset": (_minus_flips_what_is_preset, ("none",)),
    "plus does nothing": (_plus_does_nothing, ("none",)),
    "undone digits are typed on": (_undo_brings_digits_to_type_on, ("undone and typed anew",)),
    "undo takes a change back at once": (_undo_takes_a_change_back, ("undone and typed anew",)),
    "digits are typed on after moving back": (
        _typed_on_after_moving_back,
        ("gone back to and typed over",),
    ),
    "Backspace leaves a field typed in": (_backspace_leaves_a_field, ("rubbed out too often",)),
    "no catch where it was not tested": (_no_catch_where_not_tested, ("Enter where not tested",)),
    "no catch as a later try": (_no_catch_as_a_later_try, ("fewer tries",)),
    "one more try of nothing": (_m_writes_an_empty_try, ("one more try too early",)),
    "a digit is a reason at once": (_a_digit_chooses_a_reason_at_once, ("n struck by mistake",)),
    "pain goes to the next station": (
        _pain_goes_to_the_next_station,
        ("prompt after the station",),
    ),
    "seconds always go back": (_seconds_always_go_back, ("clonus before the station",)),
    "several matches go to the first": (_several_matches_go_to_the_first, ("prompt refused",)),
    "a value confirms the read-back": (
        _a_value_confirms_the_read_back,
        ("read-back not confirmed",),
    ),
    "a quality never waits": (_a_quality_never_waits, ("Enter doubled slowly",)),
    "no rule for the order of angles": (_without_rule("_order_of_angles"), ANGLES),
    "no rule for quality and catch": (_without_rule("_quality_and_catch"), ANGLES),
    "no rule for the joint": (_without_rule("_joint_limits"), ANGLES),
    "no rule against last time": (_without_rule("_since_last"), ANGLES),
    "no rule for clonus": (_without_rule("_clonus"), ("clonus that cannot be",)),
    "no rule for tries": (_without_rule("_tries"), ("one try far off",)),
    "no rule for what runs on": (_without_rule("_run_on"), ("quality typed last",)),
    "no rule for a missing sign": (_without_rule("_sign"), ("minus forgotten",)),
}
"""Every rule taken out, and the kinds of slip that it is there for."""

FIRST = {
    "an Enter a try is refused": (349,),
    "one more try of nothing": (10,),
    "a fourth digit pushes one out": (4,),
    "undone digits are typed on": (2,),
}
"""Of rare ones the seed that is tried before the others, as it showed them."""


@pytest.mark.parametrize("plant", PLANTS)
def test_a_rule_taken_out_is_found(plant: str, monkeypatch: pytest.MonkeyPatch):
    taken_out, kinds = PLANTS[plant]
    taken_out(monkeypatch)
    for seed in (*FIRST.get(plant, ()), *range(500)):
        if tally(10, seed, kinds)[1]:
            return
    raise AssertionError(f"{plant}: 5,000 sessions did not show it")
