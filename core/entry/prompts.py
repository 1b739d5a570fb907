"""The prompts of the entry: reason, posture, comment, pain, clonus and go to.

A prompt takes one line of keys in place, without leaving the screen. Backspace in an empty
prompt leaves it, and so does Escape, which slow lines deliver late.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ..tardieu.reading import MAX_CLONUS_S, MAX_TEXT, NOT_TESTED
from ..text import names
from .accept import accept_draft
from .keys import TEXT_BACKSPACE, TEXT_ENTER
from .moving import cursor_to, moved, stopwatch_runs
from .several import mark_rest
from .state import (
    ALL_THE_SAME,
    DIGITS,
    TEXT_MODES,
    VALUE_KEYS,
    Action,
    Draft,
    EntryState,
    Mode,
    Moment,
    Result,
)
from .stopping import free, hold, refused

REASON_LETTERS = {
    "p": "pain",
    "r": "refused",
    "s": "resisted",
    "c": "contraindicated",
    "j": "joint-fixed",
    "t": "no-time",
    "o": "other",
}
"""Letter after n -> key of reading.NOT_TESTED; in this order two rows of 60 cells hold them."""

REASON_DIGITS = {str(number): id_ for number, id_ in enumerate(REASON_LETTERS.values(), 1)}
"""The same reasons by their number, for a hand that stays on the number pad."""

_WHICH = f"one of the letters {' '.join(REASON_LETTERS)}, or a digit 1 to {len(REASON_DIGITS)}"

_MODES = {
    "n": Mode.REASON,
    "p": Mode.POSTURE,
    "c": Mode.COMMENT,
    "w": Mode.PAIN,
    "g": Mode.GOTO,
}

# What screens ask about a prompt ---------------------------------------------------------


def ends_with(state: EntryState) -> str:
    """Name the keys that end the prompt and that correct it."""
    if state.mode in TEXT_MODES:
        return f"{TEXT_ENTER} accepts, {TEXT_BACKSPACE} rubs out"
    return f"{state.key('enter')} accepts, {state.key('backspace')} rubs out"


def goto_matches(state: EntryState, text: str) -> tuple[int, ...]:
    """Find the stations that the letters mean: each begins a word of name or abbreviation.

    Of two stations that only the velocity tells apart, V2 or V3 means one.
    Where the letters begin one name with its side as it is written, that station is meant:
    hamstrings left, and not hamstrings, hip 40.
    """

    def behind(index: int) -> str:
        plan, station = state.plan, state.plan.stations[index]
        both = plan.other_velocity(index) is not None
        return f"{station.side} {station.velocity}" if both else str(station.side)

    def words(index: int) -> str:
        muscle = state.plan.stations[index].muscle
        return f"{muscle.name} {muscle.abbreviation} {muscle.id} {behind(index)}"

    def begun(index: int) -> bool:
        muscle = state.plan.stations[index].muscle
        both = (muscle.name, muscle.abbreviation)
        return any(f"{name} {behind(index)}".casefold().startswith(letters) for name in both)

    letters = " ".join(text.casefold().split())
    found = tuple(i for i in range(len(state.plan.stations)) if names(words(i), text))
    exact = tuple(i for i in found if begun(i))
    return exact if len(exact) == 1 else found


def elapsed(state: EntryState, ticks: float) -> int | None:
    """Count the whole seconds on the running stopwatch, None when it is not running."""
    return None if state.clonus_from is None else round(max(0.0, ticks - state.clonus_from))


# Opening, typing, leaving ----------------------------------------------------------------


def open_prompt(state: EntryState, key: str, _now: Moment) -> Result:
    """Open the prompt of a command key; texts already there can be edited.

    Pain and comment belong to the station just finished while the new one is untouched.
    """
    mode = _MODES[key]
    if mode in (Mode.REASON, Mode.GOTO) and state.clonus_from is not None:
        return refused(state, stopwatch_runs(state))  # both leave the station
    target = state.just_finished if mode in (Mode.COMMENT, Mode.PAIN) else None
    return replace(state, mode=mode, target=target, prompt=_prefilled(state, mode, target)), ()


def _prefilled(state: EntryState, mode: Mode, target: int | None) -> str:
    if mode is Mode.COMMENT:
        return state.drafts[state.cursor.station if target is None else target].comment
    if mode is Mode.POSTURE and state.draft.posture != state.station.muscle.posture_words:
        return state.draft.posture
    return ""


def this_station(state: EntryState, key: str, now: Moment) -> Result:
    """Turn a still empty prompt about the station just finished to the one shown."""
    if state.prompt or state.target is None:
        return _TAB_ACCEPTS[state.mode](state, key, now)
    return replace(state, target=None, prompt=_prefilled(state, state.mode, None)), ()


def type_text(state: EntryState, key: str, _now: Moment) -> Result:
    """Add a character at the cursor."""
    if len(key) != 1 or not key.isprintable():
        return refused(state, f"text only here; {ends_with(state)}")
    if len(state.prompt) >= MAX_TEXT:
        return refused(state, f"at most {MAX_TEXT} characters")
    cut = len(state.prompt) - state.behind
    return replace(state, prompt=state.prompt[:cut] + key + state.prompt[cut:]), ()


def move_in_text(state: EntryState, key: str, _now: Moment) -> Result:
    """Move the cursor within the text: one character, or to its beginning or end."""
    size, behind = len(state.prompt), state.behind
    to = {"left": behind + 1, "right": behind - 1, "home": size, "end": 0}[key]
    return replace(state, behind=min(max(to, 0), size)), ()


def type_number(state: EntryState, key: str, now: Moment) -> Result:
    """Add a digit to the number."""
    if len(key) == 1 and key in DIGITS and len(state.prompt) < len(str(MAX_CLONUS_S)):
        return replace(state, prompt=state.prompt + key), ()
    words = f"digits only here, {len(str(MAX_CLONUS_S))} at most; {ends_with(state)}"
    return hold(state, words, key, now) if key in VALUE_KEYS else refused(state, words)


def rub_out_typed(state: EntryState, key: str, now: Moment) -> Result:
    """Take the character before the cursor away; leave an empty prompt."""
    if not state.prompt:
        return leave_prompt(state, key, now)
    cut = len(state.prompt) - state.behind
    if not cut:
        return refused(state, f"nothing is before the cursor; {ends_with(state)}")
    return replace(state, prompt=state.prompt[: cut - 1] + state.prompt[cut:]), ()


def leave_prompt(state: EntryState, _key: str, _now: Moment) -> Result:
    """Go back to the fields; leaving the clonus prompt drops its stopwatch."""
    running = None if state.mode is Mode.CLONUS else state.clonus_from
    new = replace(free(state), mode=Mode.FIELDS, prompt="", clonus_from=running, target=None)
    return replace(new, rest=False), ()


# Accepting -------------------------------------------------------------------------------


def choose_reason(state: EntryState, key: str, now: Moment) -> Result:
    """Take the letter of a reason, or its digit, which takes Enter."""
    if not state.prompt and key in REASON_DIGITS:
        return replace(state, prompt=key), ()
    if not state.prompt and key in REASON_LETTERS:
        return _because(replace(state, prompt=key), REASON_LETTERS[key], now)
    words = _WHICH if not state.prompt else f"{state.prompt}: {ends_with(state)}"
    return hold(state, words, key, now) if key in VALUE_KEYS else refused(state, words)


def accept_reason(state: EntryState, key: str, now: Moment) -> Result:
    """Take the reason whose digit was typed."""
    reason = REASON_DIGITS.get(state.prompt)
    return hold(state, _WHICH, key, now) if reason is None else _because(state, reason, now)


def _because(state: EntryState, reason: str, now: Moment) -> Result:
    if reason == "other":
        return replace(state, mode=Mode.NOTE, prompt=""), ()
    return _not_tested(state, now)


def accept_note(state: EntryState, key: str, now: Moment) -> Result:
    """Mark the station not tested, for a reason in words."""
    if not state.prompt.strip():
        return hold(state, f"type the reason, or {TEXT_BACKSPACE} to leave", key, now)
    return _not_tested(state, now)


def _not_tested(state: EntryState, now: Moment) -> Result:
    """Mark the station, or the rest; ask where it is another one that may be meant.

    Who types blind may not know that the station before it is still open. A slow range may be all
    that could be measured, where nothing was typed behind it.
    """
    draft, cursor = state.draft, state.cursor
    more = draft.r1 or draft.quality is not None or cursor.text
    begun = more or (draft.r2 and (state.asides or state.doubt))
    if state.rest or not (begun or draft.not_tested):
        return mark_not_tested(state, "", now)
    so_far = "was begun" if begun else "is marked not tested already"
    words = f"{state.station.name} {so_far}: mark it not tested all the same?"
    return hold(state, words, "", now, pending=ALL_THE_SAME)


def mark_not_tested(state: EntryState, _key: str, now: Moment) -> Result:
    """Mark the station, or the rest, for the reason in the prompt."""
    note = state.prompt.strip() if state.mode is Mode.NOTE else ""
    reason = "other" if note else {**REASON_LETTERS, **REASON_DIGITS}[state.prompt]
    if state.rest:
        return mark_rest(state, reason, note, note or NOT_TESTED[reason], now)
    draft = replace(state.draft, not_tested=reason, not_tested_note=note)
    label = f"not tested: {note or NOT_TESTED[reason]}, {state.station.name}"
    return accept_draft(state, "enter", draft, None, label, now)


def _kept(state: EntryState, draft: Draft, label: str, now: Moment) -> Result:
    """Accept a draft in which a prompt changed something; the cursor stays."""
    words = f"{label}, {state.plan.stations[state.about].name}"
    new, effects = accept_draft(state, "enter", draft, state.cursor, words, now, state.about)
    return replace(new, finished=state.finished), effects


def accept_posture(state: EntryState, _key: str, now: Moment) -> Result:
    """Keep the posture and test position; an empty text means the standard one."""
    posture = state.prompt.strip() or state.station.muscle.posture_words
    return _kept(state, replace(state.draft, posture=posture), f"position: {posture}", now)


def accept_comment(state: EntryState, _key: str, now: Moment) -> Result:
    """Keep the comment, or remove it."""
    draft = replace(state.drafts[state.about], comment=state.prompt.strip())
    return _kept(state, draft, "comment kept" if draft.comment else "comment removed", now)


def accept_pain(state: EntryState, _key: str, now: Moment) -> Result:
    """Keep the pain, 0 to 10."""
    pain = int(state.prompt) if state.prompt else None
    if pain is not None and pain > 10:
        return hold(state, f"pain is 0 to 10, not {pain}", "", now)
    shown = "not stated" if pain is None else f"{pain} of 10"
    return _kept(state, replace(state.drafts[state.about], pain=pain), f"pain {shown}", now)


def accept_goto(state: EntryState, key: str, now: Moment) -> Result:
    """Go to the one station that the letters mean."""
    matches = goto_matches(state, state.prompt)
    if len(matches) == 1:
        return moved(state, cursor_to(state, matches[0]))
    alike = {state.plan.stations[index].name for index in matches}
    more = "V2 or V3" if len(alike) == 1 else "more letters, of the side too"
    words = f"{len(matches)} stations: type {more}"
    return hold(state, words if matches else "no station with these letters", key, now)


# The clonus stopwatch --------------------------------------------------------------------


def press_stopwatch(state: EntryState, _key: str, now: Moment) -> Result:
    """Start the stopwatch for the station shown; stop it when it is running.

    Typed seconds belong to the station just finished while the new one is untouched, if it
    has a clonus by its grade and no seconds yet.
    """
    if state.clonus_from is not None:
        return _stopped(state, now)
    target = state.just_finished
    before = None if target is None else state.drafts[target]
    if before is None or before.quality not in (3, 4) or before.clonus_s is not None:
        target = None
    return replace(state, mode=Mode.CLONUS, prompt="", clonus_from=now.ticks, target=target), ()


def stop_stopwatch(state: EntryState, key: str, now: Moment) -> Result:
    """Stop the stopwatch, unless seconds are being typed."""
    return type_number(state, key, now) if state.prompt else _stopped(state, now)


def accept_clonus(state: EntryState, _key: str, now: Moment) -> Result:
    """Keep the typed seconds; without any, leave the stopwatch running."""
    if not state.prompt:
        left = replace(state, mode=Mode.FIELDS, target=None)
        if state.clonus_from is None:
            return left, ()
        return replace(left, message=f"the stopwatch runs on: {state.key('k')} stops it"), ()
    seconds = int(state.prompt)
    draft = replace(state.drafts[state.about], clonus_s=seconds)
    return _kept(replace(state, clonus_from=None), draft, f"clonus {seconds} s", now)


def _stopped(state: EntryState, now: Moment) -> Result:
    """Accept the seconds of the stopwatch for the station shown; a flag leaves them there."""
    seconds = min(elapsed(state, now.ticks) or 0, MAX_CLONUS_S)
    prompt = replace(state, mode=Mode.CLONUS, prompt=str(seconds), target=None)
    return accept_clonus(prompt, "enter", now)


_TAB_ACCEPTS: Mapping[Mode, Action] = {
    Mode.COMMENT: accept_comment,
    Mode.PAIN: accept_pain,
    Mode.CLONUS: accept_clonus,
}
