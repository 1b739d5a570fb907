"""Random keys at a random plan, and what must be true after each of them.

The plans have any muscle groups on any of their scales, at one velocity or at two, in every order,
with one to three tries, with and without last values, read-back and steps of 5 deg; or they are
those of an amendment. The keys are what a keyboard sends, with Caps Lock on and off, at any pace;
now and then they make an honest value, and the program is started anew from its journal.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from random import Random
from typing import Any

from limbscribe.core.chart.checklist import Checklist, Item
from limbscribe.core.chart.session import Session
from limbscribe.core.entry.amending import amending_checklist as amending
from limbscribe.core.entry.amending import aside_of, begin_amending, changes
from limbscribe.core.entry.log import replay, save_to_doc
from limbscribe.core.entry.plan import Plan, make_plan, settled
from limbscribe.core.entry.readings import flags_of, session_readings
from limbscribe.core.entry.several import swap_sides
from limbscribe.core.entry.state import (
    VALUE_KEYS,
    Bell,
    Draft,
    Edit,
    Effect,
    EntryState,
    Field,
    Mode,
    Moment,
    Save,
    begin,
)
from limbscribe.core.entry.step import step
from limbscribe.core.entry.undo import redone, taken_back
from limbscribe.core.tardieu.checks_context import Limits
from limbscribe.core.tardieu.reading import Side
from limbscribe.tui.keys.keymap import Keymap
from limbscribe.tui.keys.profiles import profile_keys
from limbscribe.tui.screens.entry.keys import for_reducer

from .records import MUSCLES, PATIENT

WALL = "2026-11-25T09:41:00+01:00"
KEYMAPS = tuple(Keymap(profile_keys(name)) for name in ("standard", "number-pad", "left-handed"))
NAMED = ("up", "down", "left", "right", "pageup", "pagedown", "home", "end", "escape", "tab")
SWAP = "swap"
"""Stands for the key that exchanges the sides in an amendment; the screen takes it, not step()."""

KEYS = (
    *["enter"] * 10, *["backspace"] * 3, *NAMED, *"0123456789" * 3, *"--+.,", SWAP,
    *"nfmkpwcuyglio" * 2, *"uummkkyyiil", *"prsjt ax/*",
)  # fmt: skip


@dataclass
class Run:
    """One sequence of keys.

    Attributes:
        start: the entry before any key.
        amends: the readings of the session that is amended, None in an open session.
        keys: as they were pressed.
        journal: what was saved.
        state: the entry now.
        fault: what is wrong, "" when nothing is.
    """

    start: EntryState
    amends: Sequence[Any] | None
    keys: list[str] = field(default_factory=list)
    journal: list[dict[str, Any]] = field(default_factory=list)
    state: EntryState = field(init=False)
    fault: str = ""

    def __post_init__(self) -> None:
        self.state = self.start


# Plans -----------------------------------------------------------------------------------------


def _plan(chance: Random, earlier: Sequence[Session]) -> tuple[Checklist, Plan]:
    items: list[Item] = []
    for id_ in chance.sample(list(MUSCLES), chance.randint(1, 4)):
        scales = [scale.id for scale in MUSCLES[id_].scales]
        sides = chance.choice(("both", "both", "left", "right", "affected"))
        speeds = chance.choice(((None,), (None,), ("V2",), ("V3",), ("V2", "V3")))
        items += [Item(id_, sides, speed, chance.choice(scales)) for speed in speeds]
    checklist = Checklist(
        "any", "Any", tuple(items),
        order=chance.choice(("muscle", "side", "position")),
        first_side=chance.choice(list(Side)),
        field_order=chance.choice(("fast-first", "slow-first")),
        tries=chance.choice((1, 1, 2, 3)),
        counts=chance.choice(("first", "mean", "worst")),
        quality_max=chance.choice((4, 5)),
    )  # fmt: skip
    checklist = settled(checklist, chance.choice(("left", "right", "both", "")), MUSCLES, earlier)
    limits = Limits(reading_step=chance.choice((1, 1, 5)))
    plan = make_plan(checklist, PATIENT, 2026, MUSCLES, earlier, limits)
    blind = chance.random() < 0.1
    return checklist, replace(plan, read_back=chance.random() < 0.3, blind=blind)


def _session(chance: Random, day: str, earlier: Sequence[Session] = ()) -> Session:
    """A session typed as it may be, some of it half-typed."""
    checklist, plan = _plan(chance, earlier)
    state = begin(plan)
    for _ in range(chance.randint(5, 40)):
        for key in _honest(state, chance):
            state, _ = step(state, key)
            if state.can_accept:
                state, _ = step(state, "enter")
    return Session(
        day, f"{day}T10:00:00+01:00", "AB", "CD", checklist, readings=session_readings(state)
    )


def _begun(chance: Random) -> Run:
    earlier = [_session(chance, "2026-05-02")] if chance.random() < 0.5 else []
    if chance.random() < 0.7:
        return Run(begin(_plan(chance, earlier)[1]), None)
    found = _session(chance, "2026-11-25", earlier)
    plan = make_plan(amending(found), PATIENT, 2026, MUSCLES, earlier)
    plan = replace(plan, aside=aside_of(found))
    return Run(begin_amending(plan, found.readings), found.readings)


# Keys ------------------------------------------------------------------------------------------


def _honest(state: EntryState, chance: Random) -> Iterator[str]:
    """The keys of a value that the field may hold, mostly an ordinary one."""
    if state.mode is not Mode.FIELDS:
        yield "enter"
    elif state.field is Field.QUALITY:
        yield chance.choice("0122233")
    else:
        muscle, scale = state.station.muscle, state.station.scale
        share = chance.choice((0.75, 0.75, chance.random()))
        if state.field is Field.R1:
            share -= 0.2
        stretch = round(muscle.low + (muscle.high - muscle.low) * max(0, share))
        value = scale.typed(stretch) // 5 * 5
        yield from ("-" if value < 0 else "+" if scale.presign and value else "")
        yield from (*str(abs(value)), "enter")


def _next(state: EntryState, chance: Random) -> list[str]:
    roll = chance.random()
    if state.can_accept and roll < 0.4:
        return [state.accepting]
    if state.hold and roll < 0.4:
        return ["backspace"]
    if roll < 0.7:
        return list(_honest(state, chance))
    key = chance.choice(KEYS)
    return [key.upper() if len(key) == 1 and chance.random() < 0.1 else key]


def run(seed: int) -> Run:
    """Press keys until something is wrong or there are enough."""
    chance = Random(seed)
    made, keymap, ticks = _begun(chance), chance.choice(KEYMAPS), 0.0
    waiting: list[str] = []
    for _ in range(chance.randint(20, 150)):
        waiting = waiting or _next(made.state, chance)
        key, before = waiting.pop(0), made.state
        ticks += chance.choice((0.05, 0.2, 0.35, 1, 1, 1.2, 2, 12))
        made.keys.append(key)
        if key == SWAP and made.amends is None:
            continue
        if key == SWAP:
            after, effects = swap_sides(before, made.start)
        else:
            action = keymap.action("entry", key)
            key = for_reducer(before, key, action)
            after, effects = step(before, key, Moment(ticks, WALL))
        made.state = after
        saves = [effect for effect in effects if isinstance(effect, Save)]
        made.journal += [json.loads(json.dumps(save_to_doc(each, WALL))) for each in saves]
        made.fault = _wrong(before, key, after, effects)
        if not made.fault and chance.random() < 0.05:
            made.fault = _replayed(made)
            if not made.fault and chance.random() < 0.3:  # killed, and begun anew
                made.state = replay(made.start.plan, made.journal, _start(made))[0]
                ticks += 60
        if made.fault:
            return made
    made.fault = _replayed(made) or _all_undone(made)
    return made


# What must be true -----------------------------------------------------------------------------


def _wrong(before: EntryState, key: str, after: EntryState, effects: Sequence[Effect]) -> str:
    saves = [effect for effect in effects if isinstance(effect, Save)]
    edits = [save.edit for save in saves if save.edit is not None]
    changed = [
        i for i, (a, b) in enumerate(zip(before.drafts, after.drafts, strict=True)) if a != b
    ]
    if changed and not any(save.op != "move" for save in saves):
        return f"{changed} changed and nothing was saved"
    if edits and not edits[-1].swap and (why := _not_typed_there(before, key, after, changed)):
        return why
    if len(saves) == 1 and edits and (why := _not_undone(before, after)):
        return why
    place = (before.cursor.station, before.cursor.place, before.cursor.attempt)
    now = (after.cursor.station, after.cursor.place, after.cursor.attempt)
    back = any(save.op in ("undo", "redo") for save in saves)
    if place != now and not back and after.cursor.text is not None:
        return f"{after.cursor.text} went from {place} to {now}"
    if after.mode is Mode.FIELDS and after.prompt:
        return f"{after.prompt} was typed at a prompt and is there still"
    bell = any(isinstance(effect, Bell) for effect in effects)
    still = replace(after, rhythm=before.rhythm, hold=before.hold, message=before.message) == before
    if before.hold and after.hold and key in VALUE_KEYS and still and not bell:
        return f"{key} was dropped without a bell"
    return next((why for i in changed if (why := _unsound(before, after, i, edits))), "")


def _not_typed_there(before: EntryState, key: str, after: EntryState, changed: list[int]) -> str:
    """Say which value is not what was typed into the field that was shown, "" when all are."""
    pairs = ((i, before.drafts[i], after.drafts[i]) for i in changed)
    # A station may be opened again, or closed, whose Enter was in doubt.
    changed = [i for i, old, new in pairs if replace(old, done=new.done) != new]
    if changed and (key == "i" or before.pending == "i"):
        held = [sorted(map(_values, each.drafts)) for each in (before, after)]
        return "" if len(changed) == 2 and held[0] == held[1] else "a move that is none"
    if before.rest:
        bare = all(after.drafts[i].not_tested and not before.drafts[i].has_content for i in changed)
        return "" if bare else "the rest is not tested, and had values"
    for index in changed:
        old, new = before.drafts[index], after.drafts[index]
        if index not in (before.cursor.station, before.target):
            return f"station {index} changed, which was not shown"
        for name in ("r1", "r2"):
            tries: tuple[tuple[int | None, ...], ...] = getattr(old, name), getattr(new, name)
            if tries[0] == tries[1]:
                continue
            at = before.cursor.attempt
            typed = int(before.cursor.text) if before.cursor.text else None
            if typed is not None and before.cursor.negative:
                typed = -typed
            wanted = (*tries[0][:at], typed, *tries[0][at + 1 :])
            here = index == before.cursor.station and before.field.value == name
            if not here or tries[1] != wanted:
                return f"{name} is {tries[1]}, typed was {typed} at {before.cursor}"
        if old.quality != new.quality and str(new.quality) not in (key, before.cursor.text):
            return f"quality {new.quality} was not typed"
        if new.pain not in (old.pain, None) and new.pain != int(before.prompt):
            return f"pain {new.pain} was not typed"
    return ""


def _values(draft: Draft) -> str:
    return str(replace(draft, heard=(), overrides=(), posture="", velocity="V3", entered=""))


def _not_undone(before: EntryState, after: EntryState) -> str:
    back, _ = taken_back(after)
    was, now = before.cursor, back.cursor
    same = (back.drafts, back.plan, back.past) == (before.drafts, before.plan, before.past)
    if not same or (was.station, was.place, was.attempt) != (now.station, now.place, now.attempt):
        return "undo does not bring back what was"
    again, _ = redone(back)
    same = (again.drafts, again.plan, again.past) == (after.drafts, after.plan, after.past)
    return "" if same else "redo does not bring back what was undone"


def _unsound(before: EntryState, after: EntryState, index: int, edits: Sequence[Edit]) -> str:
    """Say what a station that is done lacks, or what is impossible there without a reason."""
    draft = after.drafts[index]
    if not draft.done:
        return ""
    if not draft.not_tested and not (draft.r1 and draft.r2 and draft.quality is not None):
        return f"station {index} is done and lacks a value"
    reasons = {override.rule for override in draft.overrides}
    if not edits or edits[-1].swap:  # what was kept there before the keys is not theirs
        return ""
    impossible = {f.rule for f in flags_of(after, draft, index) if f.level == "impossible"}
    return f"{impossible - reasons} without a reason" if impossible - reasons else ""


def _start(made: Run) -> EntryState | None:
    return None if made.amends is None else made.start


def _replayed(made: Run) -> str:
    """Say in what the entry that the journal amounts to differs."""
    again, problems = replay(made.start.plan, made.journal, _start(made))
    if problems:
        return str(problems[0])
    for name in ("drafts", "plan"):
        if getattr(again, name) != getattr(made.state, name):
            return f"the journal gives other {name}"
    past, future = ([_bare(edit) for edit in each] for each in (again.past, again.future))
    if (past, future) != tuple([_bare(e) for e in s] for s in (made.state.past, made.state.future)):
        return "the journal gives another history"
    return f"{again.cursor.text} would be typed on" if _goes_on(again) else ""


def _bare(edit: Edit) -> tuple[object, ...]:
    """An edit without the digits that were in the field, of which not all is kept."""
    return edit.station, edit.before, edit.after, edit.label, edit.also, edit.swap


def _goes_on(state: EntryState) -> bool:
    return bool(state.cursor.text) and not state.cursor.fresh


def _all_undone(made: Run) -> str:
    """Take everything back, and say what is left."""
    state, undone = made.state, 0
    while state.past:
        state, undone = taken_back(state)[0], undone + 1
    if (state.drafts, state.plan) != (made.start.drafts, made.start.plan):
        return "all was undone and something is left"
    if made.amends is not None and changes(made.start, state, made.amends):
        return "all was undone, and the amendment would change something"
    for _ in range(undone):
        state, _ = redone(state)
    return "" if state.drafts == made.state.drafts else "all was redone and is not the same"
