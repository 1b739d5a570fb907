"""Doubt about an Enter that accepted what was asked: it may have been meant as "no catch".

Who types blind does not see that a value is asked about, and types a stretch without a catch as
Enter. So after such an Enter the next R1 is looked at. Where what is typed there reads better as
what follows "no catch", or is refused, the station of that value is open again and the entry
held; Backspace says that the value was meant.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from .said import enter_means_no_catch
from .state import DIGITS, ENTER, Effect, EntryState, Field, Mode, Moment, Result
from .stopping import AT_ONCE_S, hold
from .undo import record, taken_back


def reads_as_no_catch(state: EntryState, key: str) -> bool:
    """Whether the R1 that this key accepts reads better as what follows "no catch"."""
    cursor = state.cursor
    doubtful = state.doubt and not state.hold and state.mode is Mode.FIELDS
    if not doubtful or key not in (*ENTER, "m") or state.field is not Field.R1:
        return False
    if cursor.attempt:  # a grade behind an Enter that was to end the tries
        grades = [str(grade) for grade in range(state.plan.quality_max + 1)]
        return state.plan.field_order == "slow-first" and cursor.text in grades
    if not cursor.text:  # one Enter for each of several tries, of which the first went elsewhere
        return state.plan.tries > 1 and enter_means_no_catch(state)
    grade, rest = cursor.text[0], cursor.text[1:]
    if state.plan.field_order == "slow-first":  # a grade, or the R2 of the other order
        return cursor.text in ("0", "1") or _nearer_as_r2(state, cursor.text, unsure=False)
    return grade in "01" and rest != "" and _nearer_as_r2(state, rest, unsure=True)


def _nearer_as_r2(state: EntryState, digits: str, unsure: bool) -> bool:
    """Whether these digits lie nearer last time's R2 than all to its R1; ``unsure`` without one.

    Without a catch last time an R1 is as far from it as an ordinary change goes.
    """
    r1, _, r2 = state.station.last_typed
    if r2 is None or (r1 is None and unsure):
        return unsure
    sign = -1 if state.cursor.negative else 1
    as_r1 = state.plan.limits.change if r1 is None else abs(sign * int(state.cursor.text or 0) - r1)
    as_r2 = abs(sign * int(digits) - r2)
    return as_r2 < as_r1 or (unsure and as_r2 == as_r1)


def ask_whether_meant(state: EntryState, now: Moment) -> Result:
    """Hold at what reads as what follows "no catch": was the value before it meant?"""
    words = f"{state.key('enter')} accepted {state.past[-1].label}: was it meant?"
    return hold(state, words, "enter", now)


def asks_whether_meant(state: EntryState) -> bool:
    """Whether that is what the entry is held for."""
    return bool(state.doubt) and state.hold is not None and state.hold.key == "enter"


def accepted(before: EntryState, key: str, new: EntryState) -> EntryState:
    """Doubt an Enter that accepted what was asked; what else it accepted ends a doubt."""
    if new.hold is not None:
        return new
    return replace(new, doubt="enter" if before.flags and key in ENTER else "")


def followed(
    before: EntryState, key: str, new: EntryState, effects: tuple[Effect, ...], now: Moment
) -> Result:
    """Open the station in doubt when a key is held, close it by Backspace, or end the doubt."""
    if not before.doubt:
        return new, effects
    if before.hold is None and new.hold is not None:
        bounced = new.pending and not new.flags
        done = before.past[-1].after.done and not bounced
        return _with_done(new, effects, "opened") if done else (new, effects)
    if new.hold is not None or (before.hold is None and _says_nothing_yet(before, key)):
        return new, effects
    if before.doubt != "opened" or key != "backspace":
        return replace(new, doubt=""), effects
    closed, saved = _with_done(new, effects, "")
    # So soon it put right the key before it, and said nothing of the value.
    at_once = before.hold is not None and now.ticks - before.hold.since < AT_ONCE_S
    return (replace(closed, doubt="enter") if at_once else closed), saved


def _says_nothing_yet(before: EntryState, key: str) -> bool:
    """Whether a key leaves it open what the Enter before it meant."""
    if key in ENTER:
        ends_tries = before.cursor.attempt > 0 and not before.cursor.text
        return before.mode is Mode.READ_BACK or ends_tries
    if before.mode in (Mode.REASON, Mode.NOTE):
        return True
    typed = before.cursor.text or before.cursor.signed
    said = (*DIGITS, *"+-n", *(("backspace", "u") if typed else ()))
    return before.mode is Mode.FIELDS and before.field is Field.R1 and key in said


def _with_done(
    state: EntryState, effects: tuple[Effect, ...], doubt: Literal["", "opened"]
) -> Result:
    """Make the last change once more, with its station open or done; all else stays."""
    back, undo = taken_back(state)
    edit = state.past[-1]
    draft = replace(edit.after, done=not doubt)
    again, redo = record(
        back, draft, edit.cursor_after, edit.label, edit.station, edit.also, edit.swap
    )
    new = replace(state, drafts=again.drafts, past=again.past, future=(), doubt=doubt)
    return new, (*undo, *redo, *effects)
