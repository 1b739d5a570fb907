"""Whatever is pressed, no value moves, undo restores, and the journal has it all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from limbscribe.core.entry import log, moving, step, undo
from limbscribe.core.entry.state import Cursor, EntryState, Mode

from tests.support.any_keys import run
from tests.support.sizes import and_deep


@pytest.mark.parametrize("sequences", and_deep(150, 1000, 20_000))
def test_any_keys(sequences: int):
    done = amended = 0
    for seed in range(sequences):
        made = run(seed)
        assert not made.fault, f"seed {seed}: {made.fault}; keys {' '.join(made.keys)}"
        done += sum(draft.done for draft in made.state.drafts)
        amended += made.amends is not None
    assert done > sequences, "stations are finished"
    assert amended > sequences / 5, "sessions are amended"


def _digits_travel(patch: pytest.MonkeyPatch) -> None:
    moved = moving.moved

    def carry(state: EntryState, cursor: Cursor):
        return moved(state, replace(cursor, text=state.cursor.text))

    patch.setattr(moving, "moved", carry)


def _the_others_are_not_undone(patch: pytest.MonkeyPatch) -> None:
    applied = undo.applied

    def first_only(state: EntryState, edit: Any, back: bool = False) -> EntryState:
        return applied(state, replace(edit, also=()) if back else edit, back)

    patch.setattr(undo, "applied", first_only)


def _pain_is_not_in_the_journal(patch: pytest.MonkeyPatch) -> None:
    draft_doc = log._draft_doc
    patch.setattr(log, "_draft_doc", lambda draft: draft_doc(replace(draft, pain=None)))


def _exchanged_sides_are_not_in_the_journal(patch: pytest.MonkeyPatch) -> None:
    save_to_doc = log.save_to_doc

    def without(save: Any, wall: str) -> dict[str, Any]:
        doc = save_to_doc(save, wall)
        return {name: value for name, value in doc.items() if name != "swap"}

    patch.setattr("tests.support.any_keys.save_to_doc", without)


def _a_held_key_is_silent(patch: pytest.MonkeyPatch) -> None:
    held_action = step.held_action

    def silent(state: EntryState, key: str, now: Any):
        new, effects = held_action(state, key, now)
        return new, () if new.hold else effects

    patch.setattr(step, "held_action", silent)


def _enter_overrides(patch: pytest.MonkeyPatch) -> None:
    def accepts(state: EntryState, key: str, _now: Any) -> bool:
        return key == "enter" and state.mode is Mode.FIELDS and bool(state.pending)

    patch.setattr(step, "accepts", accepts)


@pytest.mark.parametrize(
    "plant",
    [
        _digits_travel,
        _the_others_are_not_undone,
        _pain_is_not_in_the_journal,
        _exchanged_sides_are_not_in_the_journal,
        _a_held_key_is_silent,
        _enter_overrides,
    ],
)
def test_what_is_broken_is_found(
    plant: Callable[[pytest.MonkeyPatch], None], monkeypatch: pytest.MonkeyPatch
):
    plant(monkeypatch)
    assert any(run(seed).fault for seed in range(1000))
